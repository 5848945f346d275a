"""The pack's settings by fixture type: what all its drivers have in common, and in what they differ."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator

from vault.actions.pack_gather import AsBuilt, BuiltGear, natural, without_address
from vault.domain.fields import fields_of
from vault.domain.rating import Rating
from vault.domain.schema import words
from vault.domain.settings import Settings
from vault.domain.wording import setting_words
from vault.exchange.pack_paper import PaperSection, PaperTable

_NAMED = 8  # references named behind a value that few have
NOT_RECORDED = "not recorded"


def by_type(built: AsBuilt) -> PaperSection:
    """One part for each fixture type."""
    of_type: dict[str, list[BuiltGear]] = defaultdict(list)
    for one in built.gears:
        of_type[one.record.fixture_type.code].append(one)
    return PaperSection(
        key="types", title="Settings by fixture type",
        paragraphs=("What the drivers of a type have in common, and in what they differ. Addresses, groups and scenes stand in "
                    "the sections before.",),
        parts=tuple(_type(code, of_type[code]) for code in sorted(of_type, key=natural)))


def _type(code: str, gears: list[BuiltGear]) -> PaperSection:
    rating: Rating = gears[0].seen.current_rating
    many = len({one.seen.tag for one in gears})
    revisions = sorted({one.record.fixture_type.revision for one in gears})
    said = (f"{many} {'luminaire' if many == 1 else 'luminaires'}, signed against revision "
            f"{' and '.join(map(str, revisions))} of the type's rating; the newest is revision {rating.revision}.")
    duties = sorted({one.gear.duty for one in gears})
    return PaperSection(
        key=f"type-{code}", title=f"Type {code}: {rating.title}", paragraphs=(said,),
        tables=tuple(_table([one for one in gears if one.gear.duty is duty]) for duty in duties))


def _table(gears: list[BuiltGear]) -> PaperTable:
    """Setting, value, drivers, and by reference those of a value that is not the most frequent."""
    holders: dict[str, dict[str, list[BuiltGear]]] = defaultdict(lambda: defaultdict(list))
    worded: dict[Settings, list[tuple[str, str]]] = {}
    for one in gears:
        bare = without_address(one.gear.settings)
        if bare not in worded:
            worded[bare] = list(_said(bare))
        holders["driver model"][one.gear.model or NOT_RECORDED].append(one)
        for label, value in worded[bare]:
            holders[label][value].append(one)
    rows: list[tuple[str, ...]] = []
    for label, values in holders.items():
        missing = len(gears) - sum(map(len, values.values()))
        ranked = sorted(values.items(), key=lambda pair: (-len(pair[1]), natural(pair[0])))
        for number, (value, some) in enumerate(ranked):
            shared = "all" if len(some) == len(gears) else f"{len(some)} of {len(gears)}"
            rows.append(("" if number else label, value, shared, "" if not number else named(some)))
        if missing:
            rows.append(("", NOT_RECORDED, f"{missing} of {len(gears)}", ""))
    duty = words(gears[0].gear.duty).replace("-", " ").capitalize()
    return PaperTable(headings=(f"{duty} gear", "Value", "Drivers", "Differing: reference or tag"),
                      widths=(130, 190, 50, 160), rows=rows)


def _said(settings: Settings) -> Iterator[tuple[str, str]]:
    for field, (label, value) in zip(fields_of(settings), setting_words(settings, None), strict=True):
        yield f"extra {field.name}" if field.spec.shape == "names" else label.lower(), value


def named(some: Iterable[BuiltGear]) -> str:
    """References (else tags) of the first few, and how many more there are."""
    names = list(dict.fromkeys(one.reference or one.tag for one in some))
    more = f" and {len(names) - _NAMED} more" if len(names) > _NAMED else ""
    return f"{', '.join(sorted(names, key=natural)[:_NAMED])}{more}"
