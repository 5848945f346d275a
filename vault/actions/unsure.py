"""What has to be confirmed before it is signed."""

from __future__ import annotations

from vault.errors import UsageProblem
from vault.exchange.complaints import ended, listed


class Unsure(UsageProblem):
    """Something has to be confirmed before a list, a movement or a notice is signed. name: what that is called. `asked`: each
    as a sentence. Kind: not-confirmed.
    """

    def __init__(self, name: str, asked: tuple[str, ...], hints: tuple[str, ...]) -> None:
        super().__init__(ended(f"{name} wants a second look: {asked[0]}") if len(asked) == 1 else
                         f"{name} wants a second look:\n{listed(asked)}", kind="not-confirmed",
                         hint=" ".join(("Nothing was changed.", *dict.fromkeys(hints))))
        self.asked = asked
