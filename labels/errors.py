"""The room's one error."""

from __future__ import annotations


class LabelError(Exception):
    """what: what is wrong. hint: what to do next. kind: kebab-case class of the failure."""

    def __init__(self, what: str, *, hint: str = "", kind: str = "label") -> None:
        super().__init__(what)
        self.what, self.hint, self.kind = what, hint, kind
