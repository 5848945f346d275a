"""The digest of what a gear needs: the same at every address, another for every other setting."""

from __future__ import annotations

from dataclasses import replace

import make
import pytest

from vault.domain.settings import Channel, Control, Protocol, Settings
from vault.trust.need_digest import need_digest

BASE = make.GENERAL.settings
CONTROL = Control(protocol=Protocol.DALI, short_address=12, min_level=85)
TWO = replace(BASE, channels=(replace(BASE.channels[0], control=CONTROL),) * 2)


def _at(settings: Settings, **address: object) -> Settings:
    control = settings.control
    assert control is not None
    return replace(settings, control=replace(control, **address),  # type: ignore[arg-type]
                   channels=tuple(Channel(**{**{name: getattr(one, name) for name in one.__slots__},
                                             "control": replace(one.control, **address)})  # type: ignore[arg-type]
                                  if one.control else one for one in settings.channels))


@pytest.mark.parametrize("settings", [BASE, TWO])
@pytest.mark.parametrize("address", [{"short_address": 3}, {"short_address": None}, {"central_address": 7}])
def test_an_address_is_no_need(settings: Settings, address: dict[str, int | None]) -> None:
    """Short and central addresses of the gear and of its channels count for nothing."""
    assert need_digest(_at(settings, **address)) == need_digest(settings) and len(need_digest(settings)) == 8


@pytest.mark.parametrize("other", [
    replace(BASE, channels=(replace(BASE.channels[0], current_ma=650),)), replace(BASE, control=None), TWO,
    _at(BASE, min_level=86), _at(BASE, groups=0), _at(BASE, central_circuit="C1")])
def test_every_other_setting_is(other: Settings) -> None:
    """Current, control data, channels: another digest."""
    assert need_digest(other) != need_digest(BASE)
