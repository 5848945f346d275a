"""A vault that is lost but for photographs of its labels and of its signers' pages."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pypdfium2
from PIL import Image
from small_vault import HOST, NOW_S, SmallVault

from labels.code import QUIET_MODULES, make_symbol
from vault.actions.checkpoint_page import write_signers_page
from vault.actions.desk import Desk
from vault.actions.keeping import audit, signer_list
from vault.actions.luminaire import View, find_tag, view
from vault.actions.recovering import Recovered, recover
from vault.db.session import Vault
from vault.domain.record import Reason, Record
from vault.trust.capsule import capsule_text, link
from vault.trust.keys import public_bytes
from vault.trust.statements import Kind
from vault.trust.verify import sign


def photograph(path: Path, *texts: str) -> Path:
    """A picture of codes side by side, three pixels a module."""
    squares = [np.pad(make_symbol(text, level="M", max_version=40).matrix, QUIET_MODULES) for text in texts]
    tallest = max(len(square) for square in squares)
    row = np.hstack([np.pad(square, ((0, tallest - len(square)), (0, 0))) for square in squares])
    Image.fromarray(np.where(np.kron(row, np.ones((3, 3), dtype=bool)), 0, 255).astype(np.uint8)).save(path)
    return path


def photograph_pages(pdf: Path, folder: Path) -> list[Path]:
    """Every page of a PDF as a picture at 200 dpi."""
    document = pypdfium2.PdfDocument(pdf)
    pictures = []
    for number in range(len(document)):
        page = document[number]
        pictures.append(folder / f"{pdf.stem}-{number}.png")
        page.render(scale=200 / 72).to_pil().save(pictures[-1])
        page.close()
    document.close()
    return pictures


@dataclass(slots=True, kw_only=True)
class LostVault:
    """The vault before it is lost, the folder of photographs, and where the new vault goes."""

    small: SmallVault
    photos: Path
    out: Path

    @property
    def authority(self) -> str:
        return public_bytes(self.small.keys["authority"]).hex()

    def label(self, reference: str, name: str | None = None) -> Path:
        """Photograph a luminaire's newest label."""
        return photograph(self.photos / f"{name or reference}.png", self.small.label_text(reference))

    def capsule(self, reference: str, signed: bytes, name: str) -> Path:
        """Photograph a label with any record under a luminaire's link."""
        return photograph(self.photos / f"{name}.png", capsule_text(link(HOST, self.small.tags[reference]), signed))

    def next_record(self, reference: str, **changes: Any) -> Record:
        """What version 2 of a luminaire could say."""
        seen = self.small.seen(reference)
        return replace(seen.record, version=2, predecessors=seen.statement.digest[:16], reason=Reason.SETTINGS_CHANGED, **changes)

    def signed(self, record: Record, code: str, log_id: bytes | None = None) -> bytes:
        """A record signed by anybody, outside the vault."""
        with self.small.open().reading() as session:
            own = session.genesis.log_id
        return sign(Kind.RECORD, record, self.small.keys[code], log_id=log_id or own)

    def list_signers(self) -> Path:
        """The list of signers as a file among the photographs."""
        path = self.photos / "signers.json"
        path.write_text(signer_list(self.small.open()), encoding="utf-8")
        return path

    def photograph_signers(self) -> list[Path]:
        """The signers' pages, printed and photographed."""
        return photograph_pages(write_signers_page(self.small.open(), self.small.folder / "signers.pdf"), self.photos)

    def recover(self, *, key: str | None = "authority", authority: str | None = None, **others: Any) -> Recovered:
        """Make the new vault; key: who signs for it."""
        source: Callable[[], Any] | None = (lambda: self.small.keys[key]) if key else None
        given: dict[str, Any] = {"signer_files": (), **others}
        return recover(self.photos, authority=authority or self.authority, out=self.out, key=source, now_s=lambda: NOW_S, **given)

    def desk(self, code: str) -> Desk:
        """Somebody at the new vault."""
        return Desk(vault=Vault(str(self.out)), key_source=lambda: self.small.keys[code], now_s=lambda: NOW_S + 60)

    def seen(self, reference: str) -> View:
        """A luminaire as the new vault shows it."""
        with Vault(str(self.out)).reading() as session:
            return view(session, find_tag(session, self.small.tags[reference]))

    def whys(self, *checkpoints: Path) -> list[str]:
        """Failure classes that an audit of the new vault names."""
        return [fault.why.split(":")[0] for fault in audit(Vault(str(self.out)), checkpoints).faults]
