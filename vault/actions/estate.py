"""The checkpoint of an estate: many vaults signed for in one statement, and later held against it."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import closing
from dataclasses import dataclass
from enum import Enum
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from vault.actions.witness import LOG_NAMES, Verdict, hold
from vault.db import queries
from vault.db.audit import Kept
from vault.db.copying import state_of
from vault.db.proofs import consistency_proof
from vault.db.session import Session, Vault
from vault.db.tables import MAIN, STOCK
from vault.errors import GearkeepError, UsageProblem, VerificationError
from vault.exchange.files import read_bytes, write_whole
from vault.trust.estate import EstateCheckpoint, SiteState, estate_text, parse_estate_text, sign_estate, verify_estate
from vault.trust.keys import fingerprint, public_bytes
from vault.trust.merkle import verify_consistency


class SiteVerdict(Enum):
    """A vault against what the estate's checkpoint saw of it."""

    SAME = "same"
    GROWN = "grown"
    ROLLED_BACK = "rolled-back"
    FORKED = "forked"
    MISSING = "missing"
    UNKNOWN = "unknown"
    UNREADABLE = "unreadable"


GOOD = (SiteVerdict.SAME, SiteVerdict.GROWN)


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteAnswer:
    """name: the site's own, empty when its vault is not at hand. before, now: entries of (main, stock); None when not known."""

    verdict: SiteVerdict
    address: str
    name: str
    log_id: bytes | None
    before: tuple[int, int] | None
    now: tuple[int, int] | None
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SignedEstate:
    """What was signed, and the estate's key."""

    body: EstateCheckpoint
    public_key: bytes
    names: tuple[str, ...]


def sign(addresses: Sequence[str], key: Ed25519PrivateKey, *, name: str, out: Path, now_s: int,
         previous: Path | None = None) -> SignedEstate:
    """Sign the state of every site and write it to a new file. previous: the estate's last file, held against the sites first.

    Nothing is signed unless each site agrees with its own newest checkpoints and with `previous`. Raises VerificationError
    (rollback, fork, bad-note, or site-gone when a site of `previous` was not named), UsageProblem.
    """
    if out.exists():
        raise UsageProblem(f"{out} is there already.", kind="exists", hint="Name another file.")
    public = public_bytes(key)
    if previous is not None:
        _refuse_contradicted(check(previous, addresses, public.hex()))
    states: list[SiteState] = []
    names: list[str] = []
    for address in addresses:
        with closing(Vault(address)) as vault, vault.reading() as session:
            _own_checkpoints_agree(session, str(vault.address))
            states.append(_site_state(session))
            names.append(session.genesis.site)
    signed = sign_estate(name, states, key, time_s=now_s)
    write_whole(out, estate_text(signed, public).encode())
    return SignedEstate(body=verify_estate(signed, public), public_key=public, names=tuple(names))


def _refuse_contradicted(answers: Sequence[SiteAnswer]) -> None:
    for one in answers:
        # A site that is new since then is no contradiction.
        if one.verdict not in (*GOOD, SiteVerdict.UNKNOWN):
            raise VerificationError(f"The estate's last checkpoint disagrees: {one.name or one.address or 'a site'}: {one.why}.",
                                    kind={SiteVerdict.ROLLED_BACK: "rollback", SiteVerdict.FORKED: "fork",
                                          SiteVerdict.MISSING: "site-gone"}.get(one.verdict, "cannot-open"),
                                    hint="Nothing was signed. Name every site; keep the last file, and audit that site "
                                         "against its checkpoints.")


def _own_checkpoints_agree(session: Session, address: str) -> None:
    for log in (MAIN, STOCK):
        own = queries.checkpoints(session, log)
        if not own:
            continue
        held = hold(session, [Kept(source=f"{address}, its own checkpoint", note=own[-1][2])])[0]
        if held.verdict is not Verdict.CONSISTENT:
            kind = held.verdict.value if held.verdict is not Verdict.NOT_GOOD else "bad-note"
            raise VerificationError(f"{address} disagrees with its own newest checkpoint: {held.why}.", kind=kind,
                                    hint="Nothing was signed. Run gearkeep audit on that site.")


def _site_state(session: Session) -> SiteState:
    state, genesis = state_of(session), session.genesis
    return SiteState(log_id=genesis.log_id, main_size=state.sizes[MAIN], main_root=state.roots[MAIN],
                     stock_log_id=genesis.stock_log_id, stock_size=state.sizes[STOCK], stock_root=state.roots[STOCK])


def check(path: Path, addresses: Sequence[str], trusted: str) -> list[SiteAnswer]:
    """Hold sites against an estate's file. trusted: the estate's public key or fingerprint, from elsewhere than the file.

    Raises VerificationError when the file is not good, UsageProblem for what is no key.
    """
    body = open_estate(path, trusted)
    wanted = {site.log_id: site for site in body.sites}
    answers = [_answer(address, wanted) for address in addresses]
    seen = {one.log_id for one in answers}
    unseen = [site for site in body.sites if site.log_id not in seen]
    why = "the estate's checkpoint has it, and none of the vaults opened is it"
    return answers + [SiteAnswer(verdict=SiteVerdict.MISSING, address="", name="", log_id=site.log_id, now=None, why=why,
                                 before=(site.main_size, site.stock_size)) for site in unseen]


def open_estate(path: Path, trusted: str) -> EstateCheckpoint:
    """The verified checkpoint in a file, by the key or fingerprint that the caller trusts."""
    try:
        text = read_bytes(path).decode("utf-8")
    except UnicodeDecodeError as problem:
        raise VerificationError(f"{path} is no estate's file.", kind="bad-estate", hint="Give a file that gearkeep estate sign "
                                "wrote.") from problem
    signed, claimed = parse_estate_text(text)
    return verify_estate(signed, _trusted_key(trusted, claimed))


def _trusted_key(trusted: str, claimed: bytes) -> bytes:
    digits = "".join(trusted.split()).lower()
    try:
        given = bytes.fromhex(digits)
    except ValueError:
        given = b""
    if len(given) == 32:
        return given
    if len(given) != 16:
        raise UsageProblem(f"{trusted!r} is neither a public key nor a fingerprint.", kind="bad-key",
                           hint="Give the 64 or 32 hexadecimal figures that gearkeep estate key printed.")
    if digits != fingerprint(claimed).replace(" ", ""):
        raise VerificationError(f"The file is of an estate with another key: its fingerprint is {fingerprint(claimed)}.",
                                kind="unknown-signer", hint="Compare the fingerprint with paper, and ask where the file is from.")
    return claimed


def _answer(address: str, wanted: dict[bytes, SiteState]) -> SiteAnswer:
    try:
        with closing(Vault(address)) as vault, vault.reading() as session:
            shown, site, state = str(vault.address), session.genesis.site, _site_state(session)
            before = wanted.get(state.log_id)
            verdict, why = _against(session, before, state) if before is not None else (
                SiteVerdict.UNKNOWN, "the estate's checkpoint does not have it")
    except UsageProblem:
        raise
    except GearkeepError as problem:
        return SiteAnswer(verdict=SiteVerdict.UNREADABLE, address=address, name="", log_id=None, before=None, now=None,
                          why=problem.what)
    return SiteAnswer(verdict=verdict, address=shown, name=site, log_id=state.log_id,
                      before=(before.main_size, before.stock_size) if before is not None else None,
                      now=(state.main_size, state.stock_size), why=why)


def _against(session: Session, before: SiteState, now: SiteState) -> tuple[SiteVerdict, str]:
    if before.stock_log_id != now.stock_log_id:
        return SiteVerdict.FORKED, "its stock journal is another one"
    logs = ((MAIN, before.main_size, before.main_root, now.main_size, now.main_root),
            (STOCK, before.stock_size, before.stock_root, now.stock_size, now.stock_root))
    for log, size, _, new_size, _ in logs:
        if new_size < size:
            return SiteVerdict.ROLLED_BACK, f"the {LOG_NAMES[log]} journal held {size} entries, it now holds {new_size}"
    for log, size, root_then, new_size, root_now in logs:
        if not size:
            continue
        try:
            verify_consistency(size, new_size, root_then, root_now, consistency_proof(session, size, new_size, log))
        except VerificationError:
            return SiteVerdict.FORKED, f"the first {size} entries of the {LOG_NAMES[log]} journal are not those signed for"
    if (before.main_size, before.stock_size) == (now.main_size, now.stock_size):
        return SiteVerdict.SAME, "nothing was added since"
    return SiteVerdict.GROWN, (f"{now.main_size - before.main_size} entries of the main journal and "
                               f"{now.stock_size - before.stock_size} of the stock journal were added since")
