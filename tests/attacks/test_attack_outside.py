"""Attacks from outside the vault: labels, printers, texts that are shown. Rows of the table in DEVELOPERS.md."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, HTTPServer
from typing import Any, ClassVar

import pytest
from attackers import STRANGER, packed
from click.testing import CliRunner
from small_vault import HOST, SmallVault, write_rows

from labels.errors import LabelError
from labels.ipp import printer_uri
from labels.printer import printer_facts
from vault.actions.keeping import signer_list
from vault.actions.labels_life import sight_label
from vault.actions.scanning import scan
from vault.cli.main import main
from vault.cli.shell import visible
from vault.trust import cose
from vault.trust.capsule import capsule_text, link


def _problem(small: SmallVault, text: str, *, offline: bool) -> str | None:
    trust = signer_list(small.open())
    found = scan([], text=text, vault=None if offline else small.open(), trust_text=trust if offline else None)[0]
    return found.problem[0] if found.problem else None


@pytest.mark.parametrize("offline", [False, True])
def test_one_labels_settings_under_anothers_tag(small: SmallVault, offline: bool) -> None:
    """The link of one label and the capsule of another (mix and match): the tag is part of what was signed."""
    mixed = capsule_text(link(HOST, small.tags["CV-001"]), small.seen("CH-007").statement.signed_bytes)
    assert _problem(small, mixed, offline=offline) == "bad-tag"


@pytest.mark.parametrize("offline", [False, True])
def test_a_label_of_a_strangers_making(small: SmallVault, offline: bool) -> None:
    """A whole label signed by a key that nobody granted: no figure is shown."""
    payload = cose.open_envelope(small.seen("CH-007").statement.signed_bytes).payload
    forged = capsule_text(link(HOST, small.tags["CH-007"]), packed(small, payload, STRANGER))
    assert _problem(small, forged, offline=offline) in ("unknown-signer", "not-in-vault")


def test_two_labels_exchanged_between_housings(small: SmallVault) -> None:
    """Both labels are good; the place on each says where it belongs, and whoever signs what they saw leaves a finding."""
    good = scan([], text=small.label_text("CH-007"), vault=small.open(), trust_text=None)[0]
    assert good.problem is None and good.record is not None and good.record.place
    sight_label(small.desk("T01"), small.tags["CH-007"], "Another room", None)
    assert "label-housing" in {finding.rule for finding in small.seen("CH-007").findings}


def test_an_old_list_of_signers_says_how_old_it_is(small: SmallVault) -> None:
    """Frozen or old lists are not refused, for there may be no network; the answer says as of when it holds."""
    found = scan([], text=small.label_text("CH-007"), vault=None, trust_text=signer_list(small.open()))[0]
    assert found.as_of is not None and found.newest is None


@pytest.mark.parametrize("uri", [
    "http://169.254.169.254/latest/meta-data", "file:///etc/passwd", "ftp://printer/x", "ipp:///print", "ipp://", "printer",
    "gopher://printer/1", "ipp://[::1", "ipp://printer:99999/x", "\nipp://printer/x",
])
def test_a_printers_address_that_is_none(uri: str) -> None:
    """Only ipp and ipps are spoken, to the host that the person named."""
    with pytest.raises(LabelError) as problem:
        printer_uri(uri)
    assert problem.value.kind == "bad-printer"


class _Elsewhere(BaseHTTPRequestHandler):
    asked: ClassVar[list[str]] = []
    target = ""

    def do_POST(self) -> None:
        """Answer every question by pointing elsewhere."""
        self.asked.append(self.path)
        self.rfile.read(int(self.headers.get("Content-Length", 0)))
        self.send_response(307)
        self.send_header("Location", self.target)
        self.send_header("Content-Length", "0")
        self.end_headers()

    def log_message(self, *_arguments: Any) -> None:
        """Say nothing."""


@pytest.fixture
def two_servers() -> Iterator[tuple[HTTPServer, HTTPServer]]:
    """A printer that points elsewhere, and the server elsewhere that must not be asked."""
    elsewhere, printer = (HTTPServer(("127.0.0.1", 0), type("Handler", (_Elsewhere,), {"asked": []})) for _ in range(2))
    printer.RequestHandlerClass.target = f"http://127.0.0.1:{elsewhere.server_port}/inside"  # type: ignore[attr-defined]
    for server in (elsewhere, printer):
        threading.Thread(target=server.serve_forever, daemon=True).start()
    yield printer, elsewhere
    for server in (elsewhere, printer):
        server.shutdown()
        server.server_close()


def test_a_printer_that_points_elsewhere(two_servers: tuple[HTTPServer, HTTPServer]) -> None:
    """A redirect is not followed: no printer makes this computer ask another door of the network."""
    printer, elsewhere = two_servers
    with pytest.raises(LabelError) as problem:
        printer_facts(f"ipp://127.0.0.1:{printer.server_port}/ipp/print")
    assert problem.value.kind == "printer-refused" and "inside" in problem.value.what
    assert printer.RequestHandlerClass.asked and not elsewhere.RequestHandlerClass.asked  # type: ignore[attr-defined]


@pytest.mark.parametrize(("cell", "word"), [
    ("\x1b[31mred", "place"), ("a\x00b", "zero bytes"), ("two\rlines", "place"), ("\u202egnp.exe", "place"),
    ("x\u200by", "place"), ("bell\x07", "place")])
def test_a_schedule_that_steers_a_terminal(small: SmallVault, cell: str, word: str) -> None:
    """Escapes, line ends, marks that turn the writing: not signed as a place, and never shown as they are."""
    heading = "reference,type,place,control,current_ma,voltage_min_v,voltage_max_v,power_w"
    path = write_rows(small.folder / "evil.csv", [f'X-1,T1,"{cell}",none,700,30,44,31'], heading)
    small.close()
    done = CliRunner().invoke(main, ["--vault", str(small.path), "handover", str(path), "--preview"])
    assert done.exit_code == 1 and cell not in done.output and word in done.output


@pytest.mark.parametrize("text", ["\x1b]0;title\x07", "\u202eabc", "\u2066x", "\ufeff", "a\u200bb", "\x9b31m"])
def test_what_is_shown_is_seen(text: str) -> None:
    """Every character that would steer a terminal or hide is spelled out; lines, tabs and letters of any language stay."""
    assert visible(text).isprintable()
    assert visible("Größe\tпривет\n") == "Größe\tпривет\n"
