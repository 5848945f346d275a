"""One act over many lines of a list: a whole count, bins that go to a van, what comes back, what is thrown away."""

from __future__ import annotations

from pathlib import Path

from vault.actions.desk import Desk
from vault.actions.luminaire import driver_models
from vault.actions.stock import Moved, Said, move_stock
from vault.actions.stock_asked import refuse_unsure
from vault.db import stock_rows
from vault.domain.stock import Act, MovementLine
from vault.errors import UsageProblem
from vault.exchange.stock_file import StockProblem, read_stock_file
from vault.exchange.stock_known import Known
from vault.spares.stock_walk import DAY_S


def move_listed(desk: Desk, path: Path, *, act: Act, store: str, said: Said, even_reserved: bool = False,
                sure: bool = False) -> tuple[Moved, int]:
    """Sign an act over the lines of a list, all of them or none, and how many rows without a quantity were left alone.

    act: COUNT, RETURN, SCRAP or TRANSFER. A count may find nothing; the others leave lines of nought pieces out. sure: what is
    asked is confirmed. Raises Unsure for what should be looked at again; StockProblem for what the list may not hold;
    UsageProblem (nothing-listed) where no row has a quantity; what `move_stock` raises.
    """
    with desk.vault.writing() as session:
        known = Known(drivers=driver_models(session), terms=stock_rows.supply_terms(session))
        listed = read_stock_file(path, known=known, may_lack_quantity=True,
                                 today_day=None if act is Act.SCRAP else desk.now_s() // DAY_S)
        if listed.terms:
            raise StockProblem(f"{path.name} says what is agreed about {', '.join(sorted(listed.terms)[:5])}, which is no part "
                               f"of a {act.name.lower()}.",
                               hint="Leave those columns out; terms are signed with: gearkeep stock load.")
        lines = tuple(line for line in listed.lines if line.quantity or act is Act.COUNT)
        if not lines:
            raise UsageProblem(f"No row of {path.name} has a quantity.", kind="nothing-listed",
                               hint="Write how many pieces into the column quantity; rows without are left alone.")
        if act is Act.COUNT:
            _refuse_counts(path, lines)
        if not sure:
            refuse_unsure(session, act, store, lines)
        return move_stock(session, desk, act=act, store=store, lines=lines, said=said,
                          even_reserved=even_reserved), listed.without_quantity


def _refuse_counts(path: Path, lines: tuple[MovementLine, ...]) -> None:
    """A count sets a whole bin, so that serial numbers, or a lot beside a lot of unknown day, would undo each other."""
    wrong = [f"serial {line.serial} of {line.model}: a count is of a bin and names no piece" for line in lines if line.serial]
    dated = {(line.model, line.bin, line.condition) for line in lines if line.made_day is not None}
    wrong += [f"{line.model} in {f'bin {line.bin}' if line.bin else 'no bin'} has a row without a day made beside rows with one"
              for line in lines if line.made_day is None and (line.model, line.bin, line.condition) in dated]
    if wrong:
        raise StockProblem(f"{path.name}: {'; '.join(wrong[:8])}{f'; and {len(wrong) - 8} more' if len(wrong) > 8 else ''}.",
                           hint="Count each bin in one row, of batteries in one row for each day made.")
