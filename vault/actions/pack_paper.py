"""The pack's paper: its title page, and its sections in the order in which the owner of a building needs them."""

from __future__ import annotations

from collections.abc import Sequence

from vault.actions.keeping import SignedCheckpoint
from vault.actions.pack_closing import cautions, checkpoint, groups, retention, root_words, signers
from vault.actions.pack_emergency import emergency
from vault.actions.pack_findings import findings
from vault.actions.pack_gather import AsBuilt
from vault.actions.pack_origins import origins
from vault.actions.pack_schedule import matrix, schedule
from vault.actions.pack_spares import spares
from vault.actions.pack_types import by_type
from vault.db.session import Session
from vault.exchange.pack_layout import PAGE, READ_ME
from vault.exchange.pack_paper import Paper
from vault.exchange.pack_retention import Retention
from vault.trust.keys import fingerprint

_HEAD_DIGITS = 16  # of the root, on every page: enough to compare by eye


def paper(session: Session, built: AsBuilt, signed: Sequence[SignedCheckpoint], kept: Retention, made_on: str,
          warnings: Sequence[str]) -> Paper:
    """Everything that is printed. made_on: a day in ISO 8601. warnings: what is not settled, a sentence each."""
    genesis = session.genesis
    lines = {one.record.line for one in built.gears if one.record.line}
    facts = (
        ("Made on", made_on), ("Vault", f"{genesis.host}, log {groups(genesis.log_id.hex())}"),
        ("Luminaires in service", str(len(built.in_service))), ("Drivers", str(len(built.gears))),
        ("Control lines", str(len(lines))), ("Fixture types", str(len({one.record.fixture_type.code for one in built.gears}))),
        ("Emergency lighting", str(len({one.seen.tag for one in built.gears if one.emergency}))),
        ("Not settled", " ".join(warnings) or "none"), ("Out of service for good", str(len(built.retired))),
        *(("Checkpoint", root_words(one)) for one in signed),
        ("Authority fingerprint", fingerprint(genesis.authority_key)))
    return Paper(
        title="Lighting handover", site=genesis.site, facts=facts,
        running_head=f"{genesis.site}   {made_on}   checkpoint {groups(signed[0].root.hex()[:_HEAD_DIGITS])}",
        opening=(
            "How every luminaire's driver is set, as signed records say it. All of them were verified when this was made. "
            "Signers stand by their codes; no names of people.",
            f"The same records lie beside this paper as signed bytes. {PAGE} verifies them in a browser, without a network; "
            f"{READ_ME} says how to do it by other means. Keep this paper away from those files: its checkpoint is the witness "
            "that they are the same still."),
        sections=(schedule(built), matrix(built), by_type(built), emergency(built), spares(session, built),
                  findings(session, built), *origins(session), cautions(), retention(kept), signers(session),
                  checkpoint(session, signed)))
