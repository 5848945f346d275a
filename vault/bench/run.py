"""One run of the bench: vaults of the sizes asked for are made, measured and taken away."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

from vault.bench.big_vault import BigVault, build
from vault.bench.measure import Figure
from vault.bench.postgres import append_postgres_figures
from vault.bench.processes import help_figure, show_figure
from vault.bench.stored import append_figure, growth_figure, lookup_figure, proof_figure
from vault.bench.whole import audit_figures, handover_figures, processors

SMALL_LUMINAIRES = 10_000
NAMES = ("audit", "handover", "bulk", "lookup", "append", "growth", "proof", "append_postgres", "show", "help")

Said = Callable[[str], None]


def measure(*, luminaires: int, versions: int, rows: int, turns: int, server: str | None, folder: Path | None, said: Said
            ) -> Iterator[Figure]:
    """Every figure, as it is measured. folder: where the vaults are made (default: the system's temporary folder).

    said: told what is being done, in words. Without a server the appends to PostgreSQL are left out.
    """
    with tempfile.TemporaryDirectory(dir=folder, prefix="gearkeep-bench-") as name:
        place = Path(name)
        said("whole processes")
        yield help_figure(turns + 4)
        said(f"making a vault of {luminaires} luminaires x {versions} versions")
        big = build(str(place / "big.db"), luminaires=luminaires, versions=versions, processes=processors())
        yield show_figure(big.address, big.tags[0], turns + 4)
        yield from _stored(big, place, luminaires, turns, said)
        said("audit")
        yield from audit_figures(_made(big), turns)
        said(f"handover of {rows} rows")
        yield from handover_figures(place, rows, turns)
        if server is not None:
            said("appends to PostgreSQL")
            yield from append_postgres_figures(server, 300, turns)


def _stored(big: BigVault, place: Path, luminaires: int, turns: int, said: Said) -> Iterator[Figure]:
    said("lookups, proofs, appends")
    count = min(200, luminaires // 4)
    yield lookup_figure(big, count, turns)
    yield proof_figure(big, count, turns)
    yield append_figure(big, count // 2, turns)
    small = build(str(place / "small.db"), luminaires=min(SMALL_LUMINAIRES, luminaires) // 3, versions=3,
                  processes=processors())
    yield growth_figure(big, small, count // 4, turns)


def _made(big: BigVault) -> BigVault:
    from vault.db.session import Vault

    # The appends that were measured stand in the journal too.
    vault = Vault(big.address)
    with vault.reading() as session:
        size = session.size()
    vault.close()
    return BigVault(address=big.address, tags=big.tags, statements=size, installer_seed=big.installer_seed)
