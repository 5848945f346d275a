"""The errors of the vault: what happened, whose fault it is, what to do next.

Every refusal is a `GearkeepError`. A shell (command line, web) catches it once, prints `what` after
"error:" and `hint` after "hint:", and keeps the traceback for those who ask for it.
"""

from __future__ import annotations


class GearkeepError(Exception):
    """A refusal that a reader can act on.

    `what` is one plain sentence: what was found and whose fault it is. `hint` says what to do next, and
    may be empty. `kind` is the failure class in kebab-case, the part that programs and test vectors
    hold on to ("bad-tag", "tag-in-use").
    """

    def __init__(self, what: str, *, hint: str = "", kind: str = "error") -> None:
        super().__init__(what)
        self.what = what
        self.hint = hint
        self.kind = kind


class UsageProblem(GearkeepError):
    """The command was used wrongly: nothing was looked up or changed; exit code 2 at the shell."""


class VerificationError(GearkeepError):
    """Bytes that cannot be trusted: a shape, an encoding, a signature or a proof is not what it must be."""
