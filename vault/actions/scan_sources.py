"""What a scan is given: picture files, PDFs, folders of them, films, a camera; and the codes in each."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from labels.errors import LabelError
from labels.frames import FILM_SUFFIXES, Film, read_camera, read_film
from labels.pictures import PICTURE_SUFFIXES
from labels.reading import Reading, nothing_read, read_pages

Progress = Callable[[str, int, int], None]


def quiet(what: str, done: int, total: int) -> None:
    """Shows nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """One picture, one page of a PDF, or one film. file: what to hand to another command. readings: of a film one for each
    frame that brought something new.
    """

    name: str
    file: str
    readings: tuple[Reading, ...]
    film: bool = False


Found = Source | tuple[str, LabelError]


def gather(names: Sequence[str], *, camera: int | None, progress: Progress = quiet) -> Iterator[Found]:
    """Every source's codes, or its name and why there are none; one that cannot be read does not stop the others."""
    files: list[Found | Path] = [file for name in names for file in _files(name)]
    for number, file in enumerate(files, 1):
        if isinstance(file, Path):
            yield from _read(file, progress)
        else:
            yield file
        if len(files) > 1:
            progress("pictures", number, len(files))
    if camera is not None:
        yield from _camera(camera, progress)


def _files(name: str) -> Iterator[Found | Path]:
    path = Path(name)
    if not path.is_dir():
        yield path
        return
    kinds = PICTURE_SUFFIXES | FILM_SUFFIXES
    held = sorted(file for file in path.iterdir() if file.is_file() and file.suffix.lower() in kinds)
    yield from held
    if not held:
        yield name, LabelError(f"The folder {path} holds no picture, PDF or film.", kind="no-pictures",
                               hint="Files are known by their endings: " + ", ".join(sorted(kinds)) + ".")


def _read(path: Path, progress: Progress) -> Iterator[Found]:
    name = str(path)
    try:
        if path.suffix.lower() in FILM_SUFFIXES:
            yield _film(name, read_film(path, lambda done, total: progress(name, done, total)))
            return
        readings = list(read_pages(path, lambda done, total: progress(name, done, total)))
    except LabelError as problem:
        yield name, problem
        return
    if len(readings) == 1:
        yield _source(name, name, readings[0])
        return
    full = [(number, one) for number, one in enumerate(readings, 1) if one.codes or one.unread]
    if not full:
        yield name, nothing_read(name, damaged=0)
    for number, one in full:
        yield _source(f"{name}, page {number}", name, one)


def _source(name: str, file: str, reading: Reading) -> Found:
    if not reading.codes:
        return name, nothing_read(name, damaged=reading.damaged)
    return Source(name=name, file=file, readings=(reading,))


def _film(name: str, film: Film) -> Found:
    if not film.readings:
        return name, nothing_read(f"{name} ({film.looks} frames)", damaged=int(film.damaged))
    return Source(name=name, file=name, readings=film.readings, film=True)


def _camera(number: int, progress: Progress) -> Iterator[Found]:
    name = f"camera {number}"
    try:
        yield _film(name, read_camera(number, lambda done, total: progress(name, done, total)))
    except LabelError as problem:
        yield name, problem
