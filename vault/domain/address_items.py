"""What an address plan is made from, and what it is made of."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Enum

from vault.domain.addresses import CENTRAL_MAX, GEAR_ON_A_LINE, SHORT_MAX
from vault.domain.findings import Finding
from vault.domain.site import Circuit, Line

# DIN V VDE V 0108-100:2010 4.4.6, where a central circuit has no rule of its own.
LUMINAIRES_ON_A_CENTRAL_CIRCUIT = 20


class Kind(Enum):
    """What addresses are unique on."""

    LINE = "line"
    CIRCUIT = "circuit"


@dataclass(frozen=True, slots=True, kw_only=True)
class Track:
    """A control line, or a central-battery circuit. most: gear on a line, luminaires on a circuit. counts_from: how the site
    writes a line's first address (0 or 1); a circuit's addresses are kept as written. known: whether the vault knows it.
    ruled: whether its limit is one that the vault holds; else it is the usual one.
    """

    kind: Kind
    name: str
    first: int
    last: int
    most: int
    counts_from: int
    known: bool = True
    ruled: bool = True

    def written(self, address: int) -> int:
        """An address as the site writes it."""
        return address + self.counts_from if self.kind is Kind.LINE else address

    def said(self, address: int) -> str:
        """An address with its numbering: "address 5 (from 0)"."""
        return f"address {self.written(address)} {self.numbering}"

    @property
    def numbering(self) -> str:
        """ "(from 0)" or "(from 1)"."""
        return f"(from {self.counts_from})"

    @property
    def shown(self) -> str:
        """ "line D1" or "circuit CB1"."""
        return f"{self.kind.value} {self.name}"

    @property
    def counted(self) -> str:
        """What its limit counts."""
        return "gear" if self.kind is Kind.LINE else "luminaires"


def line_track(name: str, line: Line | None) -> Track:
    """A control line: short addresses 0 to 63 and 64 gear (IEC 62386-102), or fewer where it says so."""
    return Track(kind=Kind.LINE, name=name, first=0, last=SHORT_MAX, known=line is not None,
                 most=(line.gear_max if line else None) or GEAR_ON_A_LINE, counts_from=line.addresses_from if line else 0)


def circuit_track(name: str, circuit: Circuit | None) -> Track:
    """A central-battery circuit: addresses 1 to 255, and as many luminaires as its rule allows, else 20."""
    most = circuit.luminaires_max if circuit else None
    return Track(kind=Kind.CIRCUIT, name=name, first=1, last=CENTRAL_MAX, known=circuit is not None, ruled=most is not None,
                 most=most or LUMINAIRES_ON_A_CENTRAL_CIRCUIT, counts_from=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Slot:
    """One gear, or one channel, that needs an address. gear: its place in the luminaire; path: where its control data are
    ("control", "channels.2.control"); duty: in words. address: what it is set to, as on the bus; None for nothing.
    """

    gear: int = 0
    path: str = "control"
    duty: str = "general"
    address: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """A luminaire on its way to an address. key: unique; lines: where it may go, none where nothing is named. set_on: the
    line on which its addresses are set, where that is not its one line. slots may be none on a circuit, whose limit counts
    luminaires. stays: why nobody may give it another address, "" where somebody may.
    """

    key: str
    reference: str
    place: str
    lines: tuple[str, ...]
    slots: tuple[Slot, ...]
    set_on: str | None = None
    stays: str = ""

    @property
    def shown(self) -> str:
        """Its reference, else its key."""
        return self.reference or self.key


# The note of a record that was planned before its driver was set.
PLANNED = "address planned; the driver is to be set to it"


class Fate(Enum):
    """What the plan does with an address."""

    KEPT = "kept"
    NEW = "new"
    MOVED = "moved"


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """One gear and its address, as on the bus. before: what it was set to, where it is moved. conflict: it cannot stand so."""

    item: Item
    slot: Slot
    track: str
    address: int
    fate: Fate
    conflict: bool = False

    @property
    def before(self) -> int | None:
        """What it was set to, where it is moved."""
        return self.slot.address if self.fate is Fate.MOVED else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Unplaced:
    """A luminaire that gets no address, and why."""

    item: Item
    why: str
    where: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Filled:
    """How full a track is: count of what its limit counts. spare: how many of them are left free."""

    track: Track
    count: int

    @property
    def spare(self) -> int:
        """How many more it may hold."""
        return max(0, self.track.most - self.count)


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """Addresses in walking order, with all that cannot be placed and all that is wrong."""

    tracks: tuple[Track, ...]
    placed: tuple[Placed, ...]
    unplaced: tuple[Unplaced, ...]
    filled: tuple[Filled, ...]
    findings: tuple[Finding, ...] = field(default=())
