"""Films and cameras: successive frames joined, early ends, and what is no film."""

from __future__ import annotations

import builtins
import sys
from collections.abc import Iterator
from pathlib import Path

import cv2
import numpy as np
import pytest
from label_samples import content
from PIL import Image, ImageFilter

from labels import frames
from labels.content import LabelContent
from labels.errors import LabelError
from labels.frames import join, read_camera, read_film
from labels.layout import lay_out
from labels.media import MEDIA
from labels.raster import raster

LABEL = content(222)
OTHER = LabelContent(tag_shown="0G2M 5V8A 1", link_text="HTTPS://LX.EXAMPLE.EU/L/0G2M5V8A1", capsule_text=None, big=(), lines=())
LAYOUT = lay_out(LABEL, MEDIA["60x40"])
DRAWN = raster(LAYOUT).convert("L")
BARE = Image.new("L", DRAWN.size, 128)
BOTH = {LABEL.link_text, LABEL.capsule_text}


def without(number: int) -> Image.Image:
    """The label with one of its codes under a thumb."""
    picture, box = DRAWN.copy(), LAYOUT.codes[number].box
    picture.paste(90, (box.left, box.top, box.right, box.bottom))
    return picture


NO_CAPSULE, NO_LINK = without(0), without(1)
BLURRED = DRAWN.filter(ImageFilter.GaussianBlur(9))


def texts(film: frames.Film) -> set[str]:
    return {code.text for reading in film.readings for code in reading.codes}


@pytest.mark.parametrize(("pictures", "settled", "looks", "expected"), [
    ([DRAWN] * 9, 0, 1, BOTH),
    ([DRAWN] * 9, 3, 4, BOTH),
    ([BARE, BARE, DRAWN, BARE], 0, 3, BOTH),
    ([NO_CAPSULE, NO_CAPSULE, NO_LINK, BARE], 0, 3, BOTH),
    ([NO_CAPSULE, BARE], 0, 2, {LABEL.link_text}),
    ([BARE, BARE], 0, 2, set()),
    ([], 0, 0, set()),
])  # fmt: skip
def test_frames_are_joined_until_every_label_has_its_capsule(pictures: list[Image.Image], settled: int, looks: int,
                                                             expected: set[str]) -> None:  # fmt: skip
    """Link and capsule may come from different frames; the rest is not looked at once all is known and settled."""
    film = join(iter(pictures), settled_looks=settled)
    assert (film.looks, texts(film)) == (looks, expected)


def test_frames_that_bring_nothing_new_are_not_kept() -> None:
    """One reading stands for each new code."""
    assert len(join(iter([DRAWN] * 5), settled_looks=10).readings) == 1


def test_a_damaged_code_in_frames_is_told() -> None:
    """A code whose data lies under dirt in every frame."""
    picture, box = DRAWN.copy(), LAYOUT.codes[0].box
    picture.paste(90, (box.left + 60, box.top + 110, box.right - 20, box.bottom - 110))
    assert (join(iter([picture]), settled_looks=0).damaged, join(iter([BARE]), settled_looks=0).damaged) == (True, False)


def test_progress_counts_frames() -> None:
    """Looked at, and in all."""
    told: list[tuple[int, int]] = []
    join(iter([BARE] * 3), settled_looks=0, progress=lambda *counts: told.append(counts), total=3)
    assert told == [(1, 3), (2, 3), (3, 3)]


def film_of(path: Path, pictures: list[Image.Image], *, fps: int = 8) -> Path:
    """A film, each picture one frame, drawn in the middle of a grey wall."""
    writer = cv2.VideoWriter(str(path), cv2.VideoWriter_fourcc(*"MJPG"), fps, (960, 720))
    for picture in pictures:
        frame = np.full((720, 960, 3), 128, np.uint8)
        frame[100 : 100 + picture.height, 120 : 120 + picture.width] = np.asarray(picture)[:, :, None]
        writer.write(frame)
    writer.release()
    return path


def test_a_film_is_read(tmp_path: Path) -> None:
    """Blurred frames first, then a code at a time."""
    film = read_film(film_of(tmp_path / "film.avi", [BLURRED, NO_CAPSULE, BLURRED, NO_LINK]))
    assert (texts(film), film.looks) == (BOTH, 4)


def test_eight_frames_of_a_second_are_enough(tmp_path: Path) -> None:
    """Of a film with 24 frames a second every third frame is looked at."""
    assert read_film(film_of(tmp_path / "film.avi", [BARE] * 12, fps=24)).looks == 4


def test_a_film_past_several_labels_gives_them_all(tmp_path: Path) -> None:
    """A second later comes the next label: the first one's being complete does not end the film."""
    other = raster(lay_out(OTHER, MEDIA["60x40"])).convert("L")
    film = read_film(film_of(tmp_path / "film.avi", [DRAWN, *[BARE] * 8, other]))
    assert texts(film) == BOTH | {OTHER.link_text}


@pytest.mark.parametrize("data", [b"", b"hello", b"RIFF\x00\x00\x00\x00AVI LIST"])
def test_what_is_no_film_is_refused(tmp_path: Path, data: bytes) -> None:
    """An empty file, a text and the mere beginning of a film."""
    (tmp_path / "film.avi").write_bytes(data)
    with pytest.raises(LabelError) as caught:
        read_film(tmp_path / "film.avi")
    assert (caught.value.kind, bool(caught.value.hint)) == ("not-a-video", True)


def test_a_missing_film_is_refused(tmp_path: Path) -> None:
    """A name without a file."""
    with pytest.raises(LabelError) as caught:
        read_film(tmp_path / "none.mp4")
    assert caught.value.kind == "not-a-video"


@pytest.fixture
def without_opencv(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """A computer on which OpenCV is not installed."""
    load = builtins.__import__

    def refuse(name: str, *rest: object, **more: object) -> object:
        if name == "cv2":
            raise ImportError(name)
        return load(name, *rest, **more)  # type: ignore[arg-type]

    monkeypatch.delitem(sys.modules, "cv2")
    monkeypatch.setattr(builtins, "__import__", refuse)
    yield


@pytest.mark.usefixtures("without_opencv")
@pytest.mark.parametrize("read", [lambda: read_film(Path("film.mp4")), lambda: read_camera(0)])
def test_without_opencv_films_are_refused_with_what_to_install(read: object) -> None:
    """Before the film is even looked for."""
    assert callable(read)
    with pytest.raises(LabelError) as caught:
        read()
    assert caught.value.kind == "no-video" and "gearkeep[video]" in caught.value.hint


class Camera:
    """A camera that sees these pictures, or none at all."""

    def __init__(self, pictures: list[Image.Image]) -> None:
        self.pictures, self.released = pictures, False

    def isOpened(self) -> bool:
        return bool(self.pictures)

    def grab(self) -> bool:
        return bool(self.pictures)

    def retrieve(self) -> tuple[bool, object]:
        return True, np.asarray(self.pictures.pop(0).convert("RGB"))

    def release(self) -> None:
        self.released = True


@pytest.mark.parametrize(("pictures", "left"), [([NO_CAPSULE, DRAWN, BARE, BARE], 2), ([BARE, DRAWN], 0)])
def test_a_camera_stops_at_once_when_all_is_read(monkeypatch: pytest.MonkeyPatch, pictures: list[Image.Image], left: int) -> None:
    """Nobody is kept waiting, and the camera is let go."""
    camera = Camera(list(pictures))
    monkeypatch.setattr(cv2, "VideoCapture", lambda _: camera)
    assert texts(read_camera(0)) == BOTH
    assert (len(camera.pictures), camera.released) == (left, True)


def test_a_missing_camera_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """With its number."""
    monkeypatch.setattr(cv2, "VideoCapture", lambda _: Camera([]))
    with pytest.raises(LabelError, match="camera 7") as caught:
        read_camera(7)
    assert caught.value.kind == "no-camera"
