"""The tag: the nine characters that a luminaire is known by on its label.

Eight characters of Crockford base32 (40 bits) and one check character of ISO 7064 MOD 37-2. That system catches
every single wrong character and every swap of two neighbours. It has 37 check characters, of which five
(I L O U *) are not in Crockford's alphabet; tags that would need one of those are never issued.
"""

from __future__ import annotations

from vault.errors import GearkeepError, VerificationError

ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
ISO_7064_CHARACTERS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*"
BODY_LENGTH = 8
TAG_LENGTH = 9
TAG_BYTES = 5

_LOOKALIKES = str.maketrans({"O": "0", "I": "1", "L": "1"})
_HINT = "A tag has nine characters, such as those under the code on the label; the letters I, L, O and U are not used."


def check_character(body: str) -> str:
    """The ISO 7064 MOD 37-2 check character of a text of 0-9 and A-Z: one of 0-9, A-Z and *.

    Raises GearkeepError (bad-tag) for any other character.
    """
    # Clause 7 (pure systems, recursive method): P = (P + value) * 2 for each character; the check value makes
    # the final sum 1 modulo 37.
    total = 0
    for character in body:
        value = ISO_7064_CHARACTERS.find(character)
        if not 0 <= value < 36:
            raise GearkeepError(f"The character {character!r} cannot stand in a tag.", hint=_HINT, kind="bad-tag")
        total = (total + value) * 2 % 37
    return ISO_7064_CHARACTERS[(1 - total) % 37]


# Two characters at a time, with what each pair adds to the check sum where it stands: every luminaire of an estate is named
# by its tag many times over.
_PAIRS = tuple(first + second for first in ALPHABET for second in ALPHABET)
_VALUES = tuple(ISO_7064_CHARACTERS.index(character) for character in ALPHABET)
_SUMS = tuple(tuple((_VALUES[pair >> 5] << 8 - 2 * place) + (_VALUES[pair & 31] << 7 - 2 * place) for pair in range(1024))
              for place in range(4))


def tag_from_bits(bits: int) -> str | None:
    """The tag of 40 bits, or None when its check character is not in the alphabet (draw again).

    Raises ValueError when `bits` is not within 0 to 2**40 - 1.
    """
    if not 0 <= bits < 1 << 40:
        raise ValueError(f"a tag has 40 bits, not {bits}")
    pairs = (bits >> 30, bits >> 20 & 1023, bits >> 10 & 1023, bits & 1023)
    check = ISO_7064_CHARACTERS[(1 - sum(sums[pair] for sums, pair in zip(_SUMS, pairs, strict=True))) % 37]
    return _PAIRS[pairs[0]] + _PAIRS[pairs[1]] + _PAIRS[pairs[2]] + _PAIRS[pairs[3]] + check if check in ALPHABET else None


def _folded(text: str) -> str:
    return "".join(text.split()).replace("-", "").upper().translate(_LOOKALIKES)


def parse_tag(text: str) -> str:
    """The tag in a text as somebody typed it: nine characters, no spaces, upper case.

    Forgives case, spaces, hyphens, O for 0, I and L for 1. Raises GearkeepError (bad-tag) saying what was found.
    """
    tag = _folded(text)
    if not tag:
        raise GearkeepError("No tag was given.", hint=_HINT, kind="bad-tag")
    if len(tag) != TAG_LENGTH:
        raise GearkeepError(f"{text.strip()[:40]!r} has {len(tag)} characters; a tag has {TAG_LENGTH}.", hint=_HINT,
                            kind="bad-tag")
    for character in tag:
        if character not in ALPHABET:
            raise GearkeepError(f"{text.strip()[:40]!r} holds {character!r}, which no tag holds.", hint=_HINT,
                                kind="bad-tag")
    if check_character(tag[:BODY_LENGTH]) != tag[BODY_LENGTH]:
        raise GearkeepError(f"{shown(tag)} is not a tag: its check character does not match, so one or more of its "
                            "characters are wrong.", hint="Compare it with the label, character by character.",
                            kind="bad-tag")
    return tag


def shown(tag: str) -> str:
    """A tag as it is printed and read aloud: "XXXX XXXX X"."""
    return f"{tag[:4]} {tag[4:8]} {tag[8:]}"


def to_bytes(tag: str) -> bytes:
    """The five bytes of a tag; the check character is not among them."""
    bits = 0
    for character in parse_tag(tag)[:BODY_LENGTH]:
        bits = bits << 5 | ALPHABET.index(character)
    return bits.to_bytes(TAG_BYTES, "big")


def from_bytes(data: bytes) -> str:
    """The tag of five bytes. Raises VerificationError (bad-tag) for bytes that no vault ever issues."""
    tag = tag_from_bits(int.from_bytes(data, "big")) if len(data) == TAG_BYTES else None
    if tag is None:
        raise VerificationError(f"The bytes {data[:16].hex()} are no tag that a vault issues.", kind="bad-tag")
    return tag


def neighbours(text: str) -> list[str]:
    """Every valid tag one mistake away from a typed text: one wrong character, or one swapped pair of neighbours.

    About a dozen, sorted, enough for one look into an index; none when the text has not nine characters.
    """
    typed = _folded(text)
    if len(typed) != TAG_LENGTH:
        return []
    tries = {typed[:at] + other + typed[at + 1 :] for at in range(TAG_LENGTH) for other in ALPHABET}
    tries |= {typed[:at] + typed[at + 1] + typed[at] + typed[at + 2 :] for at in range(BODY_LENGTH)}
    return sorted(near for near in tries - {typed} if _is_tag(near))


def _is_tag(text: str) -> bool:
    return set(text) <= set(ALPHABET) and check_character(text[:BODY_LENGTH]) == text[BODY_LENGTH]
