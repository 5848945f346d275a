"""What catalogues there are, and what their entries are."""

from __future__ import annotations

from collections.abc import Mapping

from vault.domain.driver import DriverModel
from vault.domain.rating import Rating
from vault.domain.site import Circuit, Line

KINDS: Mapping[str, type] = {"type": Rating, "driver": DriverModel, "circuit": Circuit, "line": Line}
HEADINGS = tuple(KINDS)
