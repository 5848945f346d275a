"""Settings in words, for screens and papers."""

from __future__ import annotations

from collections.abc import Iterator

from vault.domain.apply_means import Wanted, control_of
from vault.domain.fields import address_words, fields_of, value_words
from vault.domain.means import HELD_AS
from vault.domain.settings import Settings
from vault.domain.site import Line

# What a technician must not miss stands in capitals.
_LOUD = frozenset({"current_ma", "voltage_mv", "short_address", "central_address", "mode"})


def setting_words(settings: Settings, line: Line | None) -> Iterator[tuple[str, str]]:
    """(label, value) of every stated setting in order; addresses in the site's numbering, which is always said."""
    one_channel = len(settings.channels) == 1
    for field in fields_of(settings):
        label = field.label.removeprefix("channel 1 ") if one_channel else field.label
        if field.name == "short_address" and isinstance(field.value, int):
            value = address_words(field.value, line).removeprefix("address ")
        elif field.spec.shape != "names" and field.name in HELD_AS:
            wanted = Wanted(field=field, holds=HELD_AS[field.name], control=control_of(settings, field.path))
            value = wanted.value_said
        else:
            value = value_words(field.name, field.spec.unit, field.value)
        yield (label.upper() if field.name in _LOUD else label), value
