"""The table of rules and the sheet."""

from __future__ import annotations

import re

import pytest

from vault.domain.findings import Severity
from vault.domain.rules import RULES, Rule, Sheet
from vault.domain.units import mm


@pytest.mark.parametrize("rule", RULES.values(), ids=lambda rule: rule.name)
def test_every_rule_has_name_title_and_source(rule: Rule) -> None:
    """A kebab-case name, a title, and a source: a standard, the rating, the local rule or common practice."""
    assert re.fullmatch(r"[a-z]+(-[a-z]+)*", rule.name) and rule.title
    assert re.search(r"\bIEC \d|DIN |rating|common practice", rule.source)


@pytest.mark.parametrize(("name", "broken", "missing"), [
    ("isolation", Severity.STOP, Severity.UNKNOWN), ("inrush", Severity.CARE, Severity.CARE)])
def test_severity_comes_from_the_table(name: str, broken: Severity, missing: Severity) -> None:
    """A rule that protects stops or cannot tell; a rule against nuisance asks for care both ways."""
    sheet = Sheet()
    sheet.ask(name).at_most(300, 280, mm, "the length", "the room")
    sheet.ask(name).missing("The room")
    assert [finding.severity for finding in sheet.findings] == [broken, missing]


def test_a_comparison_says_both_figures_and_the_margin() -> None:
    """Figures stand in the unit of the finding; 20 of 200 is 10 % outside."""
    sheet = Sheet()
    sheet.ask("size", "general gear").at_most(220, 200, mm, "the length", "the room")
    (finding,) = sheet.findings
    assert (finding.found, finding.allowed, finding.unit, finding.margin_percent) == ("220", "at most 200", "mm", -10.0)
    assert finding.says == "The length is 220 mm, but the room is 200 mm."


def test_a_sheet_remembers_what_was_asked() -> None:
    """Rules stand once, in the order they were asked; an unknown name is a mistake in the code."""
    sheet = Sheet()
    sheet.ask("size")
    sheet.ask("inrush")
    sheet.ask("size")
    assert sheet.checked == ("size", "inrush")
    with pytest.raises(KeyError):
        sheet.ask("no-such-rule")
