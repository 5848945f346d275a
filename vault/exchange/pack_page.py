"""The pack's page: one HTML file that finds and verifies every record in a browser, without a network and without gearkeep."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from hashlib import sha256
from html import escape
from importlib.resources import files
from json import dumps

from vault.exchange.page_fields import page_fields

# Joined in this order; each is one idea: reading and verifying, the journal's rules, words for people, the screen.
SCRIPTS = tuple(f"pack_page_{name}.js" for name in ("bytes", "payloads", "history", "walk", "words", "screen"))


@dataclass(frozen=True, slots=True, kw_only=True)
class PageInput:
    """What the page holds. statements: the signed bytes of the whole main log in order, the genesis first.

    authority_fingerprint: as it stands on paper. checkpoint_note: the C2SP note over exactly these statements.
    made_on: a day in ISO 8601. retention, cautions: sentences, shown as they are. judged: tag of nine characters -> names of
    the stops that were open when the pack was made, found by the rules that the page does not have; told as unsigned.
    """

    site: str
    host: str
    log_id: bytes
    made_on: str
    authority_fingerprint: str
    checkpoint_note: str
    statements: Sequence[bytes]
    retention: Sequence[str]
    cautions: Sequence[str] = ()
    judged: Mapping[str, Sequence[str]] = field(default_factory=dict)


def _beside(name: str) -> str:
    return (files("vault.exchange") / name).read_text(encoding="utf-8")


def _data(value: object) -> str:
    """JSON that no HTML reader can take for anything else: every < > and & in it is spelled out."""
    text = dumps(value, ensure_ascii=True, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def _allowed(text: str) -> str:
    return f"'sha256-{b64encode(sha256(text.encode()).digest()).decode()}'"


def pack_page(page: PageInput) -> bytes:
    """The page in UTF-8. It loads nothing: its policy allows its own script and style by their hashes and nothing else."""
    style, script = _beside("pack_page.css"), "\n".join(_beside(name) for name in SCRIPTS)
    given = {"site": page.site, "host": page.host, "log_id": page.log_id.hex(), "made_on": page.made_on,
             "fingerprint": page.authority_fingerprint, "note": page.checkpoint_note, "retention": list(page.retention),
             "cautions": list(page.cautions),
             "judged": {tag: list(names) for tag, names in page.judged.items()}}
    # base64 has no character that HTML or a line-wise reader could mistake; a line each keeps the file readable.
    statements = "\n".join(b64encode(signed).decode() for signed in page.statements)
    pieces = {
        "policy": f"default-src 'none'; script-src {_allowed(script)}; style-src {_allowed(style)}; base-uri 'none'; "
                  "form-action 'none'",
        "site": escape(page.site), "style": style, "script": script, "given": _data(given), "fields": _data(page_fields()),
        "statements": statements}
    # Split at the marks of the template itself, so that nothing inside a piece is ever taken for a mark.
    out = []
    for number, part in enumerate(_beside("pack_page.html").split("@@")):
        out.append(pieces[part] if number % 2 else part)
    return "".join(out).encode()
