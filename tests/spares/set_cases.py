"""Coverages made of plain sets, and the best sets found by trying all."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from vault.domain.driver import DriverModel
from vault.domain.findings import Verdict
from vault.domain.settings import Channel, Duty, Gear, Output, Settings
from vault.spares.needs import Answer, Coverage, NeedClass

FITS = Answer(verdict=Verdict.FITS, rule="", limit="")
CARE = Answer(verdict=Verdict.FITS_WITH_CARE, rule="tolerance", limit="Its current is 4 % higher.")
UNKNOWN = Answer(verdict=Verdict.CANNOT_TELL, rule="isolation", limit="Its isolation is not known.")
STOP = Answer(verdict=Verdict.DOES_NOT_FIT, rule="current", limit="It gives 350 mA at most, 700 mA are needed.")


def driver(name: str) -> DriverModel:
    """A model of which nothing counts but its name."""
    return DriverModel(model=name, revision=1, title=name, output=Output.CONSTANT_CURRENT, channels=1)


def need(number: int, pieces: int, vital: bool) -> NeedClass:
    """A class of which nothing counts but its pieces and duty."""
    gear = Gear(duty=Duty.EMERGENCY_CONVERTER if vital else Duty.GENERAL,
                settings=Settings(output=Output.CONSTANT_CURRENT, channels=(Channel(current_ma=350),)))
    return NeedClass(key=number.to_bytes(8, "big"), gear=gear, ratings=(), line=None, circuit=None, pieces=pieces, tags=())


def coverage(models: Mapping[str, Iterable[int]], *, pieces: Sequence[int], vital: Iterable[int] = (),
             care: Mapping[str, Iterable[int]] | None = None, otherwise: Answer = STOP) -> Coverage:
    """models: name -> classes that it fits, from 0. care: classes that it fits with care. otherwise: what it is for the rest."""
    vital, careful = set(vital), {name: set(classes) for name, classes in (care or {}).items()}
    fitting = {name: set(classes) for name, classes in models.items()}
    return Coverage(
        needs=[need(number, count, number in vital) for number, count in enumerate(pieces)],
        models=[driver(name) for name in models],
        answers=[[FITS if number in fitting[name] else CARE if number in careful.get(name, ()) else otherwise for name in models]
                 for number in range(len(pieces))])


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried:
    """Every set that does, best first: (cost, size, pieces below nought), and the set."""

    sets: tuple[tuple[tuple[int, int, int], frozenset[str]], ...]

    @property
    def first(self) -> tuple[int, int, int]:
        return self.sets[0][0]

    def next_best(self, count: int) -> list[tuple[int, int, int]]:
        """Figures of the best sets one after the other, none containing one before it, the first left out."""
        found: list[tuple[tuple[int, int, int], frozenset[str]]] = []
        for figures, chosen in self.sets:
            if not any(before <= chosen for _, before in found):
                found.append((figures, chosen))
        return [figures for figures, _ in found[1 : count + 1]]


def figures(given: Coverage, chosen: Iterable[str], costs: Mapping[str, int] | None,
            with_care: bool = False) -> tuple[int, int, int]:
    """What sets are compared by."""
    chosen = set(chosen)
    return (len(chosen) if costs is None else sum(costs[name] for name in chosen), len(chosen),
            -sum(of.pieces for number, of in enumerate(given.needs) if covered(given, number, chosen, with_care)))


def covered(given: Coverage, number: int, chosen: Iterable[str], with_care: bool = False) -> bool:
    """Whether some model of a set covers a class."""
    chosen = set(chosen)
    return any(given.covers(number, at, with_care=with_care) for at, model in enumerate(given.models) if model.model in chosen)


def try_all(given: Coverage, *, costs: Mapping[str, int] | None = None, with_care: bool = False, permille: int = 1000,
            keep: Iterable[str] = (), without: Iterable[str] = ()) -> Tried:
    """Brute force over every set of permitted models that contains the kept ones."""
    names, keep = sorted({model.model for model in given.models} - set(without)), set(keep)
    coverable = [number for number in range(len(given.needs)) if covered(given, number, names, with_care)]
    total = sum(of.pieces for of in given.needs)
    target = min(-(-total * permille // 1000), sum(given.needs[number].pieces for number in coverable))
    must = [number for number in coverable if permille == 1000 or given.needs[number].vital]
    found = []
    for size in range(len(names) + 1):
        for some in combinations(names, size):
            chosen = frozenset(some)
            got = figures(given, chosen, costs, with_care)
            if keep <= chosen and -got[2] >= target and all(covered(given, number, chosen, with_care) for number in must):
                found.append((got, chosen))
    return Tried(sets=tuple(sorted(found, key=lambda one: (one[0], sorted(one[1])))))
