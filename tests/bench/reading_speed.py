"""How fast a phone's sharp picture is read: our reader beside one plain look of the decoder at the whole picture.

    python tests/bench/reading_speed.py [--turns 7] [--json]

Pictures of 4000 × 3000 pixels: one 60×40 mm label on about a fifth of it, several labels, and a blank wall; grain and the
softness of a lens over all (plain arithmetic, common practice, no source). Opening the JPEG file is timed apart. Medians;
the two readers take turns. The limit is 60 ms for a picture with labels, and 2 s for one in which there is nothing.
"""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parents[1]), str(HERE.parent / "labels")]

import numpy as np  # noqa: E402  (needs the path above)
import zxingcpp  # noqa: E402
from label_samples import content  # noqa: E402
from PIL import Image, ImageFilter  # noqa: E402

from labels.layout import lay_out  # noqa: E402
from labels.media import MEDIA  # noqa: E402
from labels.pictures import open_picture  # noqa: E402
from labels.raster import MODEL_2, raster  # noqa: E402
from labels.reading import read_image  # noqa: E402

SIZE = (4000, 3000)
LIMIT_MS = 60.0
NOTHING_LIMIT_MS = 2_000.0
# Labels in the picture, and how wide each is: 1900 pixels make a fifth of the picture.
PICTURES = {"one label": (1, 1900), "4 labels": (4, 1500), "9 labels": (9, 1000), "a blank wall": (0, 0)}


def photograph(labels: int, width: int) -> Image.Image:
    """Turned labels on a mottled wall."""
    rng = np.random.default_rng(labels)
    mottle = rng.normal(130, 12, (300, 400)).clip(0, 255).astype(np.uint8)
    wall = Image.fromarray(mottle).resize(SIZE, Image.Resampling.BICUBIC)
    columns = max(1, round(labels**0.5))
    for number in range(labels):
        drawn = raster(lay_out(content(222), MEDIA["60x40"])).convert("L").resize((width, width * 2 // 3))
        paper = Image.new("L", drawn.size, 255)
        turned, shape = (one.rotate(7, Image.Resampling.BICUBIC, expand=True) for one in (drawn, paper))
        cell = (SIZE[0] // columns, SIZE[1] // columns)
        left = number % columns * cell[0] + (cell[0] - turned.width) // 2
        wall.paste(turned, (left, number // columns * cell[1] + (cell[1] - turned.height) // 2), shape)
    seen = np.asarray(wall, np.float32) * 0.7 + 40 + rng.normal(0, 4, SIZE[::-1])
    return Image.fromarray(seen.clip(0, 255).astype(np.uint8)).filter(ImageFilter.GaussianBlur(1))


def timed(work: Callable[[], object]) -> float:
    """Milliseconds."""
    began = time.perf_counter()
    work()
    return 1_000 * (time.perf_counter() - began)


def main() -> None:
    """Print the table; exit 1 when a limit is missed or a code was not read."""
    parser = argparse.ArgumentParser(description=str(__doc__).splitlines()[0])
    parser.add_argument("--turns", type=int, default=7)
    parser.add_argument("--json", action="store_true")
    asked = parser.parse_args()
    figures: dict[str, dict[str, object]] = {}
    good, rows = True, []
    with tempfile.TemporaryDirectory() as folder:
        for name, (labels, width) in PICTURES.items():
            path = Path(folder) / "photo.jpg"
            photograph(labels, width).save(path, quality=90)
            image = open_picture(path)
            found = len(read_image(image).codes)
            ours, plain, opening = [], [], []
            for _ in range(asked.turns):
                ours.append(timed(lambda image=image: read_image(image)))
                plain.append(timed(lambda image=image: zxingcpp.read_barcodes(image, formats=MODEL_2)))
                opening.append(timed(lambda path=path: open_picture(path)))
            took, peer, opened = median(ours), median(plain), median(opening)
            limit = LIMIT_MS if labels else NOTHING_LIMIT_MS
            good = good and took <= limit and found == 2 * labels
            rows.append(f"{name:14}{found:4} of {2 * labels:<4}{took:9.1f}{limit:9.0f}{peer:9.1f}{took / peer:8.2f}{opened:9.1f}")
            figures[f"{name}: read"] = {"value": round(took, 1), "unit": "ms", "limit": limit, "ratio": round(took / limit, 3)}
            figures[f"{name}: against one plain look"] = {"value": round(took, 1), "unit": "ms", "limit": round(peer, 1),
                                                          "ratio": round(took / peer, 3)}
            figures[f"{name}: opening the JPEG"] = {"value": round(opened, 1), "unit": "ms", "limit": None, "ratio": None}
    if asked.json:
        print(json.dumps(figures, indent=1))
    else:
        print(f"{'picture':14}{'codes':>11}{'read ms':>10}{'limit':>9}{'plain ms':>9}{'ratio':>8}{'open ms':>9}", *rows, sep="\n")
    raise SystemExit(not good)


if __name__ == "__main__":
    main()
