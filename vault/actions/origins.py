"""Which vault a luminaire is of: a tag may be followed by @ and the first digits of a log id, or the other vault's host."""

from __future__ import annotations

import re
from dataclasses import dataclass

from vault.db import taken
from vault.db.session import Session
from vault.db.taken import TakenLog, holders, taken_logs
from vault.domain.tag import shown
from vault.errors import GearkeepError, UsageProblem
from vault.trust.signers import day_of

LEAST_DIGITS = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """A luminaire of another vault's log. adopted_as: our own tags of it, none while it was not adopted."""

    log: TakenLog
    tag: str
    name: str
    adopted_as: tuple[str, ...]

    @property
    def words(self) -> str:
        """Whose it is, for every screen and paper that shows it."""
        return f"of {origin_words(self.log)}"

    @property
    def adoption_words(self) -> str:
        """What has become of it here."""
        if self.adopted_as:
            return f"adopted here as {' and '.join(map(shown, self.adopted_as))}"
        return f"not adopted: shown read-only. To work on it, sign for it first: gearkeep adopt {self.name}"

    def as_json(self) -> dict[str, object]:
        """The keys that other programs rely on."""
        return {"log_id": self.log.log_id.hex(), "site": self.log.site, "host": self.log.host, "taken_over_s": self.log.time_s,
                "name": self.name, "adopted_as": list(self.adopted_as)}


def origin_words(log: TakenLog) -> str:
    """A log taken over, in words."""
    return f"{log.site} (log {log.log_id.hex()[:LEAST_DIGITS]}…), taken over on {day_of(log.time_s)}"


def split_name(text: str) -> tuple[str, str | None]:
    """(tag as typed, which vault as typed or None) of a text such as 7K3D9QXW6@a1b2."""
    tag, at, where = text.partition("@")
    return tag, (where.strip() if at else None)


def log_digits(session: Session, log_id: bytes) -> str:
    """The first digits of a log id, as many as tell it from every other that this vault knows."""
    others = [one.log_id.hex() for one in taken_logs(session) if one.log_id != log_id]
    others += [session.genesis.log_id.hex()] if session.genesis.log_id != log_id else []
    digits = log_id.hex()
    return next(digits[:length] for length in range(LEAST_DIGITS, len(digits) + 1)
                if length == len(digits) or not any(other.startswith(digits[:length]) for other in others))


def full_name(session: Session, tag: str, log_id: bytes) -> str:
    """A tag with the digits of its log behind it."""
    return f"{tag}@{log_digits(session, log_id)}"


def log_named(session: Session, where: str) -> TakenLog | None:
    """The log taken over that a text names by first digits or host; None where it names this vault's own.

    Raises UsageProblem (no-such-log, which-log).
    """
    digits, host = re.sub(r"[\s…-]", "", where).lower(), where.casefold()
    known: list[TakenLog | None] = [None, *taken_logs(session)]

    def named(log: TakenLog | None) -> bool:
        ours = session.genesis if log is None else log
        by_digits = len(digits) >= LEAST_DIGITS and ours.log_id.hex().startswith(digits)
        return by_digits or ours.host.casefold() == host

    found = [log for log in known if named(log)]
    if len(found) == 1:
        return found[0]
    listed = "; ".join(f"@{log_digits(session, session.genesis.log_id if log is None else log.log_id)} "
                       f"{session.genesis.site + ' (this vault)' if log is None else log.site}" for log in found or known)
    if not found:
        raise UsageProblem(f"No log that this vault knows is called {where[:40]!r}.", kind="no-such-log",
                           hint=f"Give {LEAST_DIGITS} digits or more of its log id, or its host. Known: {listed}.")
    raise UsageProblem(f"{where[:40]!r} names more than one log.", kind="which-log", hint=f"Say which: {listed}.")


def taken_of(session: Session, log: TakenLog, tag: str) -> Taken:
    """A luminaire of a log taken over."""
    return Taken(log=log, tag=tag, name=full_name(session, tag, log.log_id),
                 adopted_as=taken.adopted_as(session, log.log_id, tag))


def elsewhere(session: Session, tag: str, where: str | None, *, is_own: bool) -> Taken | None:
    """Whose luminaire a tag means: None for this vault's own, also where nobody has it.

    is_own: whether this vault issued the tag. where: what was typed behind the @. Raises UsageProblem: two-luminaires where
    nothing was said and more than one vault has it, no-such-log, which-log; GearkeepError (not-found).
    """
    if where is not None:
        log = log_named(session, where)
        if log is None:
            if is_own:
                return None
            raise GearkeepError(f"This vault has no luminaire {shown(tag)} of its own.", kind="not-found",
                                hint="Leave the part behind the @ off to look among those taken over too.")
        if log.log_id not in holders(session, tag):
            raise GearkeepError(f"{log.site} has no luminaire {shown(tag)} among those taken over.", kind="not-found",
                                hint="Compare the tag with the label; a newer pack of that vault may hold it.")
        return taken_of(session, log, tag)
    ids = holders(session, tag)
    if not ids:
        return None
    others = [taken_of(session, log, tag) for log in taken_logs(session) if log.log_id in ids]
    if len(others) + is_own > 1:
        raise _two(session, tag, others, is_own=is_own)
    return others[0] if others else None


def _two(session: Session, tag: str, others: list[Taken], *, is_own: bool) -> UsageProblem:
    said = [f"{one.name} {_place(session, one.log.log_id, tag)}, {one.words}" for one in others]
    if is_own:
        said.insert(0, f"{full_name(session, tag, session.genesis.log_id)} {_own_place(session, tag)}, of this vault, "
                       f"{session.genesis.site}")
    return UsageProblem(f"{shown(tag)} is the tag of {len(said)} luminaires: {'; '.join(said)}.", kind="two-luminaires",
                        hint=f"Say which, with the part behind the @: {said[0].split()[0]}")


def _place(session: Session, log_id: bytes, tag: str) -> str:
    places = taken.last_places(session, log_id, tag)
    return f"at {places}" if places else "at a place that is not known"


def _own_place(session: Session, tag: str) -> str:
    from vault.db import queries

    rows = queries.versions_of(session, tag)
    return f"at {rows[-1].place}" if rows else ""


def not_yours(found: Taken) -> GearkeepError:
    """The refusal to sign for a luminaire of another vault."""
    if found.adopted_as:
        return GearkeepError(f"{shown(found.tag)} is {found.words}. It was adopted here as "
                             f"{' and '.join(map(shown, found.adopted_as))}.", kind="taken-over",
                             hint=f"Use the tag that it has here: {found.adopted_as[0]}")
    return GearkeepError(f"{shown(found.tag)} is {found.words}, and not yours to sign for.", kind="taken-over",
                         hint=f"Adopt it first, by an installer: gearkeep adopt {found.name}")
