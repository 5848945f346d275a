"""gearkeep scan, show, history, fit."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from vault.cli import technician_text as words_of
from vault.cli.scan_input import SourceProgress, typed_lines
from vault.cli.shell import command, desk, json_text, open_vault, say, vault_was_given
from vault.errors import UsageProblem

if TYPE_CHECKING:
    from vault.actions.scanning import Scanned


def _trust_text(file: Path | None) -> str | None:
    if file is None:
        return None
    try:
        return file.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as problem:
        raise UsageProblem(f"{file} cannot be read.", hint="Give the file made by: gearkeep signer export FILE.") from problem


def _model_in(drivers: Path | None, spare: str | None) -> Any:
    if (drivers is None) != (spare is None):
        raise UsageProblem("A spare is judged offline by its data.", hint="Give both --spare MODEL and --drivers FILE.")
    if drivers is None:
        return None
    from vault.exchange.catalogue import read_drivers

    found = {model.model: model for model in read_drivers(drivers)}
    if spare not in found:
        raise UsageProblem(f"{drivers} says nothing of {spare}.", kind="not-found", hint=f"It holds: {', '.join(found)}.")
    return found[spare]


def _good(one: Scanned) -> bool:
    settled = one.seen is None or not (one.seen.provisional or one.seen.conflict or one.seen.retired)
    return one.problem is None and settled and (one.newest is not False or one.current)


@command(example="gearkeep --vault vault.db scan photo.jpg")
@click.argument("images", metavar="[PICTURE|PDF|FILM|FOLDER]...", nargs=-1)
@click.option("--text", help="What a hand scanner read, or a tag typed from the label.")
@click.option("--stdin", "from_stdin", is_flag=True, help="Answer each line that a hand scanner types, until the input ends.")
@click.option("--camera", type=click.IntRange(0, 99), help="Read from this camera; 0 is the first. Needs OpenCV.")
@click.option("--trust", type=click.Path(path_type=Path), help="List of signers (signer export), when no vault is at hand.")
@click.option("--spare", help="Judge this driver model against what the label carries; needs --drivers.")
@click.option("--drivers", type=click.Path(path_type=Path), help="TOML file with the driver models, when no vault is at hand.")
def scan(images: tuple[str, ...], text: str | None, from_stdin: bool, camera: int | None, trust: Path | None,
         spare: str | None, drivers: Path | None, as_json: bool) -> int:
    """Read labels from pictures and verify them, with the vault or with a list of signers alone.

    Pictures are PNG, JPEG, HEIC and other usual files, PDFs, films (with OpenCV), and folders of all these. Figures are
    shown only when their signature is good. With --spare and --drivers a spare is judged as far as the few limits on the
    label reach; what they do not tell stays "cannot tell".
    """
    from vault.actions.scanning import scan as act
    from vault.actions.scanning import scan_lines

    if from_stdin and (images or text is not None or camera is not None):
        raise UsageProblem("--stdin reads what a hand scanner types, and nothing else beside it.",
                           hint="Leave pictures, --text and --camera out, or --stdin.")
    model = _model_in(drivers, spare)
    vault = open_vault() if trust is None and vault_was_given() else None
    if from_stdin:
        good = [_answer(one, model, as_json) for one in scan_lines(typed_lines(), vault=vault, trust_text=_trust_text(trust))]
        return 0 if good and all(good) else 1
    results = act(images, text=text, vault=vault, trust_text=_trust_text(trust), camera=camera, progress=SourceProgress())
    if as_json:
        held = [_scanned_json(one, model) for one in results]
        say(json_text(held[0] if len(held) == 1 else {"labels": held}))
    else:
        for one in results:
            _say_scanned(one, model)
    return 0 if results and all(_good(one) for one in results) else 1


def _answer(one: Scanned, model: Any, as_json: bool) -> bool:
    """Print one hand-scanned label at once: in words, or as JSON on one line."""
    if as_json:
        say(json.dumps(_scanned_json(one, model), ensure_ascii=False))
    else:
        _say_scanned(one, model)
    return _good(one)


def _scanned_json(one: Scanned, model: Any) -> dict[str, Any]:
    from vault.actions.scanning import judge_offline

    told = words_of.scanned_json(one)
    return told if model is None else told | {"spares": words_of.offline_json(judge_offline(one, model))}


def _say_scanned(one: Scanned, model: Any) -> None:
    from vault.actions.scanning import judge_offline

    say(*words_of.scanned_lines(one))
    if model is not None:
        say(*words_of.offline_lines(judge_offline(one, model)))


@command(example="gearkeep show 7K3D9QXW6")
@click.argument("tag")
def show(tag: str, as_json: bool) -> int:
    """Show a luminaire's verified settings, its rating and every finding.

    One that was taken over from another vault is shown as that vault's. Where two vaults have the tag, say which: TAG@LOG, with
    the first digits of the log id or the vault's host.
    """
    from vault.actions.looking import adoption_of, look

    with open_vault().reading() as session:
        seen, taken = look(session, tag)
        adoption = adoption_of(session, seen.record) if taken is None else None
    if as_json:
        say(json_text(words_of.view_json(seen) | {"taken": taken.as_json() if taken else None,
                                                  "adopted_from": adoption.as_json() if adoption else None}))
    else:
        say(*words_of.taken_lines(taken), *words_of.view_lines(seen), *([adoption.words] if adoption else []))
    unproven = adoption is not None and not adoption.verified
    return 1 if seen.provisional or seen.conflict or seen.frozen or unproven else 0


@command(example="gearkeep history 7K3D9QXW6")
@click.argument("tag")
def history(tag: str, as_json: bool) -> None:
    """List every version of a luminaire: who, when, why, and what changed."""
    from vault.actions.history import told

    found = told(open_vault(), tag)
    entries = found.entries
    if as_json:
        say(json_text({"tag": entries[0].tag, "frozen": found.frozen, "taken": found.taken.as_json() if found.taken else None,
                       "versions": [entry.as_json() for entry in entries]}))
        return
    say(*words_of.taken_lines(found.taken))
    if found.frozen and found.taken is not None:
        say("FROZEN: its own vault's labels command says why.")
    elif found.frozen:
        say(f"FROZEN: gearkeep labels {entries[0].tag} says why.")
    for entry in entries:
        day = datetime.fromtimestamp(entry.time_s, UTC).strftime("%Y-%m-%d %H:%M UTC")
        say(f"version {entry.version}  entry {entry.place}  {day}  {entry.signer}  {entry.reason}"
            + ("  PROVISIONAL" if entry.open_stops else ""))
        say(*(f"    {field}: {before} → {after}" for field, before, after in entry.changes))
        say(*(f"    approved by {a.signer} as {words_of.change_words(a.change_class)}: {a.because}"
              for a in entry.approvals))


@command(example="gearkeep fit 7K3D9QXW6 --in-stock")
@click.argument("tag")
@click.option("--spare", help="Judge this driver model alone.")
@click.option("--in-stock", is_flag=True, help="Only models of which a store holds a piece.")
@click.option("--gear", help="Which gear: general, emergency-converter … Default: the first.")
@click.option("--plot", "plot_file", type=click.Path(path_type=Path), help="Draw the (best) spare to a .svg or .png.")
def fit(tag: str, spare: str | None, in_stock: bool, gear: str | None, plot_file: Path | None, as_json: bool) -> int:
    """Judge spare drivers against the luminaire's settings and its type's rating."""
    from vault.actions.fitting import fit as act
    from vault.actions.fitting import plot

    result = act(desk(), tag, model=spare, in_stock_only=in_stock, gear=gear)
    if plot_file is not None:
        plot(result, spare, plot_file)
    if as_json:
        say(json_text({"tag": result.seen.tag, "taken": result.taken.as_json() if result.taken else None,
                       "gear": words_of.duty_words(result.gear),
                       "spares": [words_of.judged_json(one) for one in result.spares]}))
    else:
        say(*words_of.taken_lines(result.taken), *words_of.fit_lines(result, detailed=spare is not None))
    return 0 if any(one.fit.verdict.value in ("fits", "fits-with-care") for one in result.spares) else 1
