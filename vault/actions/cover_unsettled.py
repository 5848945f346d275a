"""Luminaires that no spare may be fitted to until somebody settles them."""

from __future__ import annotations

from dataclasses import dataclass

from vault.actions.luminaire import View, view
from vault.db import finding, needs
from vault.db.doubts import RULE
from vault.db.session import Session


@dataclass(frozen=True, slots=True, kw_only=True)
class Unsettled:
    """One of them. why: in words."""

    tag: str
    why: str


def unsettled(session: Session) -> tuple[Unsettled, ...]:
    """Every luminaire in service whose heads differ, whose label freezes it, or whose settings are in doubt, by tag.

    Only those are looked at whole of which the index gives a reason to.
    """
    found = []
    for tag in sorted(_looked_at(session)):
        seen = view(session, tag)
        why = None if seen.retired and not seen.conflict else _why(seen)
        if why is not None:
            found.append(Unsettled(tag=tag, why=why))
    return tuple(found)


def _looked_at(session: Session) -> set[str]:
    tags = {*needs.two_heads(session), *needs.signed_by_suspects(session)}
    seen = finding.sightings(session)
    places = {_plain(place) for _, place in seen}
    named = [place for place in finding.places(session) if _plain(place) in places] if places else []
    return tags | {tag for tag, _ in seen} | {row.tag for row in finding.heads_at(session, named)}


def _plain(place: str) -> tuple[str, ...]:
    # As vault.domain.places.same_place compares.
    return tuple(place.casefold().split())


def _why(seen: View) -> str | None:
    if seen.conflict:
        return "two newest versions differ"
    if seen.frozen:
        return seen.frozen[0].says
    # A doubt about the rating stands with the class: it tells on all of the type.
    doubts = [one for one in seen.findings if one.rule == RULE]
    return doubts[0].says if doubts else None
