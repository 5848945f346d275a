"""gearkeep rebuild --from-labels on the command line, and what works in the vault that it makes."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from lost_vault import LostVault
from small_vault import Cli, SmallVault

from vault.trust.keys import fingerprint

FROM_LABELS = ("rebuild", "--from-labels", "photos", "--out", "new.db", "--authority")


@pytest.fixture
def lost(ready: SmallVault) -> LostVault:
    """Photographs of two labels and the list of signers."""
    (ready.folder / "photos").mkdir()
    made = LostVault(small=ready, photos=ready.folder / "photos", out=ready.folder / "new.db")
    made.label("CH-007")
    made.label("CH-008")
    made.list_signers()
    return made


def test_a_vault_comes_back_and_is_worked_with(lost: LostVault, cli: Cli) -> None:
    """Signed for at once; then show, find, history, scan and audit answer, and the rating is asked for until loaded."""
    told = json.loads(cli(*FROM_LABELS, lost.authority, "--json", key="authority").stdout)
    assert set(told) == {"vault", "authority", "files", "signers", "accepted", "tags", "failures", "findings", "missing"}
    assert (told["vault"], told["accepted"], len(told["tags"]), told["failures"]) == ("new.db", True, 2, [])
    assert told["authority"] == fingerprint(bytes.fromhex(lost.authority))
    shown = cli("show", "@CH-007", vault="new.db")
    assert shown.exit_code == 1 and "The rating of T1 revision 1 is not in this vault" in shown.stdout
    assert json.loads(cli("show", "@CH-007", "--json", vault="new.db").stdout)["rating"] is None
    for kind in ("type", "driver", "circuit", "line"):
        demo = Path(__file__).resolve().parents[2] / "demo" / f"{kind}s.toml"
        assert cli(kind, "load", str(demo), key="authority", vault="new.db").exit_code == 0
    for words in ("show @CH-007", "find CH-007", "history @CH-007", "audit", "fit @CH-007", "scan photos/CH-007.png", "rebuild"):
        assert (words, cli(*words.split(), vault="new.db").exit_code) == (words, 0)


@pytest.mark.usefixtures("lost")
def test_the_authority_s_own_key_file_says_which_authority(cli: Cli) -> None:
    """Whoever has it needs no paper; somebody else's key is refused."""
    assert cli(*FROM_LABELS[:-1], key="I01").exit_code != 0
    done = cli(*FROM_LABELS[:-1], "--json", key="authority")
    assert (done.exit_code, json.loads(done.stdout)["accepted"]) == (0, True)


def test_a_picture_of_another_label_is_listed(lost: LostVault, cli: Cli) -> None:
    """A bin's label brings no luminaire back, and says so."""
    assert cli("mark", "bin", "MAIN", "A1", "--out", "photos/bin.png").exit_code == 0
    done = cli(*FROM_LABELS, lost.authority, "--json")
    assert [failure["kind"] for failure in json.loads(done.stdout)["failures"]] == ["place-code"]


def test_without_the_key_the_authority_accepts_later(lost: LostVault, cli: Cli) -> None:
    """The command says how; until then an audit fails."""
    done = cli(*FROM_LABELS, lost.authority)
    assert done.exit_code == 0 and "rebuild --accept-recovered" in done.stdout
    audited = cli("audit", vault="new.db")
    assert audited.exit_code == 1 and audited.stdout.count("recovered record not accepted") == 2
    assert cli("rebuild", "--accept-recovered", vault="new.db").exit_code == 2
    accepted = cli("rebuild", "--accept-recovered", "--json", vault="new.db", key="authority")
    assert (accepted.exit_code, json.loads(accepted.stdout)) == (0, {"accepted": 2})
    assert cli("audit", vault="new.db").exit_code == 0


def test_a_picture_that_failed_is_listed_with_the_reason(lost: LostVault, cli: Cli) -> None:
    """Exit code 1, and the others still come back; what no label carries is named."""
    (lost.photos / "blurred.png").write_bytes(b"nothing")
    done = cli(*FROM_LABELS, lost.authority, key="authority")
    assert done.exit_code == 1 and "blurred.png is not a picture" in done.stdout
    assert "NOT ON ANY LABEL" in done.stdout and "T1 revision 1" in done.stdout and lost.out.exists()


def test_nothing_found_is_a_failure(lost: LostVault, cli: Cli) -> None:
    """No vault is made and the exit code says so."""
    for picture in lost.photos.glob("*.png"):
        picture.unlink()
    done = cli(*FROM_LABELS, lost.authority)
    assert done.exit_code == 1 and "No vault was made" in done.stdout and not lost.out.exists()


def test_the_signers_page_may_lie_elsewhere(lost: LostVault, cli: Cli) -> None:
    """Pages exported as PDF, photographed, and named one by one."""
    (lost.photos / "signers.json").unlink()
    assert cli("signer", "export", "pages.pdf").exit_code == 0
    assert cli("signer", "export", "pages.pdf").exit_code == 2
    (lost.small.folder / "elsewhere").mkdir()
    pictures = lost.photograph_signers()
    moved = [str(picture.rename(lost.small.folder / "elsewhere" / picture.name)) for picture in pictures]
    named = [word for picture in moved for word in ("--signers", picture)]
    assert cli(*FROM_LABELS, lost.authority, *named, key="authority").exit_code == 0


@pytest.mark.parametrize("words", [
    "rebuild --from-labels photos --out new.db", "rebuild --from-labels photos --authority 00", "rebuild --out new.db",
    "rebuild --authority 00", "rebuild --signers photos/signers.json",
    "rebuild --from-labels missing --out new.db --authority 00",
    "rebuild --from-labels photos --out new.db --authority 00", "rebuild --from-labels photos --out vault.db --authority 00",
    "rebuild --from-labels photos --out new.db --authority 00 --accept-recovered",
])
def test_wrong_use_is_told_and_nothing_is_made(lost: LostVault, cli: Cli, words: str) -> None:
    """What is missing or too much is said in a sentence."""
    done = cli(*words.split())
    assert done.exit_code == 2 and done.stderr.startswith("error: ") and not lost.out.exists()


def test_another_authority_is_refused(lost: LostVault, cli: Cli) -> None:
    """Exit code 1, with the fingerprint that was found."""
    done = cli(*FROM_LABELS, "ab" * 32)
    assert done.exit_code == 1 and fingerprint(bytes.fromhex(lost.authority)) in done.stderr and not lost.out.exists()
