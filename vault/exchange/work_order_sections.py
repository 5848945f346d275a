"""The parts of a work order in the order in which they are worked through: who, what, cautions, steps, proof, signature."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any

from reportlab.platypus import CondPageBreak, Flowable, KeepTogether, Paragraph, Spacer, Table

from vault.domain.pictures import Figures, Picture
from vault.errors import GearkeepError
from vault.exchange.canvas import Drawing
from vault.exchange.setting_drawing import draw_pictures
from vault.exchange.work_order import Offer, OrderStep, ReadbackField, SpareToFit, WorkOrder
from vault.exchange.work_order_parts import Blank, Code, Drawn, FormLine, Large, Tick, words

LONG_DETAIL = 4  # lines below a step; more of them stand in two columns
HEIGHTS = (110.0, 150.0, 200.0, 250.0, 300.0, 350.0, 400.0)  # points that a drawing may take, tried in turn
PAGE, GAP = 640.0, 14.0  # what a drawing may take at most; between drawings
BLANK_STEPS = 5
SOME_ROWS = 110.0  # points of the readback that stay together
_TIGHT = [("VALIGN", (0, 0), (-1, -1), "TOP"), ("LEFTPADDING", (0, 0), (-1, -1), 0), ("RIGHTPADDING", (0, 0), (-1, -1), 6),
          ("TOPPADDING", (0, 0), (-1, -1), 1), ("BOTTOMPADDING", (0, 0), (-1, -1), 1)]
_DENSE = (("TOPPADDING", (0, 0), (-1, -1), 0), ("BOTTOMPADDING", (0, 0), (-1, -1), 0))
_RULED = ("LINEBELOW", (0, 0), (-1, -1), 0.4, "#999999")


def story(order: WorkOrder, width: float, shrink: float = 1.0) -> list[Flowable]:
    """Everything that stands on the pages of one order, `width` points wide. The cautions come before any step.

    shrink: by how much the page will be made smaller; the drawing of the settings is not, so that it stays readable.
    """
    made: list[Flowable] = [*_title(order, width), *_state(order, width), *_set_to(order, width), *_identity(order, width)]
    made += _cautions(order, width)
    if order.spare is None:
        made += [*_offers(order, width), *_blank_steps(width)]
    else:
        made += _spare(order.spare, width, shrink)
        if order.spare.refused:
            return made
    return [*made, *_readback(order, width), *_tests(order, width), *_closing(order)]


def _head(said: str) -> Paragraph:
    return words(said, "head")


def _table(rows: Sequence[Sequence[Any]], widths: Sequence[float], *style: Any) -> Table:
    made = Table(rows, colWidths=list(widths), hAlign="LEFT")
    made.setStyle([*_TIGHT, *style])
    return made


def _columns(many: int, cells: Sequence[Any], width: float, *style: Any) -> Table:
    """Cells beside each other, read along the lines."""
    padded = [*cells, *([""] * (-len(cells) % many))]
    return _table([padded[at : at + many] for at in range(0, len(padded), many)], [width / many] * many, *style)


def _title(order: WorkOrder, width: float) -> Iterator[Flowable]:
    code = Code(order.matrix)
    # Its own white border stands over the margin of the page, which is white anyhow.
    text = [words(order.tag_shown, "tag"), words(order.place, "place"), words(order.type_words, "bold"), Spacer(0, 3),
            *(words(f"{label}: {value}") for label, value in order.facts)]
    yield _table([[text, code]], (width - code.side - 4, code.side + 4))


def _state(order: WorkOrder, width: float) -> Iterator[Flowable]:
    if order.banner is not None:
        bar = _table([[words(order.banner, "bar")]], (width,))
        bar.setStyle([("BACKGROUND", (0, 0), (-1, -1), "#000000"), ("LEFTPADDING", (0, 0), (-1, -1), 6),
                      ("TOPPADDING", (0, 0), (-1, -1), 3), ("BOTTOMPADDING", (0, 0), (-1, -1), 4)])
        yield Spacer(0, 3)
        yield bar
    for finding in order.findings:
        yield words(finding, "small")


def _set_to(order: WorkOrder, width: float) -> Iterator[Flowable]:
    yield _head(f"What the {order.gear} is set to")
    yield Large(order.large)
    if order.settings:
        yield _columns(3, [words(f"{label}: {value}", "small") for label, value in order.settings], width, *_DENSE)


def _identity(order: WorkOrder, width: float) -> Iterator[Flowable]:
    yield _head("Is this the luminaire?")
    yield FormLine([Blank(text="the label says the tag above"), Blank(text="the place agrees"), Blank(text="the type agrees"),
                    Blank(text="the neighbours agree:" if order.neighbours else "the neighbours agree")])
    if order.neighbours:
        yield _columns(2, [words(beside, "small") for beside in order.neighbours], width, *_DENSE)
    yield words("If one of them does not agree: stop, set nothing, and report what hangs here.", "bold")


def _headed(said: str, rows: Sequence[Sequence[Any]], widths: Sequence[float], *style: Any) -> Table:
    """A table below its heading, which stays with the first row where the rest goes over to the next page."""
    spanned = [words(said, "head"), *([""] * (len(widths) - 1))]
    ruled = [("SPAN", (0, 0), (-1, 0)), ("NOSPLIT", (0, 0), (-1, 1)), ("TOPPADDING", (0, 0), (-1, 0), 6)]
    return _table([spanned, *rows], widths, *ruled, *style)


def _cautions(order: WorkOrder, width: float) -> Iterator[Flowable]:
    rows = [[words(f"{number}."), words(caution)] for number, caution in enumerate(order.cautions, 1)]
    yield _headed("Cautions – local rules and competent, authorised persons decide", rows, (28, width - 28),
                  ("LINEBEFORE", (0, 1), (0, -1), 3, "#000000"), ("LEFTPADDING", (0, 1), (0, -1), 8))
    yield FormLine([Blank(text="All read, understood and kept. Code of the authorised person:", line=110),
                    Blank(text="Date:", tick=False, line=70)])


def _spare(spare: SpareToFit, width: float, shrink: float) -> Iterator[Flowable]:
    yield _head(f"The spare: {spare.model} – {spare.verdict}")
    yield words(f"{spare.title}; {spare.stock}.")
    yield from (words(finding, "small") for finding in spare.findings)
    if spare.refused:
        yield Spacer(0, 6)
        yield words("Do not fit it. No steps are printed for a spare that does not fit or of which that cannot be told.", "bold")
        return
    yield from (words(f"It cannot hold: {text}", "bold") for text in spare.cannot_hold)
    rows = [_step_row(number, step, width - 34) for number, step in enumerate(spare.steps, 1)]
    yield _headed("Steps", rows, (14, 20, width - 34), _RULED)
    by_hand = [picture for picture in spare.pictures if not isinstance(picture, Figures)]
    if by_hand:
        yield KeepTogether([_head("How it is set by hand"), Drawn(_drawing(by_hand, width * shrink), 1 / shrink)])


def _drawing(pictures: Sequence[Picture], width: float) -> Drawing:
    """As small as it stays readable at arm's length, so that the readback finds room beside it."""
    drawn = _beside(pictures, width) if len(pictures) > 1 else None
    drawn = drawn or _if_readable(pictures, width)
    return drawn or draw_pictures(pictures, width=width, height=PAGE)


def _beside(pictures: Sequence[Picture], width: float) -> Drawing | None:
    """Up to three in a row; None where one is too wide for that."""
    many = min(len(pictures), 3)
    column = (width - GAP * (many - 1)) / many
    made, y = Drawing(width=int(width), height=0), 0
    for start in range(0, len(pictures), many):
        row = [_if_readable([replace(one, caption=f"{start + number}. {one.caption}")], column)
               for number, one in enumerate(pictures[start : start + many], 1)]
        for number, drawing in enumerate(row):
            if drawing is None:
                return None
            made.lay(drawing, number * (column + GAP), y)
            made.height = max(made.height, y + drawing.height)
        y = made.height + int(GAP)
    return made


def _if_readable(pictures: Sequence[Picture], width: float) -> Drawing | None:
    """The pictures in the least height that keeps them readable from a ladder; None where they find no room."""
    for height in HEIGHTS:
        try:
            return draw_pictures(pictures, width=width, height=height)
        except GearkeepError as problem:
            if problem.kind != "drawing-too-large":
                raise
    return None


def _step_row(number: int, step: OrderStep, width: float) -> list[Any]:
    lines: list[Flowable] = [words(line, "small") for line in step.detail]
    below = [_columns(2, lines, width, *_DENSE)] if len(lines) > LONG_DETAIL else lines
    return [Tick(), words(f"{number}.", "bold"), [words(step.text), *below]]


def _offers(order: WorkOrder, width: float) -> Iterator[Flowable]:
    if order.remarks:
        yield _head("What to look for in a spare")
        yield from (words(remark) for remark in order.remarks)
    rows = [_offer_row(offer) for offer in order.offers]
    yield _headed("Spares, the best first", rows or [[words("None is on record."), "", "", "", ""]],
                  (14, 100, 90, 105, width - 309), _RULED)


def _offer_row(offer: Offer) -> list[Any]:
    return [Tick(), words(offer.model, "bold"), words(offer.verdict), words(offer.stock), words(offer.reason, "small")]


def _blank_steps(width: float) -> Iterator[Flowable]:
    yield _head("Steps done")
    yield words("For its steps, print the sheet with a spare: gearkeep sheet TAG --spare MODEL. Else write down what is done.",
                "small")
    yield FormLine([Blank(text=f"{number}.", line=width - 32) for number in range(1, BLANK_STEPS + 1)])


def _readback(order: WorkOrder, width: float) -> Iterator[Flowable]:
    yield CondPageBreak(SOME_ROWS)
    yield _head("Read back from the new driver: tick what is as set, else write what it reads")
    box, gap = 66.0, 10.0
    label = width / 2 - box - gap - 24
    rows = [_field_row(one, (label, 18, box, gap)) for one in order.readback]
    yield _columns(2, rows, width, ("RIGHTPADDING", (0, 0), (-1, -1), 0), *_DENSE)
    for what, unit in order.evidence:
        yield FormLine([_label(f"{what} is known by:"), Blank(text=f"meter, {unit}", line=46),
                        Blank(text="photograph of the switches"), Blank(text="parameter sheet")])


def _field_row(one: ReadbackField, widths: Sequence[float]) -> Table:
    asked = [words(one.says), words(f"set to {one.expected}", "small")]
    return _table([[asked, Tick(), "", ""]], widths, ("BOX", (2, 0), (2, 0), 0.6, "#000000"), ("TOPPADDING", (1, 0), (1, 0), 4))


def _tests(order: WorkOrder, width: float) -> Iterator[Flowable]:
    mark = 48.0
    rows = [[words(test), *(FormLine([Blank(text=said)], row=14) for said in ("passed", "failed", "to do"))]
            for test in order.retests]
    yield _headed("Test again before you leave", rows, (width - 3 * mark, mark, mark, mark), _RULED,
                  ("VALIGN", (0, 1), (-1, -1), "MIDDLE"), ("TOPPADDING", (0, 1), (-1, -1), 0),
                  ("BOTTOMPADDING", (0, 1), (-1, -1), 1))


def _label(said: str) -> Blank:
    return Blank(text=said, tick=False, bold=True)


def _to_write(said: str, line: float) -> Blank:
    return Blank(text=said, tick=False, line=line)


def _closing(order: WorkOrder) -> Iterator[Flowable]:
    spare = order.spare
    model = Blank(text=f"model {spare.model}") if spare is not None else _to_write("model", 110)
    lines: list[Flowable] = [
        _head("What was done"),
        FormLine([_label("New driver:"), model, _to_write("serial", 100), _to_write("from store, bin", 80)]),
        FormLine([_label("Class of the change:"), Blank(text="like for like"), Blank(text="approved equivalent"),
                  Blank(text="modification, approved by (code)", line=60)])]
    if spare is not None and spare.class_hint:
        lines.append(words(spare.class_hint, "small"))
    lines += [
        FormLine([_label("Old driver:"), Blank(text="scrapped"), Blank(text="kept for inspection"),
                  Blank(text="returned to the store"), Blank(text="sent back to its maker")]),
        FormLine([_label("Done by:"), _to_write("signer code", 60), _to_write("date", 70), _to_write("signature", 150)]),
        words("This paper is no record. Type it in: the swap counts when it is signed in the vault.", "small"),
        words(order.checkpoint, "small")]
    yield KeepTogether(lines)
