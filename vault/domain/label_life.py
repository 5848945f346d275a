"""The life of a luminaire's labels: which copies count, and where they were last seen."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import Enum
from types import MappingProxyType

from vault.domain.places import same_place


class Event(Enum):
    """What happens to a copy after it was issued. replaced: a later one was printed in its place."""

    PLACED = "placed"
    REPLACED = "replaced"
    WITHDRAWN = "withdrawn"
    SIGHTED = "sighted"


class State(Enum):
    """Where a copy stands in its life. Only an issued or placed one can be current."""

    ISSUED = "issued"
    PLACED = "placed"
    REPLACED = "replaced"
    WITHDRAWN = "withdrawn"


# The states that an event leads to. What stands in no row leaves the state as it is: a copy that was replaced or
# withdrawn never counts again, wherever it is seen.
TRANSITIONS: Mapping[tuple[State, Event], State] = MappingProxyType({
    (State.ISSUED, Event.PLACED): State.PLACED,
    (State.ISSUED, Event.REPLACED): State.REPLACED,
    (State.ISSUED, Event.WITHDRAWN): State.WITHDRAWN,
    (State.PLACED, Event.REPLACED): State.REPLACED,
    (State.PLACED, Event.WITHDRAWN): State.WITHDRAWN,
    (State.REPLACED, Event.WITHDRAWN): State.WITHDRAWN,
})

_STANDING = frozenset({State.ISSUED, State.PLACED})


@dataclass(frozen=True, slots=True, kw_only=True)
class Issued:
    """A copy was printed. shows_newest: of settings equal to the newest version's. replaces: in place of all before it.

    step: its statement's place in the journal. record: what its record is known by (8 digest bytes).
    """

    step: int
    copy: int
    record: bytes
    shows_newest: bool
    replaces: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Happened:
    """Something happened to a copy. copy, record: as far as they are known.

    place, type_code (of the housing that bears it), on_housing (False: it lies loose): of a sighting.
    """

    step: int
    event: Event
    copy: int | None
    place: str | None = None
    record: bytes | None = None
    type_code: str | None = None
    on_housing: bool | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CopyLife:
    """One copy as it stands. elsewhere: where it was last seen, if not with its luminaire; loose: on no housing there.

    perhaps_at: where a label was found whose number nobody read and that may be this one.
    """

    copy: int
    state: State
    shows_newest: bool
    elsewhere: str | None = None
    loose: bool = False
    perhaps_at: tuple[str, ...] = ()

    @property
    def current(self) -> bool:
        """It was printed of the newest settings, and neither replaced nor withdrawn."""
        return self.shows_newest and self.state in _STANDING

    @property
    def placed(self) -> bool:
        """It was seen on the housing and still counts."""
        return self.state is State.PLACED

    @property
    def withdrawn(self) -> bool:
        """It no longer counts because somebody said so."""
        return self.state is State.WITHDRAWN


@dataclass(frozen=True, slots=True, kw_only=True)
class Stray:
    """A label found elsewhere, or on a housing of another type, that is still there as far as anybody said.

    copies: those that it may be. doubtful: it may have been one more, which was withdrawn since. type_code, on_housing: of
    what type the housing is, and whether it hangs on one at all; None where nobody said.
    """

    place: str
    copies: frozenset[int]
    doubtful: bool = False
    type_code: str | None = None
    on_housing: bool | None = None

    @property
    def sure(self) -> bool:
        """Which copy it is stands beyond doubt."""
        return len(self.copies) == 1 and not self.doubtful


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelLife:
    """Every copy of one luminaire's label, in the order printed, and the labels found elsewhere."""

    copies: tuple[CopyLife, ...]
    strays: tuple[Stray, ...]


@dataclass(slots=True)
class _Life:
    issued: list[Issued] = field(default_factory=list)
    states: list[State] = field(default_factory=list)
    strays: list[Stray] = field(default_factory=list)

    def issue(self, one: Issued) -> None:
        if one.replaces:
            for number, earlier in enumerate(self.issued):
                if earlier.step < one.step:
                    self._step(number, Event.REPLACED)
            # Found although the journal knew of no copy: from now on it is known which one counts.
            self.strays = [stray for stray in self.strays if stray.copies]
        self.issued.append(one)
        self.states.append(State.ISSUED)

    def _step(self, number: int, event: Event) -> None:
        self.states[number] = TRANSITIONS.get((self.states[number], event), self.states[number])

    def happen(self, one: Happened) -> None:
        for number, issued in enumerate(self.issued):
            if issued.copy == one.copy:
                self._step(number, one.event)
        if one.event is Event.SIGHTED:
            self._sight(one)
        elif one.copy is not None:
            self._settle(one.copy, doubtful=one.event is Event.WITHDRAWN)

    def _settle(self, copy: int, *, doubtful: bool = False) -> None:
        """Somebody has said where the copy is, or that it is gone (doubtful): nobody looks for it any more."""
        left = []
        for stray in self.strays:
            if copy in stray.copies:
                stray = replace(stray, copies=stray.copies - {copy}, doubtful=stray.doubtful or doubtful)
                if not stray.copies:
                    continue
            left.append(stray)
        self.strays = left

    def _sight(self, one: Happened) -> None:
        copies = self._may_be(one)
        # One that was said to hang on a housing hangs on one until somebody says that it lies loose.
        hung = True if any(stray.on_housing and stray.copies == copies for stray in self.strays) else None
        if len(copies) == 1:
            self._settle(*copies)
        found = Stray(place=one.place or "", copies=copies, type_code=one.type_code,
                      on_housing=hung if one.on_housing is None else one.on_housing)
        # Looked at once more: what is said now counts.
        self.strays = [stray for stray in self.strays if stray.copies != copies or not same_place(stray.place, found.place)]
        self.strays.append(found)

    def _may_be(self, one: Happened) -> frozenset[int]:
        if one.copy is not None:
            return frozenset({one.copy})
        known = [(issued, state) for issued, state in zip(self.issued, self.states, strict=True)
                 if one.record in (None, issued.record)]
        # A withdrawn label is thought of only where no other can be meant.
        standing = [issued for issued, state in known if state is not State.WITHDRAWN]
        return frozenset(issued.copy for issued in standing or [issued for issued, _ in known])


def life_of(steps: Iterable[Issued | Happened], place: str, type_code: str | None = None) -> LabelLife:
    """The labels of one luminaire that hangs at `place` now, from what was signed about them in the journal's order.

    type_code: its type; a label seen in its place on a housing of another type is a stray as well.
    """
    life = _Life()
    for step in steps:
        if isinstance(step, Issued):
            life.issue(step)
        else:
            life.happen(step)
    strays = tuple(stray for stray in life.strays
                   if not same_place(stray.place, place) or (type_code is not None and stray.type_code not in (None, type_code)))
    return LabelLife(strays=strays, copies=tuple(
        _copy_life(issued, state, [stray for stray in strays if issued.copy in stray.copies])
        for issued, state in zip(life.issued, life.states, strict=True)))


def _copy_life(issued: Issued, state: State, strays: Sequence[Stray]) -> CopyLife:
    certain = [stray for stray in strays if stray.sure][-1:]
    return CopyLife(copy=issued.copy, state=state, shows_newest=issued.shows_newest,
                    elsewhere=certain[0].place if certain else None, loose=any(one.on_housing is False for one in certain),
                    perhaps_at=tuple(stray.place for stray in strays if not stray.sure))
