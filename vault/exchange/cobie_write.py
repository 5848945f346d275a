"""A vault's luminaires as a COBie 2.4 workbook. No person is named: whoever made a row stands as a role's code at the host."""

from __future__ import annotations

import datetime
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from vault.domain.rating import Rating
from vault.exchange.cobie_layout import COLUMNS, SYSTEM
from vault.exchange.cobie_places import CIRCUIT, LINE, NO_FLOOR
from vault.exchange.cobie_settings import Attribute, rating_attributes
from vault.exchange.table_out import Sheet

MOST_NAMES = 200  # components that one row of the sheet System lists; a system may have several rows


@dataclass(frozen=True, slots=True, kw_only=True)
class CobieLuminaire:
    """One luminaire. reference, line, circuit, serial: "" for none. link: as on its label. signer: a code, no name."""

    tag: str
    link: str
    reference: str
    type_code: str
    place: str
    line: str
    circuit: str
    serial: str
    signer: str
    time_s: int
    digest: str
    attributes: tuple[Attribute, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CobieSpare:
    """A driver model in stock, for one type. where: "12 in Store A, bin 4"."""

    model: str
    title: str
    type_code: str
    pieces: int
    where: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CobieSite:
    """What a workbook is made of. host: the vault's. log_id: in hexadecimal. by: the code that rows of the vault's own bear."""

    site: str
    host: str
    log_id: str
    time_s: int
    by: str
    luminaires: Sequence[CobieLuminaire]
    types: Sequence[Rating]
    spares: Sequence[CobieSpare]
    roles: Mapping[str, str]


def cobie_sheets(site: CobieSite) -> list[Sheet]:
    """The workbook's sheets, all of COBie's that say something of luminaires, columns as in `COLUMNS`."""
    book = _Book(site)
    return [Sheet(name=sheet, rows=[columns, *(tuple(row.get(column, "n/a") or "n/a" for column in columns)
                                               for row in book.rows(sheet))])
            for sheet, columns in COLUMNS.items()]


class _Book:
    """The rows of each sheet, and the names by which they refer to one another."""

    def __init__(self, site: CobieSite) -> None:
        self._site = site
        counted = Counter(one.reference for one in site.luminaires)
        # A component's name has to be its own in the whole workbook.
        self._names = {one.tag: one.reference if one.reference and counted[one.reference] == 1 else one.tag
                       for one in site.luminaires}
        self._floors = {one.place: _floor(one.place) for one in site.luminaires}

    def rows(self, sheet: str) -> Iterable[Mapping[str, str]]:
        maker = getattr(self, f"_{sheet.lower()}", None)
        return maker() if maker is not None else ()

    def _made(self, name: str, *, by: str = "", time_s: int | None = None, what: str, identifier: str) -> dict[str, str]:
        site = self._site
        when = datetime.datetime.fromtimestamp(site.time_s if time_s is None else time_s, datetime.UTC)
        return {"Name": name, "CreatedBy": self._email(by or site.by), "CreatedOn": when.strftime("%Y-%m-%dT%H:%M:%S"),
                "ExtSystem": SYSTEM, "ExtObject": what, "ExtIdentifier": identifier}

    def _email(self, code: str) -> str:
        return f"{code}@{self._site.host.partition('/')[0].lower()}"

    def _contact(self) -> Iterator[dict[str, str]]:
        for code in dict.fromkeys([self._site.by, *(one.signer for one in self._site.luminaires)]):
            made = self._made("", by=self._site.by, what="Signer", identifier=code)
            yield {"Email": self._email(code), "CreatedBy": made["CreatedBy"], "CreatedOn": made["CreatedOn"],
                   "Category": self._site.roles.get(code, "vault"), "Company": self._site.site, "ExternalSystem": SYSTEM,
                   "ExternalObject": "Signer", "ExternalIdentifier": code}

    def _facility(self) -> Iterator[dict[str, str]]:
        site = self._site
        made = self._made(site.site, what="Vault", identifier=site.log_id)
        yield made | {"ProjectName": site.site, "SiteName": site.site, "LinearUnits": "millimetres", "AreaUnits": "square metres",
                      "VolumeUnits": "cubic metres", "ExternalSystem": SYSTEM, "ExternalFacilityObject": "Vault",
                      "ExternalFacilityIdentifier": site.log_id, "Description": f"{len(site.luminaires)} luminaires",
                      "Phase": "As built"}

    def _floor(self) -> Iterator[dict[str, str]]:
        for floor in dict.fromkeys(self._floors.values()):
            yield self._made(floor, what="Place", identifier=floor) | {"Category": "Floor"}

    def _space(self) -> Iterator[dict[str, str]]:
        for place, floor in self._floors.items():
            yield self._made(place, what="Place", identifier=place) | {"FloorName": floor, "Description": place}

    def _type(self) -> Iterator[dict[str, str]]:
        for rating in self._site.types:
            yield self._made(rating.code, what="Rating", identifier=f"{rating.code} revision {rating.revision}") | {
                "Category": "Luminaire", "Description": rating.title, "AssetType": "Fixed", "ModelNumber": rating.code,
                "ModelReference": f"revision {rating.revision}", "Features": rating.note or "",
                "CodePerformance": f"IP {rating.ip}" if rating.ip and not rating.ip.startswith("IP") else rating.ip or ""}

    def _component(self) -> Iterator[dict[str, str]]:
        for one in self._site.luminaires:
            made = self._made(self._names[one.tag], by=one.signer, time_s=one.time_s, what="Record", identifier=one.digest)
            yield made | {"TypeName": one.type_code, "Space": one.place, "Description": f"Luminaire {one.tag}",
                          "SerialNumber": one.serial, "TagNumber": one.reference, "BarCode": one.tag, "AssetIdentifier": one.link}

    def _system(self) -> Iterator[dict[str, str]]:
        for category, field in ((LINE, "line"), (CIRCUIT, "circuit")):
            held: dict[str, list[str]] = defaultdict(list)
            for one in self._site.luminaires:
                if getattr(one, field):
                    held[getattr(one, field)].append(self._names[one.tag])
            for name, components in held.items():
                for start in range(0, len(components), MOST_NAMES):
                    yield self._made(name, what=category, identifier=name) | {
                        "Category": category, "ComponentNames": ",".join(components[start : start + MOST_NAMES])}

    def _spare(self) -> Iterator[dict[str, str]]:
        for one in self._site.spares:
            yield self._made(f"{one.model} for {one.type_code}", what="Stock", identifier=one.model) | {
                "Category": "Driver", "TypeName": one.type_code, "Description": f"{one.title}; {one.pieces} pieces: {one.where}",
                "SetNumber": one.where, "PartNumber": one.model}

    def _attribute(self) -> Iterator[dict[str, str]]:
        site = self._site
        for rating in site.types:
            for said in rating_attributes(rating):
                yield self._said(said, "Type", rating.code, site.by, site.time_s, f"{rating.code} revision {rating.revision}")
        for one in site.luminaires:
            for said in one.attributes:
                yield self._said(said, "Component", self._names[one.tag], one.signer, one.time_s, one.digest)

    def _said(self, said: Attribute, sheet: str, row: str, by: str, time_s: int, identifier: str) -> dict[str, str]:
        made = self._made(said.name, by=by, time_s=time_s, what="Record" if sheet == "Component" else "Rating",
                          identifier=identifier)
        return made | {"Category": said.category, "SheetName": sheet, "RowName": row, "Value": said.value, "Unit": said.unit}


def _floor(place: str) -> str:
    """The part of a place before its first comma; none where it has no comma."""
    floor, comma, _ = place.partition(", ")
    return floor if comma and floor else NO_FLOOR
