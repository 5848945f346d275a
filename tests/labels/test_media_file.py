"""A user's own label sizes and sheets: read in millimetres, refused by table and key."""

from __future__ import annotations

from pathlib import Path

import pytest

from labels.errors import LabelError
from labels.media_file import read_media

GOOD = """
[[medium]]
name = "70x37"
width_mm = 70
height_mm = 37.1
corner_mm = 2.5

[[sheet]]
name = "24 of them"
width_mm = 210
height_mm = 297
columns = 3
rows = 8
left_mm = 0
top_mm = 0
across_mm = 70
down_mm = 37.125
"""


def test_sizes_and_sheets_are_read_in_micrometres(tmp_path: Path) -> None:
    """70 by 37.1 mm and a pitch of 37.125 mm come back as whole micrometres; what is left out has its usual value."""
    path = tmp_path / "media.toml"
    path.write_text(GOOD)
    own = read_media(path)
    medium, sheet = own.media["70x37"], own.sheets["24 of them"]
    assert (medium.width_um, medium.height_um, medium.corner_um, medium.margin_um) == (70_000, 37_100, 2_500, 700)
    assert (sheet.count, sheet.across_um, sheet.down_um) == (24, 70_000, 37_125)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "holds nothing"),
        ("x = 1", "holds x"),
        ("[[medium]]\nname = 'a'\nwidth_mm = 50", "medium 1: height_mm is missing"),
        ("[[medium]]\nname = 'a'\nwidth_mm = 50\nheight_mm = '25'", "height_mm is '25'"),
        ("[[medium]]\nname = 'a'\nwidth_mm = true\nheight_mm = 25", "width_mm is True"),
        ("[[medium]]\nname = 'a'\nwidth_mm = nan\nheight_mm = 25", "width_mm is nan"),
        ("[[medium]]\nname = 'a'\nwidth_mm = 5\nheight_mm = 25", "its width is 5 mm"),
        ("[[medium]]\nname = 'a'\nwidth_mm = 50\nheight_mm = 25\ncolour = 'red'", "there is no colour"),
        ("[[medium]]\nname = ''\nwidth_mm = 50\nheight_mm = 25", "the name has 0 characters"),
        ("[[medium]]\nname='a'\nwidth_mm=50\nheight_mm=25\n[[medium]]\nname='a'\nwidth_mm=60\nheight_mm=25", "stands twice"),
        (GOOD.replace("columns = 3", "columns = 0"), "columns is 0"),
        (GOOD.replace("columns = 3", "columns = 3.0"), "columns is 3.0"),
        ("medium = 3", "no list of tables"),
        ("[[medium", "no TOML file"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_by_name(tmp_path: Path, text: str, said: str) -> None:
    """A missing, unknown or impossible entry is named with its table and key."""
    path = tmp_path / "media.toml"
    path.write_text(text)
    with pytest.raises(LabelError) as caught:
        read_media(path)
    assert caught.value.kind == "bad-media-file"
    assert said in caught.value.what
    assert caught.value.hint


def test_a_file_that_is_not_there_is_named(tmp_path: Path) -> None:
    """The message names the file."""
    with pytest.raises(LabelError, match=r"none\.toml cannot be read"):
        read_media(tmp_path / "none.toml")
