"""Plain stops: what a class and a model show at a glance, rule by rule, in the order in which they are asked.

Each of them is a stop of `vault.domain.fit` under the same name; none of them ever says that something fits. Emergency and
current are asked only of a model whose output and channels agree, as the fit does: what comes before leaves no other.
"""

from __future__ import annotations

from vault.spares.coverage_plain_duty import CONTROL, EMERGENCY
from vault.spares.coverage_plain_output import CURRENT, SHAPE
from vault.spares.coverage_plain_place import PLACE, SAFETY
from vault.spares.coverage_row import Plain

PLAIN: tuple[Plain, ...] = (*SHAPE, *EMERGENCY, *CURRENT, *SAFETY, *PLACE, *CONTROL)
