"""Broken statements and label texts, each with the failure class that a reader must report."""

from __future__ import annotations

from typing import Any

from make import (
    HOST,
    LOG_ID,
    OTHER_LOG_ID,
    STOCK_LOG_ID,
    TAG,
    TIME,
    UNTIL,
    appointment,
    chain,
    estate_checkpoint,
    good,
    key,
    request,
    take_over,
)

from vault.domain import site
from vault.domain.tag import to_bytes
from vault.trust import cbor, cose
from vault.trust.appointment import Request, endorse
from vault.trust.capsule import link
from vault.trust.keys import key_id, public_bytes
from vault.trust.mapping import to_plain_cbor
from vault.trust.statements import Kind


def _resigned(payload: Any, kind: int = int(Kind.RECORD), log_id: bytes = LOG_ID, name: str = "installer") -> bytes:
    packed = payload if isinstance(payload, bytes) else cbor.encode(payload)
    return cose.sign_statement(kind, packed, key(name), cose.external_aad(1, log_id))


def bad() -> list[dict[str, Any]]:
    """Broken statements and label texts, each with the failure class that a reader must report."""
    made = chain()
    right = made["record"]
    parts = cose.split1(right)
    body = cbor.decode(parts.payload)
    body_second = cbor.decode(cose.split1(made["record-second-version"]).payload)

    def envelope(protected: bytes, payload: bytes, signature: bytes) -> bytes:
        return cbor.encode([protected, {}, payload, signature])

    def protected(**changes: Any) -> bytes:
        held = {1: -19, 4: parts.protected[4], -65537: int(Kind.RECORD)} | changes.pop("also", {})
        # Written by hand: the codec of the vault holds unsigned keys only.
        import cbor2

        return cbor2.dumps(dict(sorted(held.items(), key=lambda kv: cbor2.dumps(kv[0]))))

    last = len(right) - 1
    cases = [
        ("one bit of the signature changed", right[:last] + bytes([right[last] ^ 1]), "bad-signature"),
        ("one bit of the payload changed", right.replace(b"Pool", b"Pooh"), "bad-signature"),
        ("signed for another vault", _resigned(body, log_id=STOCK_LOG_ID), "bad-signature"),
        ("last byte missing", right[:-1], "truncated"),
        ("a byte behind the end", right + b"\x00", "not-deterministic"),
        ("not CBOR at all", b"\xff" * 40, "not-cbor"),
        ("no signature", envelope(parts.protected_bytes, parts.payload, b""), "unsigned"),
        ("a bare payload", parts.payload, "unsigned"),
        ("algorithm -8", envelope(protected(also={1: -8}), parts.payload, parts.signature), "wrong-algorithm"),
        ("a header that nobody knows", envelope(protected(also={99: 1}), parts.payload, parts.signature),
         "unknown-header"),
        ("kind 14", _resigned(body, kind=14), "unknown-kind"),
        ("a signer that was never granted", _resigned(body, name="stranger"), "unknown-signer"),
        ("a signer without the role", _resigned(body, name="approver"), "wrong-role"),
        ("keys out of order", _resigned(b"\xa2\x02\x01\x01\x40"), "bad-payload"),
        ("a key twice", _resigned(b"\xa2\x01\x01\x01\x01"), "bad-payload"),
        ("a number not in its shortest form", _resigned(b"\xa1\x01\x18\x01"), "bad-payload"),
        ("a floating-point number", _resigned(b"\xa1\x01\xf9\x3e\x00"), "bad-payload"),
        ("a field that the format does not have", _resigned({**body, 90: 1}), "bad-payload"),
        ("no tag", _resigned({k: v for k, v in body.items() if k != 1}), "bad-payload"),
        ("a current of nought", _resigned(_changed_current(body, 0)), "bad-payload"),
        ("version 1 with a predecessor", _resigned({**body, 3: b"\x00" * 16}), "bad-payload"),
        ("version 1 of a tag in use", _resigned({**body, 10: "Elsewhere"}), "tag-in-use"),
        ("a predecessor that is not there", _resigned({**body_second, 3: b"\x00" * 16}), "bad-chain"),
        ("a version left out", _resigned({**body_second, 2: 3}), "bad-chain"),
        ("a rating that is not there", _resigned({**body_second, 4: ["T1", 1, b"\x00" * 8]}), "bad-chain"),
        ("a label found of a tag that is not there", _resigned({1: TIME, 2: [[b"\x00" * 5, "Store room"]]}, kind=15),
         "bad-chain"),
        ("a label found whose copy was never issued", _resigned({1: TIME, 2: [[to_bytes(TAG), "Store room", 1]]}, kind=15),
         "bad-chain"),
        ("a recovery by an installer", _resigned({1: TIME, 2: cose.digest(right)}, kind=16), "wrong-role"),
        ("a recovery of a record that is not there", _resigned({1: TIME, 2: b"\x00" * 32}, kind=16, name="authority"),
         "bad-chain"),
        ("a recovery with half a digest", _resigned({1: TIME, 2: cose.digest(right) + b"\x00"}, kind=16, name="authority"),
         "bad-payload"),
    ]
    bytes_cases = [{"name": n, "signed": s.hex(), "failure": f} for n, s, f in cases]
    first = good()
    capsule = first["capsule"]
    return [
        *bytes_cases,
        {"name": "a web address of somebody else", "text": "https://example.com/", "failure": "foreign-link"},
        {"name": "a wrong character in the tag", "text": link(HOST, TAG).replace(TAG[:2], "ZZ"), "failure": "bad-tag"},
        {"name": "a letter among the digits", "text": capsule[:-1] + "X", "failure": "bad-digits"},
        {"name": "a nought before the digits", "text": capsule.replace("#", "#0"), "failure": "bad-digits"},
        {"name": "format version 2", "text": f"{first['link']}#{int.from_bytes(bytes([2]) + right, 'big')}",
         "failure": "future-version"},
        *bad_behind(),
    ]


def bad_behind() -> list[dict[str, Any]]:
    """Broken statements about keys. behind: how many good entries of the main log stand before them."""
    made = [name for name in chain() if name != "stock-movement"]
    start, late = 9, len(made)

    def appoint(asked: Request, by: str = "recovery", number: int = 1, signer: str = "appointed") -> bytes:
        body = appointment(asked, by, number)
        return _resigned(to_plain_cbor(body), kind=17, name=signer)

    def appoint_key(name: str) -> bytes:
        return appoint(request(public_key=public_bytes(key(name))), signer=name)

    one = to_plain_cbor(appointment())
    grant = {1: public_bytes(key("temporary")), 2: 2, 3: "I02", 4: TIME}
    gone = {1: key_id(public_bytes(key("installer"))), 2: TIME, 3: "stolen"}
    small = bytes([1]) + bytes(31)  # the neutral element, of order 1: RFC 8032 section 5.1.4
    small_order = cose.sign1({1: -19, 4: key_id(small), -65537: 17}, cbor.encode({**one, 1: small}), key("appointed"),
                             cose.external_aad(1, LOG_ID))
    line = site.Line(name="L2", revision=1, kind=site.LineKind.DALI, addresses_from=0)
    seen = {1: TIME, 2: [[to_bytes(TAG), "Store room"]]}
    taken, adopted = to_plain_cbor(take_over()), cbor.decode(cose.split1(chain()["record-adopted"]).payload)
    own_note = good()["checkpoint"].encode()
    cases = [
        ("an appointment without an endorsement", _resigned({**one, 6: []}, kind=17, name="appointed"), "bad-payload", start),
        ("an appointment endorsed twice by one key", _resigned({**one, 6: one[6] * 2}, kind=17, name="appointed"),
         "bad-payload", start),
        ("an appointment endorsed by a key that is none of the genesis", appoint(request(), by="stranger"), "bad-endorsement",
         start),
        ("an appointment by a recovery key that the genesis does not have", appoint(request(), number=2), "bad-endorsement",
         start),
        ("an appointment endorsed for another vault",
         _resigned({**one, 6: [[1, endorse(request(log_id=STOCK_LOG_ID), key("recovery")).signature]]}, kind=17,
                   name="appointed"), "bad-endorsement", start),
        ("an appointment whose end of the others was not endorsed", _resigned({**one, 5: 0}, kind=17, name="appointed"),
         "bad-endorsement", start),
        ("an appointment signed by another key", _resigned(one, kind=17, name="authority"), "unknown-signer", start),
        ("an appointment of a key of small order", small_order, "bad-key", start),
        ("an appointment of a recovery key", appoint_key("recovery"), "bad-key", start),
        ("an appointment of the checkpoint key", appoint_key("checkpoint"), "bad-key", start),
        ("an appointment of a key that held a role", appoint_key("installer"), "bad-chain", start),
        ("an appointment out of its turn", appoint(request(number=2)), "bad-chain", start),
        ("a second appointment of the same key", appoint(request(number=2)), "bad-chain", late),
        ("an earlier appointment, appended later",
         appoint(request(public_key=public_bytes(key("stranger"))), signer="stranger"), "bad-chain", late),
        ("a grant by an authority that an appointment ended", _resigned(grant, kind=2, name="authority"), "withdrawn-signer",
         late),
        ("a grant that ends before it begins", _resigned({**grant, 5: TIME - 1}, kind=2, name="authority"), "bad-payload", start),
        ("a withdrawal with a place and no digest", _resigned({**gone, 4: 7}, kind=3, name="authority"), "bad-payload", start),
        ("a statement dated after its signer's grant ended", _resigned({**seen, 1: UNTIL + 1}, kind=15, name="temporary"),
         "expired-signer", made.index("grant-until") + 1),
        ("a statement behind an authority's later date", _resigned(to_plain_cbor(line), kind=7, name="temporary"),
         "expired-signer", late),
        ("a statement dated earlier behind an authority's later date", _resigned(seen, kind=15, name="temporary"),
         "expired-signer", late),
        ("an estate's checkpoint", estate_checkpoint(), "unknown-kind", start),
        ("kind 18", _resigned(taken, kind=18, name="appointed"), "unknown-kind", late),
        ("a take-over by a technician", _resigned(taken, kind=19, name="technician"), "wrong-role", late),
        ("a take-over by an authority that an appointment ended", _resigned(taken, kind=19, name="authority"),
         "withdrawn-signer", late),
        ("a take-over of the log that it stands in", _resigned(to_plain_cbor(take_over(
            log_id=LOG_ID, host=HOST, checkpoint=own_note)), kind=19, name="appointed"), "bad-chain", late),
        ("a take-over with another log's checkpoint", _resigned({**taken, 5: own_note}, kind=19, name="appointed"), "bad-payload",
         late),
        ("a take-over whose checkpoint is none", _resigned({**taken, 5: b"4 entries"}, kind=19, name="appointed"), "bad-payload",
         late),
        ("a take-over of no more entries than before", _resigned(taken, kind=19, name="appointed"), "bad-chain", late),
        ("a take-over of a log as another authority's", _resigned(to_plain_cbor(take_over(
            size=5, authority_key=public_bytes(key("stranger")))), kind=19, name="appointed"), "bad-chain", late),
        ("a record from a log that was never taken over", _resigned(adopted, name="technician"), "bad-chain",
         made.index("take-over")),
        ("a record from half a tag", _resigned({**adopted, 18: [OTHER_LOG_ID, b"\x12", 2, bytes(16)]}, name="technician"),
         "bad-payload", late),
    ]
    return [{"name": n, "signed": s.hex(), "failure": f, "behind": b} for n, s, f, b in cases]


def _changed_current(body: dict[int, Any], current_ma: int) -> dict[int, Any]:
    changed = cbor.decode(cbor.encode(body))
    changed[14][0][3][2][0][0] = current_ma
    return changed
