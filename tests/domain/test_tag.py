"""The tag: check character, reading what was typed, finding what was meant."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from stdnum.iso7064 import mod_37_2

from vault.domain import tag
from vault.errors import GearkeepError, VerificationError

BITS = st.integers(min_value=0, max_value=2**40 - 1)
TAGS = BITS.map(tag.tag_from_bits).filter(lambda made: made is not None)
PLACE = st.integers(min_value=0, max_value=8)


@pytest.mark.parametrize(
    ("body", "check"),
    [
        ("G123498654321", "H"),  # ISBT 128 donation number, worked example of ISO 7064 MOD 37-2
        ("G123489654321", "Y"),  # python-stdnum documentation: the same with two digits swapped
        ("A999914123456", "N"),  # ISBT 128 donation number, from memory
    ],
)
def test_check_character_of_worked_examples(body: str, check: str) -> None:
    """The check character is that of the published examples."""
    assert tag.check_character(body) == check


@given(st.text(alphabet="0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ", min_size=1, max_size=20))
def test_check_character_agrees_with_another_implementation(body: str) -> None:
    """python-stdnum computes the same check character for every text."""
    assert tag.check_character(body) == mod_37_2.calc_check_digit(body)


@pytest.mark.parametrize("body", ["*", "a", "12 34", "é", "-"])
def test_check_character_refuses_other_characters(body: str) -> None:
    """Only 0-9 and A-Z have a value in a body."""
    with pytest.raises(GearkeepError) as caught:
        tag.check_character(body)
    assert caught.value.kind == "bad-tag"


@given(BITS)
def test_only_tags_in_the_alphabet_are_issued(bits: int) -> None:
    """A tag is nine characters of the alphabet, or there is none for these bits."""
    made = tag.tag_from_bits(bits)
    assert made is None or (len(made) == 9 and set(made) <= set(tag.ALPHABET))


@pytest.mark.parametrize("bits", [-1, 2**40])
def test_a_tag_has_forty_bits(bits: int) -> None:
    """A number outside 40 bits is a mistake of the caller."""
    with pytest.raises(ValueError, match="40 bits"):
        tag.tag_from_bits(bits)


def test_the_alphabet_leaves_out_what_is_mistaken() -> None:
    """Crockford's base32 has 32 characters and leaves out I, L, O and U."""
    assert len(set(tag.ALPHABET)) == 32
    assert not set(tag.ALPHABET) & set("ILOU")
    assert sorted(tag.ALPHABET) == list(tag.ALPHABET)


@given(TAGS)
def test_bytes_and_back(made: str) -> None:
    """Five bytes hold a tag."""
    packed = tag.to_bytes(made)
    assert len(packed) == 5
    assert tag.from_bytes(packed) == made


@given(TAGS)
def test_what_is_shown_can_be_typed(made: str) -> None:
    """The printed form is read back."""
    assert tag.parse_tag(tag.shown(made)) == made


@given(TAGS)
def test_reading_forgives_lookalikes_case_and_spacing(made: str) -> None:
    """Lower case, O for 0, L for 1, hyphens and spaces do not matter."""
    typed = f"  {made[:3]}-{made[3:6]} {made[6:]}\n".lower().replace("0", "o").replace("1", "l")
    assert tag.parse_tag(typed) == made


@given(TAGS, PLACE, st.sampled_from(tag.ALPHABET))
def test_one_wrong_character_is_always_caught(made: str, at: int, other: str) -> None:
    """ISO 7064 MOD 37-2 catches every single substitution, and the right tag is then offered."""
    wrong = made[:at] + other + made[at + 1 :]
    if wrong == made:
        return
    with pytest.raises(GearkeepError):
        tag.parse_tag(wrong)
    assert made in tag.neighbours(wrong)


@given(TAGS, st.integers(min_value=0, max_value=7))
def test_one_swap_of_neighbours_is_always_caught(made: str, at: int) -> None:
    """ISO 7064 MOD 37-2 catches every swap of neighbours, and the right tag is then offered."""
    wrong = made[:at] + made[at + 1] + made[at] + made[at + 2 :]
    if wrong == made:
        return
    with pytest.raises(GearkeepError):
        tag.parse_tag(wrong)
    assert made in tag.neighbours(wrong)


@given(TAGS)
def test_neighbours_are_valid_tags_and_few(made: str) -> None:
    """Each place allows at most one other character, so one look into an index is enough."""
    wrong = made[:8] + tag.ALPHABET[(tag.ALPHABET.index(made[8]) + 1) % 32]
    near = tag.neighbours(wrong)
    assert made in near
    assert len(near) <= 9 + 8
    assert [tag.parse_tag(each) for each in near] == near


@pytest.mark.parametrize("typed", ["", "1234", "12345678", "1234567890", "🙂"])
def test_nothing_is_offered_for_another_length(typed: str) -> None:
    """Only nine characters can be one mistake away from a tag."""
    assert tag.neighbours(typed) == []


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("", "No tag was given"),
        ("   ", "No tag was given"),
        ("1234", "has 4 characters"),
        ("0123456789", "has 10 characters"),
        ("UUUUUUUUU", "holds 'U'"),
        ("1234*6789", "holds '*'"),
        ("1234é6789", "holds 'É'"),
        ("00000000 0", "check character does not match"),
    ],
)
def test_a_bad_tag_is_told_apart(typed: str, says: str) -> None:
    """Each way of being wrong has its own sentence."""
    with pytest.raises(GearkeepError) as caught:
        tag.parse_tag(typed)
    assert says in caught.value.what
    assert caught.value.kind == "bad-tag"
    assert caught.value.hint


@pytest.mark.parametrize("data", [b"", b"1234", b"123456"])
def test_bytes_of_another_length_are_no_tag(data: bytes) -> None:
    """A tag has five bytes."""
    with pytest.raises(VerificationError) as caught:
        tag.from_bytes(data)
    assert caught.value.kind == "bad-tag"


@given(BITS.filter(lambda bits: tag.tag_from_bits(bits) is None))
def test_bytes_that_are_never_issued_are_no_tag(bits: int) -> None:
    """Bytes whose check character is outside the alphabet are refused."""
    with pytest.raises(VerificationError):
        tag.from_bytes(bits.to_bytes(5, "big"))


@given(st.integers(min_value=0, max_value=2**40 - 1))
def test_the_check_character_is_that_of_the_characters(bits: int) -> None:
    """Made from bits, a tag's last character is the one that ISO 7064 gives for the first eight."""
    made = tag.tag_from_bits(bits)
    body = "".join(tag.ALPHABET[bits >> shift & 31] for shift in range(35, -1, -5))
    check = tag.check_character(body)
    assert made == (body + check if check in tag.ALPHABET else None)
