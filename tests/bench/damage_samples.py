"""Labels to damage, drawn with two codes and with one, and what counts as read from a picture of them."""

from __future__ import annotations

import random
import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import islice
from pathlib import Path

TESTS = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(TESTS.parent), str(TESTS / "labels")]

import numpy as np  # noqa: E402  (needs the path above)
import zxingcpp  # noqa: E402
from damage import KINDS, Grey, Rng, damage  # noqa: E402
from label_samples import content  # noqa: E402
from PIL import Image  # noqa: E402

from labels.boxes import CodeBox  # noqa: E402
from labels.code import QUIET_MODULES, make_symbol  # noqa: E402
from labels.layout import lay_out  # noqa: E402
from labels.media import MEDIA  # noqa: E402
from labels.raster import MODEL_2, raster  # noqa: E402
from labels.reading import read_image  # noqa: E402
from vault.domain.tag import shown, tag_from_bits  # noqa: E402
from vault.errors import GearkeepError  # noqa: E402
from vault.trust.capsule import LabelText, capsule_text, link, parse_text  # noqa: E402

HOST = "LX.EXAMPLE.EU"
MEDIUM = MEDIA["60x40"]
ONE_CODE_DOTS = 6
RECORD_BYTES = 222  # the most that a version 11 code of level M carries behind this host
# The hunt's amounts, from what every code survives to what none does.
RANGES = {"blobs": (0.02, 0.3), "scratches": (0.01, 0.15), "torn": (0.05, 0.5), "dead": (1, 30), "fade": (6, 60),
          "dim": (0.05, 0.5), "blur": (0.05, 0.35), "tilt": (30, 75), "pixels": (2, 8)}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """A record's tag and bytes, its label drawn both ways, and where the two codes stand: capsule, link."""

    tag: str
    record: bytes
    two_codes: Grey
    one_code: Grey
    boxes: tuple[CodeBox, ...]


def _one_code(text: str) -> Grey:
    """A label that holds one code alone, at its left edge, in the middle of its height."""
    symbol = make_symbol(text, level="M", max_version=40)
    paper = np.full((MEDIUM.height_dots, MEDIUM.width_dots), 255, np.uint8)
    side = symbol.modules * ONE_CODE_DOTS
    top = (MEDIUM.height_dots - side) // 2
    left = max(top, QUIET_MODULES * ONE_CODE_DOTS)
    paper[top : top + side, left : left + side] = np.kron(~symbol.matrix, np.full((ONE_CODE_DOTS,) * 2, 255, np.uint8))
    return paper


def samples(count: int, record_bytes: int = RECORD_BYTES) -> Iterator[Sample]:
    """Labels of random tags and records, the same ones every time."""
    chance = random.Random(record_bytes)
    for tag in islice(filter(None, (tag_from_bits(chance.getrandbits(40)) for _ in range(2 * count + 50))), count):
        record, address = chance.randbytes(record_bytes), link(HOST, tag)
        label = replace(content(None), tag_shown=shown(tag), link_text=address, capsule_text=capsule_text(address, record))
        layout = lay_out(label, MEDIUM)
        two = np.asarray(raster(layout).convert("L"))
        yield Sample(tag=tag, record=record, two_codes=two, one_code=_one_code(capsule_text(address, record)),
                     boxes=layout.codes)


def accepted(picture: Grey, *, plain: bool) -> list[LabelText]:
    """What the codes in a picture say, as far as the capsule room accepts it and no other host is named."""
    image = Image.fromarray(picture)
    found = zxingcpp.read_barcodes(image, formats=MODEL_2) if plain else read_image(image).codes
    texts = []
    for one in found:
        try:
            said = parse_text(one.text)
        except GearkeepError:
            continue
        if said.host in (None, HOST):
            texts.append(said)
    return texts


def wrong(sample: Sample, texts: list[LabelText]) -> list[LabelText]:
    """Those that name another tag than the label's, or carry other bytes."""
    return [one for one in texts if one.tag != sample.tag or one.signed_bytes not in (None, sample.record)]


def random_damage(picture: Grey, rng: Rng) -> Grey:
    """One or two random kinds by random amounts, in the order of the table of kinds: the label suffers before it is seen."""
    kinds = list(KINDS)
    for at in sorted(rng.choice(len(kinds), int(rng.integers(1, 3)), replace=False)):
        picture = damage(picture, kinds[at], rng.uniform(*RANGES[kinds[at]]), rng)
    return picture
