"""Damaged labels: one code stands in for the other, and what is read is never wrong."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from damage import DOTS_PER_MM, KINDS, Grey, damage
from damage_samples import Sample, accepted, random_damage, samples, wrong

from labels.boxes import CodeBox
from vault.trust.capsule import LabelText

AMOUNTS = {"blobs": 0.1, "scratches": 0.05, "torn": 0.1, "dead": 3, "fade": 35, "dim": 0.35, "blur": 0.18, "tilt": 50,
           "pixels": 4}  # fmt: skip
WHOLE = "tag and record"
TAG = "tag"


@pytest.fixture(scope="module")
def labels() -> list[Sample]:
    """Ten labels with different tags and records."""
    return list(samples(10))


def covered(picture: Grey, codes: Sequence[CodeBox], tone: int) -> Grey:
    """A picture in which tape of one grey tone hides those codes and their quiet zones."""
    picture = picture.copy()
    for code in codes:
        picture[code.box.top : code.box.bottom, code.box.left : code.box.right] = tone
    return picture


def corner_gone(picture: Grey, code: CodeBox) -> Grey:
    """A picture in which a thumb's breadth of dirt hides one corner pattern of a code."""
    picture = picture.copy()
    picture[code.box.top : code.box.top + 12 * code.dots, code.box.left : code.box.left + 12 * code.dots] = 90
    return picture


def learnt(label: Sample, texts: list[LabelText]) -> set[str]:
    """What a reader knows of a label by what was accepted."""
    known = {TAG for one in texts if one.tag == label.tag}
    return known | {WHOLE for one in texts if one.signed_bytes == label.record}


HIDDEN = [("nothing", (), {TAG, WHOLE}), ("the capsule", (0,), {TAG}), ("the link", (1,), {TAG, WHOLE}), ("both", (0, 1), set())]


@pytest.mark.parametrize("tone", [0, 200])
@pytest.mark.parametrize(("hidden", "which", "expected"), HIDDEN)
def test_what_is_known_when_codes_are_covered(labels: list[Sample], hidden: str, which: tuple[int, ...], expected: set[str],
                                              tone: int) -> None:  # fmt: skip
    """Either code alone gives the tag, the capsule the record too; with both covered nothing is claimed."""
    label = labels[0]
    texts = accepted(covered(label.two_codes, [label.boxes[number] for number in which], tone), plain=False)
    assert (learnt(label, texts), wrong(label, texts)) == (expected, []), hidden


@pytest.mark.parametrize(("which", "least"), [(0, TAG), (1, WHOLE)])
def test_one_corner_pattern_under_dirt(labels: list[Sample], which: int, least: str) -> None:
    """Dirt on one corner of a code leaves at least what the other code says."""
    for label in labels[:3]:
        texts = accepted(corner_gone(label.two_codes, label.boxes[which]), plain=False)
        assert least in learnt(label, texts)


@pytest.mark.parametrize("kind", KINDS)
def test_damage_is_the_same_again_and_differs_with_the_seed(labels: list[Sample], kind: str) -> None:
    """The same seed gives the same picture, the label itself stays as it was, and it is changed."""
    before = labels[0].two_codes.copy()
    first, again = (damage(labels[0].two_codes, kind, AMOUNTS[kind], np.random.default_rng(5)) for _ in range(2))
    assert first.dtype == np.uint8
    assert np.array_equal(first, again)
    assert np.array_equal(labels[0].two_codes, before)
    assert not np.array_equal(first, before)


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("amount", [0.05, 0.1, 0.3])
def test_so_much_is_torn_off(amount: float, seed: int) -> None:
    """The housing shows on the share of the label that was asked for, within a hundredth of the label."""
    paper = np.full((400, 600), 255, np.uint8)
    torn = damage(paper, "torn", amount, np.random.default_rng(seed))
    assert np.mean(torn != 255) == pytest.approx(amount, abs=0.01)


@pytest.mark.parametrize(("kind", "amount"), [("blobs", 0.1), ("blobs", 0.3), ("scratches", 0.05), ("scratches", 0.15)])
def test_no_more_is_struck_than_asked_for(kind: str, amount: float) -> None:
    """Over twenty pictures no more of a black sheet is hidden than was asked for, and no less than half of it."""
    sheet = np.zeros((472, 709), np.uint8)
    shares = [np.mean(damage(sheet, kind, amount, np.random.default_rng(seed)) > 0) for seed in range(20)]
    assert amount / 2 < np.mean(shares) <= amount * 1.1


@pytest.mark.parametrize("elements", [1, 5, 40])
def test_dead_elements_leave_white_columns(elements: int) -> None:
    """A black sheet shows one white column for each dead element."""
    sheet = damage(np.zeros((50, 300), np.uint8), "dead", elements, np.random.default_rng(1))
    assert np.count_nonzero(np.all(sheet == 255, axis=0)) == elements


@pytest.mark.parametrize("pixels", [2, 4, 8])
def test_a_camera_sees_so_many_pixels_a_millimetre(pixels: int) -> None:
    """60 × 40 mm become that many pixels a millimetre, and a millimetre more at most."""
    paper = np.full((round(40 * DOTS_PER_MM), round(60 * DOTS_PER_MM)), 255, np.uint8)
    seen = damage(paper, "pixels", pixels, np.random.default_rng(1))
    assert [length / pixels for length in seen.shape] == pytest.approx([40.5, 60.5], abs=1)


def mistakes(labels: list[Sample], seeds: range, *, plain: bool) -> list[LabelText]:
    """Everything wrong that was accepted from pictures with random damage, once or twice damaged, one for each seed."""
    pictures = [(labels[seed % len(labels)], np.random.default_rng(seed)) for seed in seeds]
    return [text for label, rng in pictures
            for text in wrong(label, accepted(random_damage(label.two_codes, rng), plain=plain))]  # fmt: skip


@pytest.mark.parametrize(("seeds", "plain"), [(range(16), False), (range(300), True)])
def test_damaged_pictures_never_give_a_wrong_tag(labels: list[Sample], seeds: range, plain: bool) -> None:
    """Neither the whole reader nor one look accepts another tag or other bytes than the label's from a damaged picture."""
    assert mistakes(labels, seeds, plain=plain) == []
