"""The gateways that python-dali drives, by its own names: "MODULE.CLASS" of dali.driver, with the settings of the class."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from types import ModuleType
from typing import Any

import dali.driver

from vault.errors import GearkeepError, UsageProblem

# Objects of the library itself, which nobody types.
_NOT_TYPED = frozenset({"dev_inst_map", "LOG"})
_YES = {"yes": True, "true": True, "1": True, "no": False, "false": False, "0": False}


@dataclass(frozen=True, slots=True, kw_only=True)
class Gateway:
    """One kind of gateway. settings: name to its default as text, "" where it must be given. problem: a sentence where a
    Python package is not installed, else ""; then the name ends in .* and the settings cannot be told."""

    name: str
    settings: Mapping[str, str]
    problem: str


def gateways() -> tuple[Gateway, ...]:
    """Every gateway of the installed python-dali."""
    return tuple(_gateways())


def _gateways() -> Iterator[Gateway]:
    for info in pkgutil.iter_modules(dali.driver.__path__):
        if info.name == "usb":
            continue  # what its drivers for USB share
        try:
            module = importlib.import_module(f"dali.driver.{info.name}")
        except ImportError as problem:
            yield Gateway(name=f"{info.name}.*", settings={}, problem=(
                f"It needs the Python package {problem.name or problem}, which is not installed."))
            continue
        for kind in classes_of(module):
            yield Gateway(name=f"{info.name}.{kind.__name__}", problem="", settings={
                one.name: "" if one.default is one.empty else str(one.default) for one in typed(kind)})


def classes_of(module: ModuleType) -> list[type[Any]]:
    """The classes that send and wait for the answer, and that no other class of the module is made from."""
    own = [kind for _, kind in inspect.getmembers(module, inspect.isclass) if kind.__module__ == module.__name__]
    # A class that takes a callback does not wait; dali.driver.base holds patterns only.
    return [kind for kind in own if hasattr(kind, "send") and "callback" not in inspect.signature(kind.send).parameters
            and not any(other is not kind and issubclass(other, kind) for other in own)
            and not hasattr(kind, "setEventHandler") and module.__name__ != "dali.driver.base"]


def typed(kind: type[Any]) -> list[inspect.Parameter]:
    """The settings that a class takes; where it hands all of them on, those of the class that it is made from."""
    for step in kind.__mro__:
        taken = inspect.signature(step).parameters.values()
        named = [one for one in taken if one.name not in _NOT_TYPED and one.kind not in (one.VAR_POSITIONAL, one.VAR_KEYWORD)]
        if named or not taken:
            return named
    return []


def class_named(name: str) -> type[Any]:
    """The class of that name. Raises UsageProblem with the names there are, or GearkeepError (extra-missing)."""
    part, _, last = name.partition(".")
    known = [info.name for info in pkgutil.iter_modules(dali.driver.__path__)]
    if part in known:
        try:
            module = importlib.import_module(f"dali.driver.{part}")
        except ImportError as problem:
            raise GearkeepError(f"The gateway {name} needs the Python package {problem.name}, which is not installed.",
                                hint="Install it: pip install 'gearkeep[bus]'", kind="extra-missing") from problem
        for kind in classes_of(module):
            if kind.__name__ == last:
                return kind
    listed = ", ".join(one.name for one in gateways())
    raise UsageProblem(f"{name} is no gateway that python-dali drives.", hint=f"Name one of: {listed}.", kind="no-gateway")


def typed_settings(name: str, kind: type[Any], settings: Mapping[str, str]) -> dict[str, Any]:
    """The settings as the class takes them. Raises UsageProblem for an unknown, a missing and an ill-typed one."""
    taken = {one.name: one for one in typed(kind)}
    allowed = ", ".join(f"{one.name} ({'must be given' if one.default is one.empty else f'else {one.default}'})"
                        for one in taken.values()) or "none"
    unknown = sorted(set(settings) - set(taken))
    if unknown:
        raise UsageProblem(f"The gateway {name} has no setting {', '.join(unknown)}.", hint=f"Its settings: {allowed}.",
                           kind="gateway-setting")
    missing = [one.name for one in taken.values() if one.default is one.empty and one.name not in settings]
    if missing:
        raise UsageProblem(f"The gateway {name} must be told its {', '.join(missing)}.", hint=f"Its settings: {allowed}.",
                           kind="gateway-setting")
    return {key: _value(name, taken[key], said) for key, said in settings.items()}


def _value(name: str, one: inspect.Parameter, said: str) -> Any:
    if isinstance(one.default, bool):
        if said.lower() in _YES:
            return _YES[said.lower()]
        raise UsageProblem(f"The setting {one.name} of {name} is {said!r}.", hint="Allowed: yes or no.", kind="gateway-setting")
    if isinstance(one.default, int):
        if said.isascii() and said.isdigit():
            return int(said)
        raise UsageProblem(f"The setting {one.name} of {name} is {said!r}.", hint="Allowed: a whole number.",
                           kind="gateway-setting")
    return said
