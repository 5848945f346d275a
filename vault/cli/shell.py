"""What all commands share: opening the vault, keys, errors, exit codes, output as text or JSON."""

from __future__ import annotations

import functools
import json
import os
import shutil
import sys
import time
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from vault.errors import GearkeepError, UsageProblem

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

    from vault.actions.desk import Desk
    from vault.db.session import Vault
    from vault.domain.findings import Finding

DEFAULT_VAULT = "vault.db"
FAILED, WRONG_USE = 1, 2
# Two people's clocks may well differ by this much.
CLOCK_TOLERANCE_S = 600


_STOPPED = GearkeepError("Stopped here.", kind="interrupted",
                         hint="The vault is whole: what was told as signed above stands, nothing else was signed.")


def json_text(value: object) -> str:
    """JSON as every command prints it."""
    return visible(json.dumps(value, indent=2, ensure_ascii=False))


def _report(problem: Any, as_json: bool) -> int:
    if as_json:
        click.echo(json_text({"error": {"kind": problem.kind, "what": problem.what, "hint": problem.hint}}))
    else:
        click.echo(visible(f"error: {problem.what}"), err=True)
        if problem.hint:
            click.echo(visible(f"hint: {problem.hint}"), err=True)
    return WRONG_USE if isinstance(problem, UsageProblem) else FAILED


def command(group: click.Group | None = None, *, name: str | None = None, example: str) -> Callable[..., click.Command]:
    """A click command with --json, an example in its help, and errors turned into exit codes.

    The function returns its exit code (None for 0) and gets `as_json`.
    """

    def decorate(function: Callable[..., int | None]) -> click.Command:
        @functools.wraps(function)
        def run(*args: Any, as_json: bool, **kwargs: Any) -> None:
            try:
                code = function(*args, as_json=as_json, **kwargs)
            except GearkeepError as problem:
                code = _report(problem, as_json)
            except (KeyboardInterrupt, click.Abort):
                code = _report(_STOPPED, as_json)
            except Exception as problem:
                # labels/ knows nothing of the vault and has an error class of the same shape of its own.
                if type(problem).__name__ != "LabelError":
                    raise
                code = _report(problem, as_json)
            else:
                if not as_json:
                    _say_clock()
            sys.exit(code or 0)

        made = click.option("--json", "as_json", is_flag=True, help="Print JSON.")(run)
        maker = group.command if group is not None else click.command
        command_name = name or function.__name__.replace("_", "-")
        return maker(name=command_name, epilog=f"Example: {example}")(made)

    return decorate


def _options() -> dict[str, Any]:
    found: dict[str, Any] = click.get_current_context().find_root().obj
    return found


def vault_address() -> str:
    """The vault's file or URL as given, else the default."""
    return _options()["vault"] or DEFAULT_VAULT


def vault_was_given() -> bool:
    """Whether a vault was named or the default one is there."""
    return bool(_options()["vault"]) or Path(DEFAULT_VAULT).is_file()


def open_vault(*, to_sign: bool = False) -> Vault:
    """Open the vault. to_sign: what is read must be the newest, so a copy given by --read-url is left aside.

    Raises UsageProblem when there is none.
    """
    from vault.db.session import Vault

    read_url = None if to_sign else _options().get("read_url")
    vault = Vault(vault_address(), read_address=read_url)
    if read_url:
        _say_how_far_behind(vault)
    return vault


def _say_how_far_behind(vault: Vault) -> None:
    lag = vault.lag()
    if not lag.behind:
        return
    since = "" if lag.seconds is None else f" It last took something over {lag.seconds:.0f} s ago."
    missing = "The main server does not answer; nobody can say what this copy lacks." if lag.entries is None else (
        f"This was read from a copy that lacks the newest {lag.entries} {'entry' if lag.entries == 1 else 'entries'}.")
    click.echo(f"note: {missing}{since}", err=True)


def passphrase(*, confirm: bool = False) -> bytes:
    """The passphrase from a file descriptor, the environment, or a prompt; never from an argument."""
    number = _options()["passphrase_fd"]
    if number is not None:
        try:
            with os.fdopen(number, "rb", closefd=False) as stream:
                return stream.readline().rstrip(b"\r\n")
        except OSError as problem:
            raise UsageProblem(f"File descriptor {number} cannot be read.", hint="Open it, for example 3< FILE.") from problem
    said = os.environ.get("GEARKEEP_PASSPHRASE")
    if said is not None:
        return said.encode()
    if not sys.stdin.isatty():
        raise UsageProblem("The key file needs its passphrase.", kind="no-passphrase",
                           hint="Set GEARKEEP_PASSPHRASE or give --passphrase-fd N; here is no terminal to ask on.")
    answer: str = click.prompt("Passphrase", hide_input=True, confirmation_prompt=confirm, err=True)
    return answer.encode()


def _load_key(path: str) -> Ed25519PrivateKey:
    from vault.trust.keys import read_key_file

    return read_key_file(Path(path), passphrase())


def signing_key() -> Callable[[], Ed25519PrivateKey] | None:
    """What loads the signer's key file, or None when none was named."""
    key = _options()["key"]
    return (lambda: _load_key(key)) if key else None


def key_loader(path: Path) -> Callable[[], Ed25519PrivateKey]:
    """What loads another signer's key file when it is needed."""
    return lambda: _load_key(str(path))


def desk() -> Desk:
    """The vault with the signer's keys, asked for only when something is signed."""
    from vault.actions.desk import Desk

    checkpoint = _options()["checkpoint_key"]
    made = Desk(vault=open_vault(to_sign=bool(_options()["key"] or checkpoint)), key_source=signing_key(),
                checkpoint_key_source=(lambda: _load_key(checkpoint)) if checkpoint else None)
    if _options()["key"]:
        # Asked now: what is about to be signed will be the newest itself.
        _options()["signing"] = made, made.clock_behind_s()
    return made


def _say_clock() -> None:
    """That something was signed with a clock that is behind is told behind the command's own words."""
    at, behind_s = (click.get_current_context().find_root().obj or {}).get("signing", (None, 0))
    if at is not None and at.has_signed and behind_s >= CLOCK_TOLERANCE_S:
        told = f"{behind_s // 86_400} days" if behind_s >= 2 * 86_400 else f"{behind_s // 60} minutes"
        click.echo(f"note: This computer's clock is {told} behind the vault's newest entry, and what was signed bears its time. "
                   "The journal's order is right all the same. Set the clock.", err=True)


def refuse_existing(*paths: Path, overwrite: bool = False) -> None:
    """Raises UsageProblem when a file that would be written is there already: nobody's file is replaced in silence.

    overwrite: whether the command has an option for that.
    """
    for path in paths:
        if path.exists():
            raise UsageProblem(f"{path} is there already.", kind="exists",
                               hint="Name another file, or give --overwrite." if overwrite else
                               "Name another file, or move that one away.")


def visible(text: str) -> str:
    """A text whose every character is seen: what would steer a terminal or turn the direction of writing is spelled out.

    Lines and tabs stay as they are. It is spelled as JSON spells it, so that JSON stays what it was.
    """
    if text.translate(_LINES_AND_TABS).isprintable():
        return text
    return "".join(one if one.isprintable() or one in "\n\t" else _spelled(one) for one in text)


_LINES_AND_TABS = {ord("\n"): None, ord("\t"): None}


def _spelled(one: str) -> str:
    units = one.encode("utf-16-be", "surrogatepass")
    return "".join(f"\\u{units[at : at + 2].hex()}" for at in range(0, len(units), 2))


def say(*lines: str) -> None:
    """Print lines of text."""
    for line in lines:
        click.echo(visible(line))


def table(headings: Sequence[str], rows: Iterable[Sequence[object]]) -> None:
    """A table in columns: folded to a terminal that is too narrow for it, plain elsewhere."""
    from vault.exchange.in_columns import in_columns

    cells = [["" if cell is None else visible(str(cell)) for cell in row] for row in rows]
    for line in in_columns([list(headings), *cells], shutil.get_terminal_size().columns if sys.stdout.isatty() else None):
        click.echo(line)


def finding_lines(findings: Iterable[Finding], *, notes: bool = True) -> list[str]:
    """Findings as lines: severity, where, sentence, figures, source."""
    lines = []
    for finding in findings:
        if finding.severity.value == "note" and not notes:
            continue
        where = f"{finding.where}: " if finding.where else ""
        lines.append(f"  {finding.severity.value.upper():8}{where}{finding.says}")
        unit = f" {finding.unit}" if finding.unit and finding.unit not in finding.found else ""
        lines.append(f"          found {finding.found}{unit}; allowed {finding.allowed} [{finding.rule}; {finding.source}]")
    return lines


class Progress:
    """Shows how far a long step is: nothing for the first second, then rate and time left on standard error."""

    def __init__(self, what: str) -> None:
        self._what, self._start, self._shown = what, 0.0, 0.0

    def __call__(self, done: int, total: int) -> None:
        now = time.monotonic()
        # The clock starts with the first piece done: another step may have come before.
        self._start = self._start or now
        spent = now - self._start
        pause = 0.2 if sys.stderr.isatty() else 5.0
        if spent < 1.0 or (now - self._shown < pause and done < total) or (not self._shown and done >= total):
            return
        self._shown = now
        left = spent / done * (total - done) if done else 0.0
        end = "\r" if sys.stderr.isatty() and done < total else "\n"
        click.echo(f"{visible(self._what)}: {done} of {total}, {done / spent:.0f} a second, {left:.0f} s left   ", err=True,
                   nl=False)
        click.echo(end, err=True, nl=False)
