"""Signed notes and checkpoints, against the published examples."""

from __future__ import annotations

from base64 import b64encode

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from hypothesis import given
from hypothesis import strategies as st

from vault.errors import VerificationError
from vault.trust import note
from vault.trust.keys import public_bytes

# C2SP signed-note: the example of the specification.
EXAMPLE_KEY = "example.com/foo+530d903a+AekyeRrm56hApGFkyQR4ZCbV54Id2LKaANYcrnKv3U2k"
EXAMPLE_TEXT = "This is an example message.\n"
EXAMPLE_LINE = (
    "— example.com/foo Uw2QOkn8srV1yJGh2VYRlL1Tnagv1YEq6TfXppzi2ONncAlTgK7Ztg1ERYNZXsYjOBH3mFXmRKuwHjG1Yu72IneyaQM=\n"
)
EXAMPLE = EXAMPLE_TEXT + "\n" + EXAMPLE_LINE

# C2SP tlog-checkpoint: the example of the specification.
CHECKPOINT_TEXT = "example.com/behind-the-sofa\n20852163\nCsUYapGGPo4dkMgIAUqom/Xajj7h2fB2MPA3j2jxq2I=\n"
CHECKPOINT_ROOT = "0ac5186a91863e8e1d90c808014aa89bf5da8e3ee1d9f07630f0378f68f1ab62"  # by coreutils base64 -d

NAME = "vault.example/log"
# RFC 8032 7.1, TEST 1 and TEST 2.
KEY = Ed25519PrivateKey.from_private_bytes(
    bytes.fromhex("9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60")
)
OTHER = Ed25519PrivateKey.from_private_bytes(
    bytes.fromhex("4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb")
)
PUBLIC = public_bytes(KEY)
SIGNED = note.sign_note("text\n", NAME, KEY)
LINES = st.text(st.characters(codec="utf-8", min_codepoint=0x20), min_size=1, max_size=30)


def test_the_published_note_verifies() -> None:
    """The example verifies under its published verifier key."""
    name, public_key = note.parse_verifier_key(EXAMPLE_KEY)
    assert note.open_note(EXAMPLE, name, public_key) == EXAMPLE_TEXT


def test_the_published_verifier_key_is_written_again() -> None:
    """Name, key id and key come out as they were published."""
    assert note.verifier_key(*note.parse_verifier_key(EXAMPLE_KEY)) == EXAMPLE_KEY


def test_the_published_checkpoint_is_read_and_written() -> None:
    """Origin, size and root, and the same text again."""
    checkpoint = note.parse_checkpoint(CHECKPOINT_TEXT)
    assert (checkpoint.origin, checkpoint.size) == ("example.com/behind-the-sofa", 20852163)
    assert checkpoint.root.hex() == CHECKPOINT_ROOT
    assert note.checkpoint_text(checkpoint) == CHECKPOINT_TEXT


@given(st.lists(LINES | st.just(""), min_size=1, max_size=5))
def test_a_signed_text_is_read_back(lines: list[str]) -> None:
    """Any text of lines comes back, blank lines and lines like signatures included."""
    text = "\n".join(lines) + "\n"
    assert note.open_note(note.sign_note(text, NAME, KEY), NAME, PUBLIC) == text


@given(LINES, st.integers(0, 2**62), st.binary(min_size=32, max_size=32), st.lists(LINES, max_size=2))
def test_a_checkpoint_is_read_back(origin: str, size: int, root: bytes, extensions: list[str]) -> None:
    """Any checkpoint comes back with its extension lines."""
    checkpoint = note.Checkpoint(origin=origin, size=size, root=root, extensions=tuple(extensions))
    assert note.parse_checkpoint(note.checkpoint_text(checkpoint)) == checkpoint


def test_signatures_of_others_do_not_matter() -> None:
    """Lines of unknown keys, of other kinds, before and after ours, are ignored."""
    other_line = note.sign_note("text\n", "other.example", OTHER).split("\n\n")[1]
    same_name = note.sign_note("text\n", NAME, OTHER).split("\n\n")[1]
    unknown_kind = f"— {NAME} {b64encode(b'abcd' + bytes(9)).decode()}\n"
    text, ours = SIGNED.split("\n\n")
    assert note.open_note(f"{text}\n\n{other_line}{same_name}{ours}{unknown_kind}", NAME, PUBLIC) == "text\n"


BLOB = SIGNED.split(" ")[2][:-1]


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("", "bad-note"),
        ("text\n", "bad-note"),
        ("text\n\n", "bad-note"),
        (SIGNED[:-1], "bad-note"),
        (SIGNED.replace("\n\n", "\n"), "bad-note"),
        (SIGNED + "\n", "bad-note"),
        (SIGNED + "no signature\n", "bad-note"),
        (SIGNED.replace("— ", "- "), "bad-note"),
        (SIGNED.replace("— ", "—"), "bad-note"),
        (SIGNED.replace(BLOB, "!!!!"), "bad-note"),
        (SIGNED.replace(BLOB, "AAAA"), "bad-note"),
        (SIGNED.replace(BLOB, BLOB[:-1]), "bad-note"),
        (SIGNED.replace("text\n", "te\rxt\n"), "bad-note"),
        (SIGNED.replace("text\n", "te\txt\n"), "bad-note"),
        (SIGNED.replace("text\n", "te\ud800xt\n"), "bad-note"),
        ("x" * 70_000 + SIGNED, "bad-note"),
        (SIGNED.replace("text", "texT"), "bad-signature"),
        (SIGNED.replace("text\n", "text\n\n"), "bad-signature"),
        (SIGNED.replace(BLOB, BLOB[:40]), "bad-signature"),
        (SIGNED + note.sign_note("other\n", NAME, KEY).split("\n\n")[1], "bad-signature"),
        (note.sign_note("text\n", NAME, OTHER), "unknown-signer"),
        (note.sign_note("text\n", "other.example", KEY), "unknown-signer"),
    ],
)
def test_a_note_that_fails_is_told_apart(text: str, kind: str) -> None:
    """A broken form, a changed text and a missing signature have their own failure classes."""
    with pytest.raises(VerificationError) as caught:
        note.open_note(text, NAME, PUBLIC)
    assert caught.value.kind == kind


@pytest.mark.parametrize("text", ["no line end", "a\rb\n", "\x00\n", ""])
def test_what_cannot_be_a_note_is_not_signed(text: str) -> None:
    """A text that could not be opened again is refused."""
    with pytest.raises(VerificationError) as caught:
        note.sign_note(text, NAME, KEY)
    assert caught.value.kind == "bad-note"


@pytest.mark.parametrize("name", ["", "two words", "a+b", "tab\tname", "line\n"])
def test_a_key_name_has_no_space_and_no_plus(name: str) -> None:
    """Such a name would not be read again; it is a mistake of the caller."""
    with pytest.raises(ValueError, match="cannot name a key"):
        note.sign_note("text\n", name, KEY)


ROOT_LINE = "CsUYapGGPo4dkMgIAUqom/Xajj7h2fB2MPA3j2jxq2I="


@pytest.mark.parametrize(
    "text",
    [
        "",
        "origin\n",
        "origin\n5\n",
        f"origin\n5\n{ROOT_LINE}",
        f"\n5\n{ROOT_LINE}\n",
        f"origin\n\n{ROOT_LINE}\n",
        f"origin\n05\n{ROOT_LINE}\n",
        f"origin\n+5\n{ROOT_LINE}\n",
        f"origin\n-5\n{ROOT_LINE}\n",
        f"origin\n5 \n{ROOT_LINE}\n",
        f"origin\n5.0\n{ROOT_LINE}\n",
        f"origin\n٥\n{ROOT_LINE}\n",
        f"origin\n{'9' * 5000}\n{ROOT_LINE}\n",
        f"origin\n5\n{ROOT_LINE[:-1]}\n",
        f"origin\n5\n{ROOT_LINE[:-2]}J=\n",  # the same 32 bytes, with a stray low bit
        f"origin\n5\n {ROOT_LINE}\n",
        f"origin\n5\n{ROOT_LINE.replace('/', '_')}\n",
        "origin\n5\nAAAA\n",
        f"origin\n5\n{ROOT_LINE}\n\n",
        f"origin\n5\n{ROOT_LINE}\n\nextension\n",
    ],
)
def test_a_checkpoint_has_one_form(text: str) -> None:
    """Leading zeros, other roots, empty lines and the like are refused."""
    with pytest.raises(VerificationError) as caught:
        note.parse_checkpoint(text)
    assert caught.value.kind == "bad-note"


@pytest.mark.parametrize(
    "checkpoint",
    [
        note.Checkpoint(origin="", size=1, root=bytes(32)),
        note.Checkpoint(origin="two\nlines", size=1, root=bytes(32)),
        note.Checkpoint(origin="origin", size=-1, root=bytes(32)),
        note.Checkpoint(origin="origin", size=1, root=bytes(31)),
        note.Checkpoint(origin="origin", size=1, root=bytes(32), extensions=("a\nb",)),
        note.Checkpoint(origin="origin", size=1, root=bytes(32), extensions=("",)),
    ],
)
def test_what_cannot_be_a_checkpoint_is_not_written(checkpoint: note.Checkpoint) -> None:
    """A checkpoint that would be read as another, or not at all, is refused."""
    with pytest.raises(VerificationError) as caught:
        note.checkpoint_text(checkpoint)
    assert caught.value.kind == "bad-note"


@pytest.mark.parametrize(
    "text",
    [
        "",
        "example.com/foo",
        "example.com/foo+530d903a",
        EXAMPLE_KEY.replace("530d903a", "530d903b"),
        EXAMPLE_KEY.replace("foo", "bar"),
        EXAMPLE_KEY.replace("+530d903a+Aeky", "+530d903a+Aekz"),
        EXAMPLE_KEY[:-1],
        EXAMPLE_KEY.replace("+Ae", "+Ce"),  # another kind of signature
        note.verifier_key("example.com/zero", bytes(32)),  # a key of small order
    ],
)
def test_a_bad_verifier_key_is_refused(text: str) -> None:
    """A mistyped, foreign or unsafe key is not taken."""
    with pytest.raises(VerificationError) as caught:
        note.parse_verifier_key(text)
    assert caught.value.kind == "bad-key"
