"""Films and cameras: what successive frames say, joined, until every label seen is read whole."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from PIL import Image

from labels.errors import LabelError
from labels.reading import Reading, links_without_capsule, read_image

FILM_SUFFIXES = frozenset({".mp4", ".m4v", ".mov", ".avi", ".mkv", ".webm"})
LOOKS_PER_S = 8
FALLBACK_FPS = 25
# Other frames come soon: one frame is not worth a whole ladder of tries.
FRAME_EFFORT_PIXELS = 4_000_000
# A camera that is moved along a row of labels reaches the next one within that time; then a film counts as read.
SETTLED_LOOKS = 3 * LOOKS_PER_S
CAMERA_S = 60

Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Film:
    """What frames gave. readings: those with a code that none before had; looks: frames looked at; damaged: whether any
    frame held a code that could not be decoded.
    """

    readings: tuple[Reading, ...]
    looks: int
    damaged: bool


def read_film(path: Path, progress: Progress | None = None) -> Film:
    """Read a film, eight frames of each second. Stops once every label seen has its capsule and for three seconds nothing
    new came. progress: called with frames looked at and frames in all.

    Raises LabelError: no-video (OpenCV is missing), not-a-video.
    """
    cv2 = _opencv(f"{path} is a film")
    if not path.is_file():
        raise LabelError(f"There is no file {path}.", kind="not-a-video", hint="Check the name.")
    capture = cv2.VideoCapture(str(path))
    try:
        if not capture.isOpened():
            raise LabelError(f"{path} is not a film that can be read.", kind="not-a-video",
                             hint="Give an MP4, MOV, AVI, MKV or WebM file, or photographs.")
        step = max(1, round((capture.get(cv2.CAP_PROP_FPS) or FALLBACK_FPS) / LOOKS_PER_S))
        total = int(max(0, capture.get(cv2.CAP_PROP_FRAME_COUNT))) // step
        film = join(_frames(cv2, capture, step), settled_looks=SETTLED_LOOKS, progress=progress, total=total)
    finally:
        capture.release()
    if not film.looks:
        raise LabelError(f"{path} holds no frame that can be read.", kind="not-a-video", hint="Take the film again.")
    return film


def read_camera(number: int, progress: Progress | None = None) -> Film:
    """Read from a camera (0: the first) until every label seen has its capsule, for a minute at most.

    Raises LabelError: no-video (OpenCV is missing), no-camera.
    """
    cv2 = _opencv("A camera was asked for")
    capture = cv2.VideoCapture(number)
    try:
        if not capture.isOpened():
            raise LabelError(f"There is no camera {number}.", kind="no-camera",
                             hint="Cameras count from 0. Another program may be using it.")
        until = time.monotonic() + CAMERA_S
        return join(_until(_frames(cv2, capture, 1), until), settled_looks=0, progress=progress, total=CAMERA_S * LOOKS_PER_S)
    finally:
        capture.release()


def join(frames: Iterator[Image.Image], *, settled_looks: int, progress: Progress | None = None, total: int = 0) -> Film:
    """Read frames until every label seen has its capsule and `settled_looks` frames brought nothing new."""
    kept: list[Reading] = []
    texts: set[str] = set()
    looks = quiet = 0
    damaged = False
    for frame in frames:
        reading = read_image(frame, effort_pixels=FRAME_EFFORT_PIXELS)
        looks += 1
        damaged = damaged or reading.damaged > 0
        new = {code.text for code in reading.codes} - texts
        quiet = 0 if new else quiet + 1
        if new:
            kept.append(reading)
            texts |= new
        if progress is not None:
            progress(looks, max(total, looks))
        if texts and not links_without_capsule(texts) and quiet >= settled_looks:
            break
    return Film(readings=tuple(kept), looks=looks, damaged=damaged)


def _frames(cv2: Any, capture: Any, step: int) -> Iterator[Image.Image]:
    """Every step-th frame as a grey picture; the others are not even unpacked."""
    number = 0
    while capture.grab():
        if number % step == 0:
            good, frame = capture.retrieve()
            if good:
                yield Image.fromarray(frame if frame.ndim == 2 else cv2.cvtColor(frame, cv2.COLOR_BGR2GRAY))
        number += 1


def _until(frames: Iterator[Image.Image], until_s: float) -> Iterator[Image.Image]:
    for frame in frames:
        yield frame
        if time.monotonic() > until_s:
            return


def _opencv(what: str) -> Any:
    # Its own warnings of cameras that are not there would stand before ours.
    os.environ.setdefault("OPENCV_LOG_LEVEL", "ERROR")
    try:
        import cv2
    except ImportError as problem:
        raise LabelError(f"{what}, and films are read with OpenCV, which is not installed.", kind="no-video",
                         hint="pip install 'gearkeep[video]'; or give photographs.") from problem
    return cv2
