"""The pack's page as a file: what it may load, what stands in it, and that its tables are the schema's."""

from __future__ import annotations

import json
import re
from base64 import b64decode, b64encode
from dataclasses import fields, replace
from hashlib import sha256
from html.parser import HTMLParser
from importlib.resources import files
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vault.domain.record import Record
from vault.domain.schema import specs
from vault.exchange.pack_page import SCRIPTS, PageInput, pack_page
from vault.exchange.page_fields import page_fields
from vault.trust.statements import BODY, MAY_SIGN

HOSTILE = "</script><img src=x onerror=alert(1)><!-- @@script@@ & \u2028"
PAGE = PageInput(site="Test Baths", host="lx.example.eu", log_id=bytes(16), made_on="2030-03-17",
                 authority_fingerprint="0000 1111", checkpoint_note="lx.example.eu/00\n1\n…\n\n— lx.example.eu/00 AAAA\n",
                 statements=(b"\x84one", b"\x84two"), retention=("This pack: for life",),
                 cautions=("1 luminaire is PROVISIONAL.",), judged={"28T5CY4G7": ("window",)})


class Elements(HTMLParser):
    """Every element with its attributes, and the text inside the last of each name and id."""

    def __init__(self, page: bytes) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.texts: dict[str, str] = {}
        self.feed(page.decode())

    def handle_endtag(self, tag: str) -> None:
        self.found.append((f"/{tag}", {}))

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        tag, attributes = self.found[-1] if self.found else ("", {})
        name = attributes.get("id") or tag
        self.texts[name] = self.texts.get(name, "") + data


def hash_of(text: str) -> str:
    """As a Content-Security-Policy names an inline script (CSP Level 3, section 6.7.3.3)."""
    return f"'sha256-{b64encode(sha256(text.encode()).digest()).decode()}'"


def test_the_policy_allows_the_pages_own_script_and_style_alone() -> None:
    """default-src 'none', and exactly the bytes that stand in the page by their hashes."""
    page = Elements(pack_page(PAGE))
    policy = next(a["content"] for tag, a in page.found if tag == "meta" and a.get("http-equiv") == "Content-Security-Policy")
    script, style = hash_of(page.texts["script"]), hash_of(page.texts["style"])
    assert policy == (f"default-src 'none'; script-src {script}; style-src {style}; "
                      "base-uri 'none'; form-action 'none'")


def test_nothing_is_loaded_from_anywhere() -> None:
    """No element names a source or a target, no script fetches, no style imports, nothing runs from an attribute."""
    page = pack_page(PAGE)
    named = {name for _, attributes in Elements(page).found for name in attributes}
    assert not named & {"src", "href", "srcset", "action", "data", "style", "background", "ping"}
    assert not {name for name in named if name.startswith("on")}
    ways = r"https?://|fetch\(|XMLHttpRequest|WebSocket|sendBeacon|EventSource|import\(|@import|url\("
    assert re.findall(ways, page.decode()) == []


@pytest.mark.parametrize("way", ["innerHTML", "outerHTML", "insertAdjacentHTML", "document.write", "eval(", "new Function",
                                 "DOMParser", "createContextualFragment", "setHTML", ".srcdoc", "</script", "<!--"])
def test_no_text_can_become_html(way: str) -> None:
    """The scripts know no way to make HTML of a text, and cannot be closed from within."""
    assert way not in "".join((files("vault.exchange") / name).read_text(encoding="utf-8") for name in SCRIPTS)


@pytest.mark.parametrize("field", ["site", "host", "made_on", "authority_fingerprint", "checkpoint_note", "retention",
                                   "cautions"])
def test_hostile_texts_open_and_close_nothing(field: str) -> None:
    """Whatever stands in any text, the page has the elements that it has without it, and gives the text back."""
    value: Any = (HOSTILE,) if field in ("retention", "cautions") else HOSTILE
    page, plain = Elements(pack_page(replace(PAGE, **{field: value}))), Elements(pack_page(PAGE))
    assert [tag for tag, _ in page.found] == [tag for tag, _ in plain.found]
    assert HOSTILE in json.dumps(json.loads(page.texts["given"]), ensure_ascii=False)


@settings(max_examples=20)
@given(statements=st.lists(st.binary(min_size=1, max_size=400), min_size=1, max_size=5))
def test_statements_come_back_as_they_were(statements: list[bytes]) -> None:
    """One line of base64 each, in order: readable without the page's own script."""
    lines = Elements(pack_page(replace(PAGE, statements=statements))).texts["statements"].split("\n")
    assert [b64decode(line, validate=True) for line in lines] == statements


def test_the_same_pack_gives_the_same_page() -> None:
    """Nothing of the day or of chance is in it."""
    assert pack_page(PAGE) == pack_page(replace(PAGE))


@pytest.mark.parametrize("body", BODY.values(), ids=lambda body: body.__name__)
def test_the_field_table_holds_every_field(body: type[Any]) -> None:
    """Keys, names, ranges and units of every body are those that statements are written by."""
    told = page_fields()["classes"][body.__name__]
    assert told["form"] == body.FORM
    assert [(f["key"], f["name"], f["shape"], f.get("least", 0), f["most"], f.get("unit", "")) for f in told["fields"]] == \
        [(spec.key, name, spec.shape, spec.least, spec.most, spec.unit) for name, spec in specs(body)]


def test_every_part_is_in_the_table() -> None:
    """What a field says that it is made of has a table too, with each dataclass field of it."""
    classes = page_fields()["classes"]
    parts = {field["kind"] for told in classes.values() for field in told["fields"] if "kind" in field}
    assert parts <= classes.keys()
    assert [field["name"] for field in classes["Record"]["fields"]] == [field.name for field in fields(Record)]


def test_kinds_and_roles_are_those_of_the_format() -> None:
    """Who may sign what."""
    told = page_fields()
    assert {(kind, role) for kind, one in told["kinds"].items() for role in one["roles"]} == \
        {(int(kind), int(role)) for role, kinds in MAY_SIGN.items() for kind in kinds}
    assert told["kinds"].keys() == {int(kind) for kind in BODY}


def test_a_record_takes_four_thirds_of_its_bytes() -> None:
    """10,000 records of 300 bytes add 4 MB: base64 and a line end, nothing else."""
    small, large = pack_page(PAGE), pack_page(replace(PAGE, statements=(*PAGE.statements, *([bytes(300)] * 10_000))))
    assert len(large) - len(small) == 10_000 * 401
