"""What `rebuild --from-labels` prints, as lines and as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from vault.actions.label_folder import Failure
from vault.actions.recovering import Recovered
from vault.domain.tag import shown


def recovered_json(done: Recovered) -> dict[str, Any]:
    """What came back, as JSON."""
    return {
        "vault": str(done.path) if done.path else None, "authority": done.authority, "files": done.files,
        "signers": done.signers, "accepted": done.accepted,
        "tags": [{"tag": one.tag, "version": one.record.version, "digest": one.digest.hex(), "signer": one.signer,
                  "signer_withdrawn_later": one.withdrawn, "doubtful": one.doubtful,
                  "place": one.record.place, "reference": one.record.reference,
                  "sources": list(one.sources)} for one in done.tags],
        "failures": [{"source": f.source, "kind": f.kind, "why": f.why, "hint": f.hint} for f in done.failures],
        "findings": list(done.findings), "missing": list(done.missing),
    }


def _failed(one: Failure) -> str:
    said = one.why if one.source in one.why else f"{one.source}: {one.why}"
    return f"{said}{f' {one.hint}' if one.hint else ''} [{one.kind}]"


def _block(title: str, lines: Sequence[str]) -> list[str]:
    return ["", title, *(f"  {line}" for line in lines)] if lines else []


def recovered_lines(done: Recovered) -> list[str]:
    """What came back, in words."""
    count = len({one.tag for one in done.tags})
    lines = [f"{count} {'luminaire' if count == 1 else 'luminaires'} came back from {done.files} files, verified under the "
             f"authority {done.authority}.",
             *(f"  {shown(one.tag)}  version {one.record.version}  {one.record.place}, signed by {one.signer}"
               for one in done.tags)]
    if done.path is None:
        lines.append("No vault was made: no label gave a record that could be verified.")
    elif done.accepted:
        lines.append(f"The vault {done.path} is new, and the authority has signed for these records.")
    else:
        lines.append(f"The vault {done.path} is new. Until the authority has signed for these records, an audit names each: "
                     f"gearkeep --vault {done.path} --key authority.key rebuild --accept-recovered")
    lines += _block("LOOK AT", done.findings)
    lines += _block("FAILED", [_failed(f) for f in done.failures])
    return lines + _block("NOT ON ANY LABEL", done.missing)
