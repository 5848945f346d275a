"""gearkeep bus: who is on a DALI line, set a spare there, read it back."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from vault.cli.bus_text import acknowledge, caution_lines, frame_lines, report, say_cautions
from vault.cli.shell import Progress, command, desk, json_text, open_vault, refuse_existing, say, table, visible
from vault.errors import UsageProblem

if TYPE_CHECKING:
    from vault.domain.site import Line

_GATEWAY = "--gateway daliserver.DaliServer --gateway-set host=127.0.0.1"


@click.group(epilog="Example: gearkeep bus gateways")
def bus() -> None:
    """Setting drivers over a DALI line and reading them back. A DALI line is not safe to touch: treat it as mains."""


def gateway_settings(said: Sequence[str]) -> dict[str, str]:
    """Settings of a gateway from NAME=VALUE texts. Raises UsageProblem (bad-gateway-setting)."""
    settings: dict[str, str] = {}
    for one in said:
        name, equals, value = one.partition("=")
        if not equals or not name.strip() or name.strip() in settings:
            raise UsageProblem(f"{one!r} is no setting of a gateway, or stands twice.", kind="bad-gateway-setting",
                               hint="Write NAME=VALUE, each name once, for example --gateway-set host=127.0.0.1.")
        settings[name.strip()] = value.strip()
    return settings


def _with_gateway(function: Callable[..., int | None]) -> Callable[..., int | None]:
    for add in (click.option("--gateway-set", "settings", multiple=True, metavar="NAME=VALUE",
                             help="A setting of the gateway; may be repeated."),
                click.option("--gateway", metavar="NAME",
                             help="A driver of python-dali; gearkeep bus gateways lists them.")):
        function = add(function)
    return function


def _opened(gateway: str | None, settings: Sequence[str]) -> Any:
    if gateway is None:
        raise UsageProblem("No gateway was named.", kind="no-gateway",
                           hint="Give --gateway NAME and its settings; gearkeep bus gateways lists them.")
    from vault.bus.gateway import open_gateway

    return open_gateway(gateway, gateway_settings(settings))


def _line(name: str | None) -> Line | None:
    if name is None:
        return None
    from vault.actions.bus_work import line_named

    return line_named(open_vault(), name)


def _types_words(types: Sequence[int] | None) -> str:
    return "" if types is None else "+".join(map(str, types)) or "none"


@command(bus, example=f"gearkeep bus look {_GATEWAY} --line L1")
@_with_gateway
@click.option("--line", "line_name", help="A control line of the vault; its numbering of addresses is then used.")
@click.option("--prove", is_flag=True, help="Search each address for a second gear; takes some seconds for each.")
def look(gateway: str | None, settings: tuple[str, ...], line_name: str | None, prove: bool, as_json: bool) -> int:
    """List who answers on a line, with device types, groups and serial numbers; count gear without an address."""
    from vault.actions.bus_look import look as act
    from vault.domain.fields import groups_words

    line = _line(line_name)
    first = line.addresses_from if line is not None else 0
    say_cautions()
    with _opened(gateway, settings) as port:
        found = act(port, prove=prove, progress=Progress("addresses asked"))
    if as_json:
        say(json_text({"addresses_from": first, "unaddressed": found.unaddressed, "proved": prove, "gear": [
            {"address": one.address + first, "bus_address": one.address, "several": one.several,
             "device_types": None if one.device_types is None else list(one.device_types), "groups": one.groups,
             "gtin": one.memory.gtin if one.memory else None, "serial": one.memory.serial if one.memory else None}
            for one in found.there]}))
        return 0 if found.good else 1
    table(["address", "device types", "groups", "serial", ""], [
        (one.address + first, _types_words(one.device_types), "" if one.groups is None else groups_words(one.groups),
         one.memory.serial if one.memory else None, "SEVERAL GEAR ANSWER" if one.several else "") for one in found.there])
    say(f"Addresses are numbered from {first}{'' if line else ', as on the bus'}.",
        f"Gear without an address: {found.unaddressed}.")
    return 0 if found.good else 1


@command(bus, example=f"gearkeep bus identify 5 {_GATEWAY}")
@click.argument("address", type=int)
@_with_gateway
@click.option("--line", "line_name", help="A control line of the vault; its numbering of addresses is then used.")
def identify(address: int, gateway: str | None, settings: tuple[str, ...], line_name: str | None, as_json: bool) -> None:
    """Have the gear at one address show itself, so that its luminaire is found by eye."""
    from vault.actions.bus_look import identify as act

    line = _line(line_name)
    from vault.actions.bus_work import on_the_bus

    short = on_the_bus(address, line)
    say_cautions()
    with _opened(gateway, settings) as port:
        said = act(port, short, line)
    say(json_text({"bus_address": short, "said": said}) if as_json else said)


@command(bus, example="gearkeep bus gateways --json")
def gateways(as_json: bool) -> None:
    """List the gateways that python-dali drives, with their settings."""
    from vault.bus.drivers import gateways as known

    found = known()
    if as_json:
        say(json_text({"gateways": [{"name": one.name, "settings": dict(one.settings), "problem": one.problem or None}
                                    for one in found]}))
        return
    for one in found:
        said = " ".join(f"{name}={value}" for name, value in one.settings.items())
        say(f"{one.name}  {said}".rstrip(), *([f"    {one.problem}"] if one.problem else []))


@command(bus, name="set", example=f"gearkeep bus set 7K3D9QXW6 --spare CC-50 {_GATEWAY} --log swap.jsonl")
@click.argument("tag")
@_with_gateway
@click.option("--spare", required=True, help="Model of the driver that is set.")
@click.option("--gear", help="Which gear of the luminaire. Default: the first.")
@click.option("--at", type=int, help="A used spare: the address at which it stands, as the line numbers them. "
              "Default: it has none yet.")
@click.option("--alone", is_flag=True, help="The spare is alone on the line, on a bench.")
@click.option("--log", "log_file", type=click.Path(path_type=Path), help="Keep what was done here, so that the same command goes "
              "on after a break.")
@click.option("--out", type=click.Path(path_type=Path), help="Write what was read back to this readback file (.json).")
@click.option("--provisional", is_flag=True, help="Set a spare although it does not fit.")
@click.option("--dry-run", is_flag=True, help="Print every frame in bytes and words; open nothing.")
@click.option("--yes", is_flag=True, help="The cautions are read; do not ask.")
def set_(tag: str, gateway: str | None, settings: tuple[str, ...], spare: str, gear: str | None, at: int | None, alone: bool,
         log_file: Path | None, out: Path | None, provisional: bool, dry_run: bool, yes: bool, as_json: bool) -> int:
    """Set a spare to a luminaire's verified settings, and read every value back. Nothing is written to any other gear."""
    from vault.actions.bus_work import frames_of, plan_bus, set_and_read, where_of
    from vault.domain.readback import compare

    plan = plan_bus(desk(), tag, spare=spare, gear=gear, allow_open=provisional)
    where = where_of(at, alone, plan.seen.line)
    if dry_run:
        frames = frames_of(plan, where)
        say(json_text({"tag": plan.seen.tag, "spare": spare, "cautions": list(plan.judged.plan.cautions), "frames": [
            {"bytes": one.bytes_hex, "send_twice": one.send_twice, "words": one.words, "field": one.field, "answer": one.answer}
            for one in frames]}) if as_json else "\n".join([*caution_lines(plan), "", *frame_lines(frames)]))
        return 0
    if out is not None:
        refuse_existing(out)
    acknowledge(plan, yes)
    with _opened(gateway, settings) as port:
        done = set_and_read(port, plan.seen, plan.gear, plan.judged.spare, log_file=log_file, found=where,
                            tell=lambda sentence: click.echo(visible(sentence), err=True), progress=Progress("read back"))
    compared = compare(plan.gear, done.values, spare_tolerance_permille=plan.judged.spare.tolerance_permille,
                       fixed_window=plan.judged.spare.fixed_window)
    return report(plan.seen, plan.gear, done, compared, out, as_json)


@command(bus, example=f"gearkeep bus read 7K3D9QXW6 {_GATEWAY} --out readback.json")
@click.argument("tag")
@_with_gateway
@click.option("--gear", help="Which gear of the luminaire. Default: the first that has an address.")
@click.option("--at", type=int, help="The address at which it stands now, as the line numbers them. Default: the record's.")
@click.option("--clear-inhibit", "clear", is_flag=True, help="Clear an inhibit of emergency gear first.")
@click.option("--out", type=click.Path(path_type=Path), help="Write what was read to this readback file (.json).")
def read(tag: str, gateway: str | None, settings: tuple[str, ...], gear: str | None, at: int | None, clear: bool,
         out: Path | None, as_json: bool) -> int:
    """Read everything that a driver answers and hold it against the newest record.

    The drive current and the voltage window can neither be set nor read over DALI: type them into the readback.
    """
    from vault.actions.bus_work import chosen_gear, on_the_bus, read_tag

    if out is not None:
        refuse_existing(out)
    held = desk()
    seen, chosen = chosen_gear(held, tag, gear)
    short = None if at is None else on_the_bus(at, seen.line)
    say_cautions()
    with _opened(gateway, settings) as port:
        done = read_tag(held, port, seen, chosen, at=short, clear=clear, progress=Progress("read"))
    return report(seen, chosen, done.read, done.comparisons, out, as_json)
