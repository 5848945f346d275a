"""Columns of words: control, curve, duty, whether the type is of class I, II or III, degree of protection."""

from __future__ import annotations

import re
from collections.abc import Mapping
from enum import IntEnum

from vault.domain.rating import ProtectionClass
from vault.domain.schema import from_words, words
from vault.domain.settings import Curve, Duty, Protocol
from vault.exchange.cell_reading import ColumnFacts, Said
from vault.exchange.values_number import joined
from vault.exchange.values_parts import AS_IT_STANDS, NOT_TAKEN, Option, alternatives, decided, refuse

# Common practice, no source.
_PROTOCOLS: Mapping[str, Protocol] = {
    **dict.fromkeys(alternatives(
        "1-10v|1-10|1-10 v|1..10v|1...10v|1...10 v|1/10v|1/10 v|1-10vdc|1-10 vdc|analog 1-10v|analogue 1-10v|1 a 10 v|"
        "analogue|analog|analogique|analogico|analógico"), Protocol.ANALOGUE_1_10V),
    **dict.fromkeys(alternatives(
        "phase|phase cut|phase-cut|mains dimming|trailing edge|leading edge|trailing|leading|phasenabschnitt|"
        "phasenanschnitt|phasendimmer|phasenabschnittsdimmung|triac|coupure de phase|début de phase|fin de phase|"
        "taglio di fase|corte de fase|faseafsnijding|faseaansnijding|fase|rc"), Protocol.PHASE_CUT),
    **dict.fromkeys(alternatives(
        "sw|switch|switched|switching|on/off|on-off|onoff|geschaltet|schaltbar|schalten|ein/aus|tout ou rien|tor|t.o.r|"
        "marche/arrêt|commuté|acceso/spento|encendido/apagado|aan/uit|geschakeld|schakelen"), Protocol.SWITCH),
    **dict.fromkeys(alternatives(
        "none|no control|fixed|fixed output|ff|fo|non-dim|non-dimmable|non dimmable|no dim|nicht dimmbar|non dimmable|"
        "fixe|non graduable|non gradable|non dimmerabile|no regulable|niet dimbaar|ohne|keine"), Protocol.NONE),
}
_DALI = re.compile(r"(?:digital )?dali(?:[ -]?2|[ -]?ii|\+)?(?:[ ,/-]*(?:dt|type|typ) ?(?P<type>[0-9]{1,2}))?|"
                   r"dt ?(?P<alone>[0-9]{1,2})|(?:digital )?dali(?:[ -]?2)? ?\((?:dt ?(?P<within>[0-9]{1,2}))\)", re.IGNORECASE)
_CURVES: Mapping[str, Curve] = {
    **dict.fromkeys(alternatives("lin|linear|linéaire|lineare|lineal|lineair"), Curve.LINEAR),
    **dict.fromkeys(alternatives(
        "log|logarithmic|logarithmisch|logarithmique|logaritmica|logarítmica|logaritmisch|dali|standard"),
                    Curve.LOGARITHMIC)}
_DUTIES: Mapping[str, Duty] = {
    **dict.fromkeys(alternatives(
        "general|normal|main|mains|allgemein|ab|av|allgemeinbeleuchtung|principal|général|generale|algemeen"), Duty.GENERAL),
    **dict.fromkeys(alternatives(
        "em converter|emergency converter|converter|inverter|notlichtgerät|notlichtelement|notlichtbaustein|"
        "bloc secours|kit emergenza|kit de emergencia|noodunit|emergency"), Duty.EMERGENCY_CONVERTER)}
_PUSH = re.compile(r"(?:push|touch|taster|tast|bp|poussoir|switch|pulsante|pulsador)[ -]?(?:dim|dali|dimm)?", re.IGNORECASE)
_CLASS = re.compile(r"(?:protection class|schutzklasse|schutzkl|classe|clase|klasse|class|skl|sk|kl|cl|pc)?\.?[ -]?"
                    r"(iii|ii|i|3|2|1|Ⅰ|Ⅱ|Ⅲ)", re.IGNORECASE)
_CLASSES = {"i": 1, "ii": 2, "iii": 3, "Ⅰ": 1, "Ⅱ": 2, "Ⅲ": 3, "ⅰ": 1, "ⅱ": 2, "ⅲ": 3}
# IEC 60417: 5019 protective earth, 5172 class II, 5180 class III; the letters that lists put in their stead.
_CLASS_SIGNS = {"⧈": 2, "回": 2, "▣": 2, "⏚": 1, "⊕": 1, "⟐": 3, "◈": 3}
_IP = re.compile(r"(?:ip)? ?([0-6x][0-9x]k?)", re.IGNORECASE)
_IK = re.compile(r"[ ,;/-]*ik ?[0-9]{1,2}", re.IGNORECASE)


def _plain(plain: str) -> str:
    return plain.casefold().rstrip(".").strip()


def _said(facts: ColumnFacts, plain: str, member: IntEnum, more: str = "") -> Said:
    said = words(member)
    return Said(values={facts.field: said}, rule=AS_IT_STANDS if said == plain else joined(f"{plain} is {said}", more))


def read_control(plain: str, facts: ColumnFacts) -> Said:
    """{control: "dali"}. Raises Ask."""
    found = _PROTOCOLS[_plain(plain)] if _plain(plain) in _PROTOCOLS else from_words(Protocol, plain)
    if found is not None:
        return _said(facts, plain, found)
    dali = _DALI.fullmatch(plain)
    if dali:
        device = dali["type"] or dali["alone"] or dali["within"]
        return _said(facts, plain, Protocol.DALI, f"device type {int(device)} is a matter of the rating" if device else "")
    if _PUSH.fullmatch(plain):
        options = [Option(word=words(one), says=f"the driver is controlled by {words(one)}", values={facts.field: words(one)})
                   for one in (Protocol.SWITCH, Protocol.DALI, Protocol.NONE)]
        return decided(facts, plain, f"How is a driver controlled that is called {plain}?", [*options, NOT_TAKEN])
    raise refuse(f"{plain!r} is no control that is known", ", ".join(map(words, Protocol)))


def read_curve(plain: str, facts: ColumnFacts) -> Said:
    """{curve: "linear"}. Raises Ask."""
    if _plain(plain) == "not set":
        return Said(values={facts.field: "not set"}, rule=AS_IT_STANDS)
    found = _CURVES.get(_plain(plain))
    if found is None:
        raise refuse(f"{plain!r} is no dimming curve", "logarithmic or linear")
    return _said(facts, plain, found)


def read_gear(plain: str, facts: ColumnFacts) -> Said:
    """{gear: "general"}. Raises Ask."""
    found = _DUTIES[_plain(plain)] if _plain(plain) in _DUTIES else from_words(Duty, plain)
    if found is None:
        raise refuse(f"{plain!r} is no duty of a gear", ", ".join(map(words, Duty)))
    return _said(facts, plain, found)


def read_protection_class(plain: str, facts: ColumnFacts) -> Said:
    """{protection_class: "class-ii"}. Raises Ask."""
    found = _CLASS.fullmatch(plain)
    number = _CLASS_SIGNS.get(plain.strip("◇ ")[:1]) if found is None and len(plain) <= 3 else None
    if found:
        number = _CLASSES.get(found[1].casefold()) or int(found[1])
    known = from_words(ProtectionClass, plain)
    if known is None and number is None:
        raise refuse(f"{plain!r} is no protection class", "I, II or III")
    return _said(facts, plain, known or ProtectionClass(number or 0))


def read_ip(plain: str, facts: ColumnFacts) -> Said:
    """{ip: "IP20"}, or "IP20/44" where two stand. Raises Ask."""
    bare = _IK.sub("", plain).strip()
    codes = [_IP.fullmatch(text.strip()) for text in bare.split("/")]
    if not 1 <= len(codes) <= 2 or not all(codes):
        raise refuse(f"{plain!r} is no degree of protection", "IP20, or IP20/44 for two sides")
    said = "IP" + "/".join(code[1].upper() for code in codes if code)
    rule = joined(f"{plain} is {said}" if said != plain else "", "IK left out" if bare != plain else "",
                  "one for each side" if len(codes) == 2 else "")
    return Said(values={facts.field: said}, rule=rule or AS_IT_STANDS)
