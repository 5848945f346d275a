"""gearkeep type, driver, circuit and line: the same commands over four kinds of statement."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from vault.cli.shell import command, desk, finding_lines, json_text, open_vault, say, table
from vault.errors import GearkeepError, UsageProblem

if TYPE_CHECKING:
    from vault.actions.setup import Loaded
    from vault.domain.findings import Finding

_MOST_CHANGES, _LONGEST = 8, 60  # fields of an entry, letters of a value


def _load(kind_name: str, file: Path, as_json: bool) -> None:
    from vault.actions.setup import load_catalogue
    from vault.trust.statements import Kind

    done = load_catalogue(desk(), Kind[kind_name], file)
    if as_json:
        say(json_text(_loaded_json(done)))
        return
    say(f"{len(done.new)} new, {len(done.revised)} revised, {len(done.unchanged)} unchanged.",
        *(f"  {name}" for name in done.new), *_revised(done))


def _loaded_json(done: Loaded) -> dict[str, Any]:
    return {"new": list(done.new), "revised": list(done.revised), "unchanged": list(done.unchanged),
            "changes": [{"name": one.name, "field": one.field, "before": one.before, "after": one.after}
                        for one in done.changes]}


def _revised(done: Loaded) -> Iterator[str]:
    """What each new revision changes, as in "  CC-40: current_max_ma 700 → 750"."""
    for name in done.revised:
        said = [f"{one.field} {_figure(one.before)} → {_figure(one.after)}" for one in done.changes if one.name == name] or [
            "no figure changed; it is signed anew, since whose key signed it last is in doubt"]
        more = [f"and {len(said) - _MOST_CHANGES} more fields"] if len(said) > _MOST_CHANGES else []
        yield f"  {name}: {'; '.join([*said[:_MOST_CHANGES], *more]) or 'the same figures, signed anew'}"


def _figure(value: Any) -> str:
    said = "none" if value is None else "yes" if value is True else "no" if value is False else (
        "+".join(map(str, value)) or "none" if isinstance(value, list) else str(value))
    return said if len(said) <= _LONGEST else f"{said[: _LONGEST - 1]}…"


def _newest(kind_name: str) -> dict[str, Any]:
    from vault.actions.luminaire import all_current
    from vault.trust.statements import Kind

    with open_vault().reading() as session:
        return all_current(session, Kind[kind_name])


def _doubts(kind_name: str, names: Iterable[str]) -> tuple[Finding, ...]:
    from vault.actions.doubt_findings import catalogue_doubt
    from vault.trust.statements import Kind

    with open_vault().reading() as session:
        found = (catalogue_doubt(session, Kind[kind_name], name) for name in names)
        return tuple(one for one in found if one is not None)


def _list(kind_name: str, as_json: bool) -> int:
    from vault.domain.schema import plain

    newest = _newest(kind_name)
    doubts = _doubts(kind_name, newest)
    if as_json:
        say(json_text({"entries": [plain(one) for one in newest.values()], "findings": [one.as_json() for one in doubts]}))
    else:
        table(["name", "revision", "title"], [(name, one.revision, one.title or "") for name, one in newest.items()])
        say(*finding_lines(doubts))
    return 0 if newest and not doubts else 1


def _wired(kind_name: str, wanted: str) -> Any:
    """What hangs on a circuit or line, None for the other kinds."""
    from vault.actions.wiring import on_circuit, on_line

    if kind_name not in ("CIRCUIT", "LINE"):
        return None
    with open_vault().reading() as session:
        return (on_circuit if kind_name == "CIRCUIT" else on_line)(session, wanted)


def _show(kind_name: str, wanted: str, as_json: bool) -> int:
    from vault.domain.findings import Severity
    from vault.domain.schema import flatten, plain

    newest = _newest(kind_name)
    if wanted not in newest:
        raise GearkeepError(f"The vault holds no {wanted}.", hint=f"It holds: {', '.join(newest) or 'none'}.",
                            kind="not-found")
    wired = _wired(kind_name, wanted)
    doubts = _doubts(kind_name, [wanted])
    found = (*doubts, *(wired.findings if wired is not None else ()))
    if as_json:
        more = {"findings": [f.as_json() for f in found]} if doubts or wired is not None else {}
        more |= {"luminaires": wired.luminaires} if wired is not None else {}
        say(json_text(plain(newest[wanted]) | more))
    else:
        table(["field", "value"], flatten(newest[wanted]).items())
        say(*([f"{wired.luminaires} luminaires hang on it."] if wired is not None else []), *finding_lines(found))
    return 1 if any(f.severity in (Severity.STOP, Severity.UNKNOWN) for f in found) else 0


def _group(word: str, kind_name: str, about: str, loads: str) -> click.Group:
    group = click.Group(name=word, help=about, epilog=f"Example: gearkeep {word} list")

    @command(group, name="load", example=f"gearkeep --key keys/authority.key {word} load {word}s.toml")
    @click.argument("file", type=click.Path(path_type=Path))
    def load(file: Path, as_json: bool) -> None:
        _load(kind_name, file, as_json)

    @command(group, name="list", example=f"gearkeep {word} list")
    def list_(as_json: bool) -> int:
        return _list(kind_name, as_json)

    @command(group, name="show", example=f"gearkeep {word} show NAME --json")
    @click.argument("name")
    def show(name: str, as_json: bool) -> int:
        return _show(kind_name, name, as_json)

    load.help = loads
    list_.help = "List the newest revisions."
    more = ", and what hangs on it, held against its limits" if word in ("circuit", "line") else ""
    show.help = f"Show every figure of one{more}."
    return group


_LOADS = ("Sign every entry of a TOML file or spreadsheet. Equal entries add nothing; changed ones become the next revision, and "
          "what changed is told.")
fixture_type = _group("type", "RATING", "Fixture types and their ratings.", _LOADS)
driver = _group("driver", "DRIVER_MODEL", "Driver models: what they can do and how they are set.", _LOADS)
circuit = _group("circuit", "CIRCUIT", "Final circuits: breaker, battery range, local limits.", _LOADS)
line = _group("line", "LINE", "Control lines: kind, how the site numbers its addresses, limits.", _LOADS)


@command(driver, name="add", example="gearkeep --key KEY driver add CC-50 --title 'Spare 50 W' --current-ma 250:1200:25 "
         "--voltage-v 15:56 --power-w 50 --tolerance-percent 5")
@click.argument("model")
@click.option("--title", required=True, help="What it is, up to 60 characters.")
@click.option("--current-ma", required=True, metavar="MIN:MAX:STEP", help="Currents that can be set; one figure if fixed.")
@click.option("--voltage-v", required=True, metavar="MIN:MAX", help="Output voltage window.")
@click.option("--power-w", type=int, help="Highest output power.")
@click.option("--tolerance-percent", type=int, help="Tolerance of the set current.")
@click.option("--generic/--not-generic", default=True, help="Whether its settings can be chosen.")
def add(model: str, title: str, current_ma: str, voltage_v: str, power_w: int | None, tolerance_percent: int | None,
        generic: bool, as_json: bool) -> None:
    """Sign one simple constant-current driver from its nameplate.

    What the nameplate does not say stays unknown, and a fit will say so. Use load for complete data.
    """
    from vault.actions.setup import sign_catalogue
    from vault.domain.driver import DriverModel, Window
    from vault.domain.settings import Output
    from vault.trust.statements import Kind

    currents, volts = _numbers(current_ma, "--current-ma", (1, 3)), _numbers(voltage_v, "--voltage-v", (2,))
    least, most = currents[0], currents[1] if len(currents) == 3 else currents[0]
    low, high = volts[0] * 1000, volts[1] * 1000
    top = max(most, least + 1)
    window = Window(vertices=((least, low), (top, low), (top, high), (least, high)),
                    power_max_mw=power_w * 1000 if power_w else None)
    entry = DriverModel(
        model=model, revision=1, title=title, generic=generic, output=Output.CONSTANT_CURRENT, channels=1, window=window,
        current_min_ma=least, current_max_ma=most, current_step_ma=currents[2] if len(currents) == 3 else None,
        power_total_max_mw=power_w * 1000 if power_w else None,
        tolerance_permille=tolerance_percent * 10 if tolerance_percent is not None else None)
    done = sign_catalogue(desk(), Kind.DRIVER_MODEL, [entry])
    if as_json:
        say(json_text(_loaded_json(done)))
    else:
        say(f"{model} is signed. Figures that were not given stay unknown.", *_revised(done))


def _numbers(text: str, option: str, counts: tuple[int, ...]) -> list[int]:
    pieces = text.split(":")
    if len(pieces) not in counts or not all(piece.isdecimal() for piece in pieces):
        raise UsageProblem(f"{option} {text} cannot be read.",
                           hint=f"Give {' or '.join(map(str, counts))} whole number(s) joined by colons.")
    return [int(piece) for piece in pieces]
