"""gearkeep swap: guided from the right luminaire to the signature, or in two plain calls."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from vault.cli.shell import command, desk, json_text, key_loader, refuse_existing, say, visible
from vault.errors import GearkeepError, UsageProblem

if TYPE_CHECKING:
    from vault.bus.port import Port

CLASSES = ("like-for-like", "approved-equivalent", "modification")
FATES = ("scrapped", "kept-for-inspection", "returned-to-store", "sent-to-maker", "damaged", "not-faulty")


@command(example="gearkeep --key tom.key swap label.jpg --gateway daliserver.DaliServer --gateway-set host=127.0.0.1")
@click.argument("tag", metavar="TAG|PICTURE")
@click.option("--spare", help="Model of the driver that goes in.")
@click.option("--gear", help="Which gear died. Default: the first, or the one that is asked for.")
@click.option("--serial", help="Serial number of the new driver.")
@click.option("--no-serial", is_flag=True, help="The new driver bears no serial number.")
@click.option("--form", "form_file", type=click.Path(path_type=Path), help="Write an empty readback form (.json or .csv) here.")
@click.option("--readback", type=click.Path(path_type=Path), help="What was read from the new driver, as a file.")
@click.option("--store", help="Store the spare comes from. Default: the first that holds one.")
@click.option("--bin", "bin_name", help="Bin it comes from.")
@click.option("--no-stock", is_flag=True, help="The driver did not come from a store.")
@click.option("--even-reserved", is_flag=True, help="Take a spare that is kept for another luminaire; it is told.")
@click.option("--as", "change_class", type=click.Choice(CLASSES),
              help="What the change amounts to; needed when the model is another one.")
@click.option("--old-driver", type=click.Choice(FATES), help="What becomes of the old driver. Not-faulty: it worked, as in a "
              "planned swap or where the wrong spare was in. Damaged: broken from outside. Such a swap counts as no failure in "
              "gearkeep rates.")
@click.option("--provisional", is_flag=True, help="Sign although the spare has stops; they stay open until approved.")
@click.option("--folder", type=click.Path(path_type=Path), help="Where a guided swap keeps its state. Default: swap-TAG.")
@click.option("--answers", "answers_file", type=click.Path(path_type=Path),
              help="TOML file of answers by key, for a guided swap without a terminal.")
@click.option("--gateway", help="Set and read over a DALI bus: a driver of python-dali, as gearkeep bus gateways lists them.")
@click.option("--gateway-set", "gateway_settings", multiple=True, metavar="NAME=VALUE",
              help="A setting of the gateway; may be repeated.")
@click.option("--at", type=int, help="A used spare: the address at which the bus finds it, as the line numbers them.")
@click.option("--alone", is_flag=True, help="The spare is alone on the gateway's line, on a bench.")
@click.option("--second-key", type=click.Path(path_type=Path), help="Key file of the second signer, when they are there too.")
def swap(tag: str, as_json: bool, **given: Any) -> int:
    """Replace a driver.

    Alone, with a label's picture or a tag: guided. It asks for the right luminaire, the cautions, the spare, leads through the
    steps, sets the spare over the bus where there is a gateway, takes what the driver reads, asks for the tests, and signs. It
    may be interrupted anywhere; the same command goes on.

    With --spare alone: cautions, steps and what to read back; nothing is signed. With --spare and --readback: compares it, signs
    the next version and takes the spare from stock.
    """
    if given["spare"] is None or given["folder"] or given["answers_file"] or given["gateway"]:
        return _guided(tag, as_json, given)
    return _prepare(tag, as_json, given) if given["readback"] is None else _at_once(tag, as_json, given)


def _prepare(tag: str, as_json: bool, given: dict[str, Any]) -> int:
    from vault.actions.swap import prepare
    from vault.cli import swap_text as words_of
    from vault.domain.readback_form import asked_of, with_evidence
    from vault.domain.schema import words
    from vault.exchange.readback_file import write_form

    form_file: Path | None = given["form_file"]
    ready = prepare(desk(), tag, spare=given["spare"], gear=given["gear"])
    if form_file is not None:
        refuse_existing(form_file)
        asks = with_evidence(asked_of(ready.gear, fixed_window=ready.judged.spare.fixed_window))
        write_form(form_file, tag=ready.seen.tag, version=ready.seen.record.version, asks={words(ready.gear.duty): asks})
    say(json_text(words_of.prepared_json(ready)) if as_json else "\n".join(words_of.prepared_lines(ready, form_file)))
    return 0 if ready.judged.fit.verdict.value in ("fits", "fits-with-care") else 1


def _at_once(tag: str, as_json: bool, given: dict[str, Any]) -> int:
    from vault.actions.swap import swap as act
    from vault.cli import swap_text as words_of
    from vault.domain.record import ChangeClass
    from vault.domain.schema import from_words
    from vault.exchange.readback_file import read_readback

    if given["serial"] is None and not given["no_serial"]:
        raise UsageProblem("The new driver's serial number is missing.", kind="no-serial",
                           hint="Give --serial, or --no-serial when there is none on the driver.")
    said = given["change_class"]
    kind: Any = from_words(ChangeClass, said) if said else None
    done = act(desk(), tag, spare=given["spare"], serial=given["serial"], readback=read_readback(given["readback"]),
               gear=given["gear"], store=given["store"], bin_name=given["bin_name"], from_stock=not given["no_stock"],
               change_class=kind, allow_open=given["provisional"], even_reserved=given["even_reserved"],
               old_driver=given["old_driver"].replace("-", " ") if given["old_driver"] else None)
    say(json_text(words_of.swapped_json(done)) if as_json else "\n".join(words_of.swapped_lines(done)))
    return 1 if done.changed.open_stops else 0


def _guided(tag: str, as_json: bool, given: dict[str, Any]) -> int:
    from vault.actions.guided_swap import guided_swap
    from vault.actions.swap_course import Tools
    from vault.cli.guided import Printed, asker_of, guided_json, outcome_lines, read_answers

    at = desk()
    at.key()  # a missing key is told now, not after an hour's work
    known = _tag_of(at, tag)
    answers = read_answers(given["answers_file"]) if given["answers_file"] else {}
    answers |= _answers_of(given)
    second: Path | None = given["second_key"]
    tools = Tools(bus=_bus(given), at=given["at"], alone=given["alone"], second_key=key_loader(second) if second else None,
                  from_stock=not given["no_stock"], even_reserved=given["even_reserved"],
                  store=given["store"], bin_name=given["bin_name"], allow_open=given["provisional"], readback=given["readback"])
    done = guided_swap(at, known, given["folder"] or Path(f"swap-{known}"), tools=tools, tell=Printed(quiet=as_json),
                       asker=asker_of(answers, ask=not given["answers_file"] and not as_json, quiet=as_json))
    say(json_text(guided_json(done)) if as_json else "\n".join(outcome_lines(done)))
    return 1 if done.open_stops else 0


def _answers_of(given: dict[str, Any]) -> dict[str, str]:
    """What options answer beforehand."""
    pairs = {"gear": given["gear"], "spare": given["spare"], "change-class": given["change_class"],
             "old-driver": given["old_driver"], "serial": "none" if given["no_serial"] else given["serial"]}
    return {key: value for key, value in pairs.items() if value is not None}


def _bus(given: dict[str, Any]) -> Callable[[], AbstractContextManager[Port]] | None:
    name = given["gateway"]
    if name is None:
        if given["gateway_settings"]:
            raise UsageProblem("--gateway-set says something of a gateway that is not named.", hint="Give --gateway NAME too.")
        return None
    from vault.bus.drivers import class_named, typed_settings
    from vault.bus.gateway import open_gateway
    from vault.cli.bus import gateway_settings

    settings = gateway_settings(given["gateway_settings"])
    typed_settings(name, class_named(name), settings)  # a wrong name is told before the work begins
    return lambda: open_gateway(name, settings)


def _tag_of(at: Any, said: str) -> str:
    """The tag typed, or the one on the picture: its label must be verified and show what is newest."""
    picture = Path(said)
    if not picture.is_file():
        return said
    from vault.actions.scanning import scan

    results = scan([said], text=None, vault=at.vault, trust_text=None, camera=None)
    good = [one for one in results if one.problem is None and one.tag is not None]
    if len(good) != 1:
        found = results[0].problem if len(results) == 1 else None
        kind, what, hint = found or ("several-labels", f"{said} shows {len(good)} labels.",
                                     "Photograph the one luminaire's label.")
        raise GearkeepError(what, hint=hint, kind=kind)
    one = good[0]
    if not one.current:
        click.echo(f"note: The label shows older settings than version {one.newest_version} in the vault, which counts.",
                   err=True)
    for note in one.notes:
        click.echo(visible(f"note: {note}"), err=True)
    assert one.tag is not None  # only labels with a tag are left
    return one.tag
