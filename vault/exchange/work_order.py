"""A work order: what the paper says of one gear of one luminaire, for people who work without a screen."""

from __future__ import annotations

from dataclasses import dataclass

from vault.domain.pictures import Picture


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadbackField:
    """One field to read from the driver. says: what is asked, with its unit. expected: what the record says."""

    says: str
    expected: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderStep:
    """One step. detail: lines below it."""

    text: str
    detail: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SpareToFit:
    """The spare that goes in. verdict: "fits" or otherwise, in words. refused: it may not be fitted, so it has no steps.

    findings: sentences of the fit. stock: pieces and where they lie. class_hint: what the class of the change cannot be.
    """

    model: str
    title: str
    verdict: str
    refused: bool
    stock: str
    findings: tuple[str, ...]
    cannot_hold: tuple[str, ...]
    steps: tuple[OrderStep, ...]
    pictures: tuple[Picture, ...]
    class_hint: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """A spare that could go in, ranked: its verdict in words, the stock and where, the first reason against it."""

    model: str
    verdict: str
    stock: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkOrder:
    """All that stands on the pages of one gear, as plain texts.

    large: (label, value) of the settings that nobody may miss; settings: the rest. facts: who and where. banner: why the
    record does not count yet, None when it does. findings: sentences of what is wrong with the record. neighbours: what
    hangs beside it. spare: None when none was named; offers then say what could go in, and remarks what to look for.
    evidence: labels of currents and voltages that no bus can read. matrix: the code of link_text, True is black.
    """

    tag_shown: str
    version: int
    site: str
    gear: str
    place: str
    type_words: str
    link_text: str
    matrix: tuple[tuple[bool, ...], ...]
    facts: tuple[tuple[str, str], ...]
    banner: str | None
    findings: tuple[str, ...]
    large: tuple[tuple[str, str], ...]
    settings: tuple[tuple[str, str], ...]
    neighbours: tuple[str, ...]
    cautions: tuple[str, ...]
    spare: SpareToFit | None
    offers: tuple[Offer, ...]
    remarks: tuple[str, ...]
    readback: tuple[ReadbackField, ...]
    evidence: tuple[tuple[str, str], ...]
    retests: tuple[str, ...]
    checkpoint: str
