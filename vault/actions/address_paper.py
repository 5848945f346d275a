"""A plan of addresses on paper and in files: the table, the filled schedule, the labels, the drawing of the lines."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from vault.actions.address_file import IN_THE_VAULT
from vault.actions.addressing import Planned
from vault.actions.luminaire import all_current
from vault.domain.address_items import Fate, Kind, Placed, Track
from vault.domain.site import Line
from vault.domain.tag import shown
from vault.errors import UsageProblem
from vault.exchange.address_table import Fill, PlanRow, write_filled, write_plan_table
from vault.exchange.line_drawing import DrawnGear, DrawnLine, Mark, write_drawing
from vault.trust.statements import Kind as Said

if TYPE_CHECKING:
    from labels.drawing import Drawn
    from labels.media import Medium, Sheet
    from vault.db.session import Vault

IN_CONFLICT = "conflict"
_SHORT = {"general": "", "emergency converter": "emergency", "general and emergency": "with emergency"}  # in a drawing's box


def plan_rows(planned: Planned) -> list[PlanRow]:
    """The plan in walking order, lines before circuits; then what gets no address, with why."""
    rows = [PlanRow(reference=one.item.reference, tag=_tag(planned, one), place=one.item.place, line=one.track,
                    address=track.written(one.address), counted=track.numbering.strip("()"), gear=one.slot.duty,
                    plan=one.fate.value, note=_note(one), before=planned.was(track, one).removeprefix("was "))
            for track, one in planned.placed]
    rows += [PlanRow(reference=left.item.reference, tag="", place=left.item.place, address=None, counted="", before="",
                     line="+".join(left.item.lines), plan="no address", note=left.why,
                     gear=", ".join(slot.duty for slot in left.item.slots if slot.address is None)) for left in planned.unplaced]
    return rows


def _tag(planned: Planned, one: Placed) -> str:
    tag = planned.tag_of(one.item)
    return shown(tag) if tag else ""


def _note(one: Placed) -> str:
    return "; ".join(text for text in (IN_CONFLICT if one.conflict else "", one.item.stays) if text)


def write_table(planned: Planned, path: Path) -> None:
    """The plan as CSV or XLSX."""
    write_plan_table(path, plan_rows(planned))


def write_schedule(vault: Vault, planned: Planned, path: Path) -> tuple[str, ...]:
    """The schedule that was planned for, filled in; returns headings of columns that it had to be given."""
    with vault.reading() as session:
        lines: Mapping[str, Line] = all_current(session, Said.LINE)
    held = planned.held
    if held is None:
        raise UsageProblem("No schedule file was planned for.", kind="no-file", hint="Name it: gearkeep addresses plan FILE.")
    fills: dict[int, dict[str, object]] = {}
    for track, one in planned.placed:
        key = one.item.key if track.kind is Kind.LINE else one.item.key.removesuffix(f" {track.name}")
        rows = held.rows.get(key)
        if rows is None or one.slot.gear >= len(rows) or one.slot.path != "control":
            continue
        fill = fills.setdefault(rows[one.slot.gear], {})
        fill |= {"line": track.name, "short": one.address} if track.kind is Kind.LINE else {"central": one.address}
    ready = {at: Fill(**fill) for at, fill in fills.items()}  # type: ignore[arg-type]
    return write_filled(path, held.translation, held.names, ready, lines)


def drawn_lines(planned: Planned, site: str, titles: Mapping[str, str | None]) -> list[DrawnLine]:
    """Every line and circuit of the plan that holds any gear, as it will be drawn."""
    found = []
    for plan in (planned.lines, planned.circuits):
        by_track: dict[str, list[Placed]] = {track.name: [] for track in plan.tracks}
        for one in plan.placed:
            by_track[one.track].append(one)
        for fill in plan.filled:
            track, some = fill.track, by_track[fill.track.name]
            if not some:
                continue
            title = titles.get(track.name)
            said = f"{track.shown[:1].upper()}{track.shown[1:]}" + (f": {title}" if title else "")
            left = [item for item in plan.unplaced if item.where == track.name]
            lacking = f" Without address: {', '.join(item.item.shown for item in left)}." if left else ""
            found.append(DrawnLine(
                title=said, gears=[_drawn(planned, track, one) for one in some],
                subtitle=f"{site}. Addresses are counted from {track.counts_from}. {fill.count} of {track.most} "
                         f"{track.counted}.{lacking}"))
    return found


def _drawn(planned: Planned, track: Track, one: Placed) -> DrawnGear:
    mark = Mark.CONFLICT if one.conflict else {Fate.KEPT: Mark.SET, Fate.NEW: Mark.NEW, Fate.MOVED: Mark.MOVED}[one.fate]
    duty = _SHORT.get(one.slot.duty, one.slot.duty)
    return DrawnGear(address=str(track.written(one.address)), reference=one.item.shown, place=one.item.place, mark=mark,
                     note=", ".join(text for text in (planned.was(track, one), duty) if text), key=one.item.key)


def write_lines(vault: Vault, planned: Planned, path: Path) -> tuple[Path, ...]:
    """The drawing of every line. Raises UsageProblem (nothing-planned, bad-format), GearkeepError."""
    with vault.reading() as session:
        titles = {name: one.title for kind in (Said.CIRCUIT, Said.LINE) for name, one in all_current(session, kind).items()}
        lines = drawn_lines(planned, session.genesis.site, titles)
    _refuse_nothing(lines)
    return write_drawing(path, lines)


def _refuse_nothing(found: Sequence[object]) -> None:
    if not found:
        raise UsageProblem("No gear has or gets an address, so there is nothing to draw or print.", kind="nothing-planned",
                           hint="See why with: gearkeep addresses plan")


def write_labels(vault: Vault, planned: Planned, path: Path, medium: Medium, sheet: Sheet | None) -> list[Drawn]:
    """A label for every gear: reference, place, line, its address large with its numbering; the link of the luminaire's own
    label where it has a tag, else of its line. None for what is in conflict, or not in the schedule that was planned for.
    Nothing is signed: it says nothing that anybody answers for.
    """
    from labels.content import BigFigure, LabelContent
    from labels.drawing import write_pdf
    from vault.trust.capsule import link
    from vault.trust.place_link import Place, place_link

    if path.suffix.lower() != ".pdf":
        raise UsageProblem(f"{path.name} is no PDF.", kind="bad-format", hint="Give a file name that ends in .pdf.")
    with vault.reading() as session:
        host = session.genesis.host

    def contents() -> Iterator[LabelContent]:
        for track, one in placed:
            tag = planned.tag_of(one.item)
            duty = () if one.slot.duty == "general" else (one.slot.duty,)
            yield LabelContent(
                tag_shown=one.item.shown, capsule_text=None,
                link_text=link(host, tag) if tag else place_link(host, Place.LINE, track.name),
                big=(BigFigure(caption=track.shown, value=str(track.written(one.address))),),
                lines=(f"address counted from {track.counts_from}", *duty, one.item.place), must=2)

    placed = [(track, one) for track, one in planned.placed
              if not one.conflict and (planned.held is None or one.item.stays != IN_THE_VAULT)]
    _refuse_nothing(placed)
    return write_pdf(path, contents(), medium, total=len(placed), sheet=sheet)
