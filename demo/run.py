"""One building goes through its life: python demo/run.py [FOLDER] (default demo/out).

Every step is a gearkeep command, printed as you would type it, run for real, with what it said. The folder ends up with
vault.db, labels.pdf, label.png (the one that is scanned), fit.svg, sheet.pdf (a work order), millrace-baths (the handover
pack), audit.json and the key files.
"""

from __future__ import annotations

import csv
import json
import os
import re
import shlex
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
PASSPHRASE = "wet feet 4711"
MARK = ".made-by-demo"
FAILED_DRIVER, SECOND_FAILURE, THIRD_FAILURE = "CH-007", "CH-009", "CH-010"
FAILED_MODEL = "CC-40-700"
GOOD_SPARE, SMALL_SPARE = "GEN-50-1050", "GEN-25-800"


class Story:
    """Runs commands in the demo's folder and tells what happens."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.env = {**os.environ, "GEARKEEP_PASSPHRASE": PASSPHRASE, "GEARKEEP_VAULT": "vault.db",
                    "GEARKEEP_CHECKPOINT_KEY": "keys/checkpoint.key", "PYTHONIOENCODING": "utf-8"}
        self.env.pop("GEARKEEP_KEY", None)
        self.step = 0
        self.authority = ""  # its fingerprint, as init prints it for the binder

    def chapter(self, who: str, title: str) -> None:
        """A heading: who acts, and what for."""
        self.step += 1
        print(f"\n━━ {self.step}. {title}  ({who})", flush=True)

    def run(self, *words: str, code: int = 0, show: int = 14) -> str:
        """Run one command; its exit code must be `code`. Prints the command and up to `show` lines."""
        print(f"$ gearkeep {shlex.join(words)}", flush=True)
        done = subprocess.run([sys.executable, "-m", "vault.cli.main", *words], cwd=self.folder, env=self.env,
                              capture_output=True, encoding="utf-8", check=False)
        lines = (done.stdout + done.stderr).rstrip().splitlines()
        for line in lines[:show]:
            print(f"  {line}")
        if len(lines) > show:
            print(f"  … {len(lines) - show} more lines")
        if done.returncode != code:
            print("\n".join(f"  {line}" for line in lines[show:]))
            sys.exit(f"The demo stops: this command ended with {done.returncode}, expected {code}.")
        return done.stdout

    def ask(self, *words: str, code: int = 0) -> Any:
        """The same with --json, told in one line."""
        return json.loads(self.run(*words, "--json", code=code, show=0))


def prepare(folder: Path) -> None:
    """An empty folder; only one that an earlier run made is emptied."""
    if folder.exists() and any(folder.iterdir()):
        if not (folder / MARK).is_file():
            sys.exit(f"{folder} is not empty and was not made by this demo; name another folder.")
        for path in sorted(folder.rglob("*"), reverse=True):
            path.rmdir() if path.is_dir() else path.unlink()
    folder.mkdir(parents=True, exist_ok=True)
    (folder / MARK).touch()
    for source in HERE.iterdir():
        if source.suffix in (".toml", ".csv", ".json") and source.name != "faults.toml":
            (folder / source.name).write_bytes(source.read_bytes())


def correct(folder: Path) -> None:
    """What the installer does with rejected.csv: put the right value into each faulty cell."""
    faults = tomllib.loads((HERE / "faults.toml").read_text(encoding="utf-8"))["fault"]
    with (HERE / "schedule.csv").open(encoding="utf-8", newline="") as file:
        original = list(csv.reader(file))
    headings = original[0]
    right = {tuple(original[fault["row"] - 1]): (headings.index(fault["column"]), fault["right"]) for fault in faults}
    with (folder / "rejected.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.reader(file))
    for row in rows[1:]:
        found = right.get(tuple(row[: len(headings)]))
        if found:
            row[found[0]] = found[1]
    with (folder / "corrected.csv").open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(rows)


def setting_up(story: Story) -> None:
    story.chapter("authority", "A vault is made, and who may sign is said")
    said = story.run("init", "--host", "lx.example.eu", "--site", "Millrace Baths", show=20)
    found = re.search(r"[Aa]uthority fingerprint\s+((?:[0-9a-f]{4} ?)+)", said)
    story.authority = found[1].strip() if found else ""
    for code, role in (("I01", "installer"), ("T01", "technician"), ("S01", "stores"), ("P01", "approver")):
        story.run("--key", "keys/authority.key", "signer", "add", code, "--role", role, "--new-key", f"keys/{code}.key")
    story.chapter("authority", "Ratings of the fixture types, driver models, circuits and lines are signed")
    for kind, file in (("type", "types"), ("driver", "drivers"), ("circuit", "circuits"), ("line", "lines")):
        story.run("--key", "keys/authority.key", kind, "load", f"{file}.toml", show=1)
    story.chapter("stores", "Generic spares come in")
    story.run("--key", "keys/S01.key", "stock", "load", "stock.csv")


def handing_over(story: Story) -> dict[str, str]:
    story.chapter("installer", "The luminaire schedule is checked; eight rows have something wrong")
    story.run("--key", "keys/I01.key", "handover", "schedule.csv", "--rejected", "rejected.csv", code=1, show=24)
    story.chapter("installer", "The rejected rows are corrected and fed again")
    correct(story.folder)
    story.run("--key", "keys/I01.key", "handover", "corrected.csv")
    print("  The first file once more adds nothing to what it signed:")
    accepted = story.ask("--key", "keys/I01.key", "handover", "schedule.csv", code=1)["accepted"]
    changes = sorted({one["change"] for one in accepted})
    print(f"  {len(accepted)} luminaires: {', '.join(changes)}")
    if changes != ["unchanged"]:
        sys.exit("The demo stops: a second handover of the same file changed something.")
    tags = {one["reference"]: one["tag"] for one in accepted}
    tags |= {one["reference"]: one["tag"] for one in
             story.ask("--key", "keys/I01.key", "handover", "corrected.csv")["accepted"]}
    story.chapter("installer", "Labels are printed, each read back from its own raster; a checkpoint goes into the binder")
    story.run("--key", "keys/I01.key", "label", "--all", "--sheet", "a4", "--out", "labels.pdf")
    story.run("--key", "keys/I01.key", "label", tags[FAILED_DRIVER], "--out", "label.png")
    story.run("--key", "keys/I01.key", "placed", tags[FAILED_DRIVER])
    story.run("checkpoint", "--out", "binder-checkpoint.txt")
    story.run("signer", "export", "signers.json")
    story.chapter("installer", "A label for the line's cabinet, and an NFC sticker where a code would get dirty")
    story.run("mark", "line", "D1", "--medium", "102x51", "--out", "line-D1.png")
    story.run("sticker", "write", tags[FAILED_DRIVER], "--out", "sticker.ndef")
    return tags


def somebody_elses_schedule(story: Story) -> None:
    story.chapter("installer", "The annex comes as another planner's file: two columns called SK, rooms that became dates")
    story.run("handover", "annex.csv", "--preview", "--save-map", "annex-open.toml", code=1, show=70)
    print("  What it asks is answered once, in a mapping file; the file then runs by itself.")
    story.run("--key", "keys/I01.key", "handover", "annex.csv", "--map", "annex-map.toml")
    story.run("addresses", "check")
    story.run("addresses", "plan", "--line", "D3", "--drawing", "line-D3.pdf", "--labels", "addresses-D3.pdf", show=6)


def swapping(story: Story, tags: dict[str, str]) -> None:
    tag = tags[FAILED_DRIVER]
    story.chapter("technician", "Years later a driver fails. The label's picture is scanned")
    story.run("scan", "label.png", show=24)
    print("  In a basement without a network, the list of signers alone verifies it:")
    story.run("scan", "label.png", "--trust", "signers.json", show=3)
    story.chapter("technician", "The spares on the shelf are judged")
    story.run("fit", tag, "--in-stock", show=40)
    print("  The one with the small window, drawn:")
    story.run("fit", tag, "--spare", SMALL_SPARE, "--plot", "fit.svg", code=1, show=6)
    story.chapter("technician", "Steps for setting the chosen spare")
    story.run("swap", tag, "--spare", GOOD_SPARE, "--form", "readback-form.json", show=70)
    story.chapter("technician", "The new driver is read back; a full match becomes the next version")
    story.run("--key", "keys/T01.key", "swap", tag, "--spare", GOOD_SPARE, "--serial", "G5-0412", "--as",
              "approved-equivalent", "--readback", "readback_good.json")
    story.run("stock", "list", "--model", GOOD_SPARE)
    story.run("--key", "keys/T01.key", "label", tag, "--out", "label-version-2.png")
    story.run("history", tag)
    other = tags[SECOND_FAILURE]
    story.chapter("technician, approver", "A second swap reads back wrong: provisional until somebody else approves")
    story.run("--key", "keys/T01.key", "swap", other, "--spare", GOOD_SPARE, "--serial", "G5-0413", "--as",
              "approved-equivalent", "--readback", "readback_wrong.json", code=1, show=20)
    story.run("show", other, code=1, show=5)
    story.run("--key", "keys/P01.key", "approve", other, "--as", "approved-equivalent", "--because",
              "dimmed zone, light level measured and accepted")
    story.run("show", other, show=4)
    guided(story, tags[THIRD_FAILURE])


def guided(story: Story, tag: str) -> None:
    story.chapter("technician", "A third one: its label is gone. Found by type and neighbours, swapped as one guided act")
    story.run("find", "row 1", "--type", "T1", "--circuit", "L1")
    story.run("find", "--near", tag, show=4)
    story.run("sheet", tag, "--spare", GOOD_SPARE, "--out", "sheet.pdf")
    print("  What a gateway to the line would be told, byte by byte:")
    story.run("bus", "set", tag, "--spare", GOOD_SPARE, "--dry-run", show=24)
    print("  Here nobody types and there is no bus: the answers stand in a file, and one test is still to be done.")
    story.run("--key", "keys/T01.key", "swap", tag, "--answers", "answers.toml", "--folder", "swap-CH-010", show=10)
    story.run("readback", "prove", tag, "swap-CH-010/readback.json")
    story.run("--key", "keys/T01.key", "reissue", tag, "--because", "the label is gone", "--out", "label-CH-010.png")


def auditing(story: Story) -> None:
    story.chapter("anybody", "The audit: every signature, chain, proof and index row, and the binder's checkpoint")
    story.run("audit", "--checkpoint", "binder-checkpoint.txt")
    result = story.ask("audit", "--checkpoint", "binder-checkpoint.txt")
    (story.folder / "audit.json").write_text(json.dumps(result, indent=2) + "\n", encoding="utf-8")


def keeping_store(story: Story) -> None:
    story.chapter("stores", "Which spares cover what, which few would do, and how many to hold")
    story.run("--key", "keys/S01.key", "stock", "load", "terms.csv")
    story.run("cover", show=12)
    story.run("spares", "set", code=1, show=14)  # some types have no generic spare
    story.run("hold", "plan", show=10)
    story.run("rates", "--model", FAILED_MODEL, show=6)
    story.run("reorder", "--out", "reorder.pdf", show=8)
    story.run("stock", "today", show=24)


def handing_the_building_over(story: Story) -> None:
    story.chapter("installer", "The owner gets the handover pack: paper, a page that verifies in a browser, the signed bytes")
    story.run("pack", "--out", "millrace-baths", "--zip", "millrace-baths.zip")
    story.run("cobie", "millrace-baths.xlsx")
    story.chapter("owner", "Years later another firm runs the building, and takes the pack over into a vault of its own")
    story.run("--vault", "owner.db", "init", "--host", "care.example.eu", "--site", "Riverside Estates", "--keys", "owner-keys",
              show=3)
    authority = ("--vault", "owner.db", "--key", "owner-keys/authority.key")
    story.run(*authority, "signer", "add", "N01", "--role", "installer", "--new-key", "owner-keys/N01.key")
    story.run(*authority, "import", "millrace-baths.zip", "--authority", story.authority)
    story.run("--vault", "owner.db", "find", "Corridor, bay 1", show=8)
    print("  To sign for them, the firm loads its own ratings and adopts them, under new tags:")
    for kind, file in (("type", "types"), ("driver", "drivers"), ("circuit", "circuits"), ("line", "lines")):
        story.run(*authority, kind, "load", f"{file}.toml", show=1)
    story.run("--vault", "owner.db", "--key", "owner-keys/N01.key", "adopt", "--all", show=6)


def losing_everything(story: Story) -> None:
    story.chapter("authority", "The vault is lost. It comes back from its labels and the signers' pages")
    paper = story.folder / "paper"
    paper.mkdir()
    for name in ("labels.pdf", "labels-checkpoint.pdf", "label-version-2.png"):
        (paper / name).write_bytes((story.folder / name).read_bytes())
    story.run("--key", "keys/authority.key", "rebuild", "--from-labels", "paper", "--authority", story.authority,
              "--out", "new.db", show=8)
    story.run("--vault", "new.db", "audit")


def main() -> None:
    """Tell the whole story."""
    folder = Path(sys.argv[1]).resolve() if len(sys.argv) > 1 else HERE / "out"
    prepare(folder)
    print(f"Millrace Baths, an invented building. Files: {folder}\nPassphrase of every key file here: {PASSPHRASE}")
    story = Story(folder)
    setting_up(story)
    tags = handing_over(story)
    somebody_elses_schedule(story)
    swapping(story, tags)
    keeping_store(story)
    auditing(story)
    handing_the_building_over(story)
    losing_everything(story)
    print(f"\nDone. Look at {folder / 'labels.pdf'}, {folder / 'label.png'}, {folder / 'fit.svg'}, {folder / 'sheet.pdf'} "
          f"and {folder / 'millrace-baths'}, whose index.html opens in a browser.")


if __name__ == "__main__":
    main()
