"""What pictures of labels and of signers' pages say, gathered before anything of it is trusted."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from labels.errors import LabelError
from labels.reading import read_picture
from vault.actions.keeping import is_checkpoint
from vault.errors import GearkeepError, UsageProblem, VerificationError
from vault.trust.capsule import LabelText, parse_text
from vault.trust.cose import open_envelope
from vault.trust.grant_code import GrantCode, is_grant_code, parse_grant_text
from vault.trust.place_link import parse_place
from vault.trust.trustlist import load

Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Failure:
    """What gave nothing, or could not be trusted: a file (or several by name), and why."""

    source: str
    kind: str
    why: str
    hint: str = ""


def failure(source: str, problem: GearkeepError | LabelError) -> Failure:
    """A failure in the words of an error."""
    return Failure(source=source, kind=problem.kind, why=problem.what, hint=problem.hint)


@dataclass(frozen=True, slots=True, kw_only=True)
class SignerStatement:
    """A statement about signers as it was found. place: what the page or list says, which nobody signed."""

    source: str
    place: int
    signed_bytes: bytes


@dataclass(slots=True, kw_only=True)
class Gathered:
    """Everything read. printed: count of codes of a signers' page -> numbers of those that were read."""

    files: int = 0
    statements: list[SignerStatement] = field(default_factory=list)
    printed: dict[int, set[int]] = field(default_factory=dict)
    labels: list[tuple[str, LabelText]] = field(default_factory=list)
    failures: list[Failure] = field(default_factory=list)


def files_in(folder: Path) -> list[Path]:
    """Every file of a folder and the folders in it, in the order of their names. Raises UsageProblem."""
    if not folder.is_dir():
        raise UsageProblem(f"{folder} is not a folder.", kind="cannot-open", hint="Give the folder with the photographs.")
    return sorted(path for path in folder.rglob("*")
                  if path.is_file() and not any(part.startswith(".") for part in path.relative_to(folder).parts))


def gather(files: Sequence[Path], progress: Progress) -> Gathered:
    """Read pictures and lists of signers. Every file that gives nothing is a failure; none stops the others."""
    found = Gathered(files=len(files))
    for number, path in enumerate(files, 1):
        try:
            if path.suffix.lower() == ".json":
                _take_list(found, path)
            else:
                _take_texts(found, str(path), [code.text for code in read_picture(path)])
        except (GearkeepError, LabelError) as problem:
            found.failures.append(failure(str(path), problem))
        progress(number, len(files))
    return found


def _take_list(found: Gathered, path: Path) -> None:
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as problem:
        raise GearkeepError(f"{path} cannot be read as text.", kind="unreadable-file") from problem
    found.statements += [SignerStatement(source=str(path), place=place, signed_bytes=signed)
                         for place, signed in load(text).statements]


def _take_texts(found: Gathered, source: str, texts: Iterable[str]) -> None:
    known = list(texts)
    if known and all(parse_place(text) is not None for text in known):
        raise VerificationError("It shows the label of a bin, a spare or a control line, and no luminaire's.", kind="place-code")
    for text in known:
        try:
            if is_grant_code(text):
                code = parse_grant_text(text)
                open_envelope(code.signed_bytes)
                _take_code(found, source, code)
            elif not is_checkpoint(text) and parse_place(text) is None:
                found.labels.append((source, parse_text(text)))
        except GearkeepError as problem:
            found.failures.append(failure(source, problem))


def _take_code(found: Gathered, source: str, code: GrantCode) -> None:
    found.statements.append(SignerStatement(source=source, place=code.place, signed_bytes=code.signed_bytes))
    found.printed.setdefault(code.count, set()).add(code.number)
