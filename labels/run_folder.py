"""What a print run keeps in its folder: the labels' pictures, and a file that says what each line was noted for."""

from __future__ import annotations

import io
import re
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

from PIL import Image

from labels.errors import LabelError
from labels.run_log import LOG_NAME, Note, as_line, sync_folder, write_synced

FORM = 1
_PICTURE = re.compile(r"label-[0-9]{5,}\.png")
NOT_TAKEN = "not-taken"


@dataclass(frozen=True, slots=True, kw_only=True)
class RunHead:
    """What a run is of. Sizes in micrometres."""

    run: str
    printer: str
    width_um: int
    height_um: int
    dpi: int
    copies: int


@dataclass(slots=True, kw_only=True)
class RunJob:
    """One job: the numbers of its labels, its number at the printer once known, how it ended once known."""

    name: str
    labels: tuple[int, ...]
    id: int | None = None
    end: str | None = None


def keep(folder: Path, head: RunHead, labels: Iterable[tuple[str, Image.Image]], size_dots: tuple[int, int]) -> None:
    """Write a new run into an empty folder. Raises LabelError: bad-run, no-labels; OSError."""
    lines, names = [as_line({"form": FORM, **asdict(head)})], set()
    for number, (name, image) in enumerate(labels, 1):
        if name in names:
            raise LabelError(f"The label {name} is in the print run twice.", kind="bad-run",
                             hint="Name each label once; ask for copies of all where there have to be more.")
        if image.mode != "1" or image.size != size_dots:
            raise LabelError(f"The picture of the label {name} is {image.width} × {image.height} dots ({image.mode}); "
                             f"this label size has {size_dots[0]} × {size_dots[1]}, black and white.", kind="bad-run",
                             hint="Draw it for the label size and dots an inch of the run.")
        names.add(name)
        file = f"label-{number:05d}.png"
        picture = io.BytesIO()
        image.save(picture, format="PNG", compress_level=1)
        write_synced(folder / file, picture.getvalue())
        lines.append(as_line({"label": name, "file": file}))
    if not names:
        raise LabelError("There is no label to print.", kind="no-labels", hint="Name one luminaire or more.")
    write_synced(folder / LOG_NAME, b"".join(lines))
    sync_folder(folder)


def told(folder: Path, notes: Sequence[Note]) -> tuple[RunHead, list[tuple[str, str]], dict[int, RunJob]]:
    """Head, labels (name, file) and jobs by number, out of the notes. Raises LabelError (bad-run)."""
    labels: list[tuple[str, str]] = []
    jobs: dict[int, RunJob] = {}
    line = 1
    try:
        first = dict(notes[0])
        if first.pop("form") != FORM:
            raise ValueError("another form")
        head = RunHead(**first)
        for note in notes[1:]:
            line += 1
            if "label" in note:
                if not _PICTURE.fullmatch(note["file"]):
                    raise ValueError("a file of another folder")
                labels.append((note["label"], note["file"]))
            elif "name" in note:
                jobs[note["job"]] = RunJob(name=note["name"], labels=tuple(note["labels"]))
            elif "id" in note:
                jobs[note["job"]].id = note["id"]
            else:
                jobs[note["job"]].end = note["end"]
    except (LookupError, TypeError, ValueError) as problem:
        raise LabelError(f"{folder / LOG_NAME}, line {line} says nothing that a print run of this program says.",
                         kind="bad-run",
                         hint="The file was changed, or another version wrote it. Begin a new run for what is missing.",
                         ) from problem
    return head, labels, jobs


def picture(path: Path, name: str) -> Image.Image:
    """A label's picture. Raises LabelError (bad-run)."""
    try:
        with Image.open(path) as image:
            image.load()
            return image
    except (OSError, SyntaxError, ValueError) as problem:
        raise LabelError(f"The label {name} cannot be read from {path}.", kind="bad-run",
                         hint="The folder was changed or damaged. Begin a new run for the labels that are missing.",
                         ) from problem
