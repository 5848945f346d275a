"""The whole job once by outside tools alone: poppler, zxing-cpp, cbor2 and openssl follow FORMAT.md.

Nothing of the project's own code is imported here.
"""

from __future__ import annotations

import csv
import json
import sqlite3
import subprocess
from pathlib import Path
from typing import Any

import cbor2
import pytest
import zxingcpp
from PIL import Image

PASSPHRASE = "wet feet 4711"
MODEL_2 = zxingcpp.BarcodeFormats(zxingcpp.BarcodeFormat.QRCodeModel2)


def _first_page_codes(pdf: Path, folder: Path) -> list[str]:
    subprocess.run(["pdftoppm", "-r", "300", "-f", "1", "-l", "1", "-png", str(pdf), str(folder / "page")], check=True)
    page = Image.open(next(folder.glob("page-*.png"))).convert("L")
    return [code.text for code in zxingcpp.read_barcodes(page, formats=MODEL_2)]


@pytest.fixture(scope="module")
def label(demo: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """One label of the first sheet of the demo's PDF taken apart by the ten lines that FORMAT.md asks for."""
    texts = _first_page_codes(demo / "labels.pdf", tmp_path_factory.mktemp("pages"))
    link, digits = max(texts, key=len).split("#")
    texts = [text for text in texts if text.startswith(link)]
    number = int(digits)
    raw = number.to_bytes((number.bit_length() + 7) // 8, "big")
    version, signed = raw[0], raw[1:]
    protected, unprotected, payload, signature = cbor2.loads(signed)
    header, body = cbor2.loads(protected), cbor2.loads(payload)
    return {"texts": texts, "link": link, "version": version, "protected": protected, "unprotected": unprotected,
            "payload": payload, "signature": signature, "header": header, "body": body}


def _log_id(demo: Path) -> bytes:
    genesis = bytes.fromhex(json.loads((demo / "signers.json").read_text(encoding="utf-8"))["statements"][0][1])
    return bytes(cbor2.loads(cbor2.loads(genesis)[2])[1])


def test_openssl_verifies_the_printed_signature(demo: Path, label: dict[str, Any], tmp_path: Path) -> None:
    """openssl accepts the signature under the installer's key over the Sig_structure that FORMAT.md describes."""
    aad = cbor2.dumps([1, _log_id(demo)])
    (tmp_path / "signed").write_bytes(cbor2.dumps(["Signature1", label["protected"], aad, label["payload"]]))
    (tmp_path / "signature").write_bytes(label["signature"])
    subprocess.run(["openssl", "pkey", "-in", str(demo / "keys" / "I01.key"), "-passin", f"pass:{PASSPHRASE}", "-pubout",
                    "-out", str(tmp_path / "public.pem")], check=True)
    done = subprocess.run(["openssl", "pkeyutl", "-verify", "-pubin", "-inkey", str(tmp_path / "public.pem"), "-rawin",
                           "-in", str(tmp_path / "signed"), "-sigfile", str(tmp_path / "signature")],
                          capture_output=True, encoding="utf-8", check=False)
    assert "Signature Verified Successfully" in done.stdout and done.returncode == 0


def test_the_headers_are_those_of_the_format(label: dict[str, Any]) -> None:
    """Format version 1, algorithm -19, kind 8 (record), nothing unprotected, and two codes with one link."""
    assert (label["version"], label["header"][1], label["header"][-65537], label["unprotected"]) == (1, -19, 8, {})
    assert sorted(text.split("#")[0] for text in label["texts"]) == [label["link"]] * 2


def test_the_printed_settings_equal_the_schedules_row(demo: Path, label: dict[str, Any]) -> None:
    """Current, window, power, address and levels read from the label's bytes are those of the installer's row."""
    body = label["body"]
    with (demo / "schedule.csv").open(encoding="utf-8", newline="") as file:
        row = next(row for row in csv.DictReader(file) if row["reference"] == body[13])
    settings = body[14][0][3]
    channel, control = settings[2][0], settings[3]
    assert (body[10], body[11], body[12], body[4][0]) == (row["place"], row["line"], row["circuit"], row["type"])
    assert channel[:4] == [int(row["current_ma"]), round(float(row["voltage_min_v"]) * 1000),
                           round(float(row["voltage_max_v"]) * 1000), round(float(row["power_w"]) * 1000)]
    assert (control[2], control[7], control[8], control[9], control[10]) == tuple(
        int(row[name]) for name in ("address", "min_level", "max_level", "power_on_level", "system_failure_level"))


def test_the_demo_leaves_what_it_promises(demo: Path) -> None:
    """vault.db, labels.pdf, label.png, fit.svg, audit.json and key files lie there, and the passphrase was printed."""
    names = {path.name for path in demo.iterdir()}
    assert names >= {"vault.db", "labels.pdf", "label.png", "fit.svg", "audit.json", "keys"}
    assert PASSPHRASE in (demo / "story.txt").read_text(encoding="utf-8")


def test_the_demos_audit_is_clean(demo: Path) -> None:
    """The audit of the demo's vault names no problem and counts every statement of both journals."""
    audit = json.loads((demo / "audit.json").read_text(encoding="utf-8"))
    with sqlite3.connect(demo / "vault.db") as raw:
        entries = raw.execute("SELECT count(*) FROM journal").fetchone()[0]
    assert (audit["problems"], audit["statements"]) == ([], entries)


def test_the_demo_finds_every_deliberate_fault(demo: Path) -> None:
    """The eight faults of the schedule come back as rejected rows, and nothing else does."""
    with (demo / "rejected.csv").open(encoding="utf-8-sig", newline="") as file:
        rejected = {row["reference"] for row in csv.DictReader(file)}
    with (demo / "corrected.csv").open(encoding="utf-8-sig", newline="") as file:
        assert len(list(csv.DictReader(file))) == 9 and len(rejected) == 8
