"""Entry of the command line. Commands live in modules that are imported when they are used."""

from __future__ import annotations

import importlib

import click

# command -> (module, attribute, one line for the overview)
COMMANDS: dict[str, tuple[str, str, str]] = {
    "init": ("setup", "init", "Make a new vault and its keys."),
    "signer": ("signers", "signer", "Who may sign: add, list, withdraw, export, key."),
    "authority": ("authority", "authority", "The authority's key: rotate, or appoint another by the recovery keys."),
    "type": ("catalogue", "fixture_type", "Fixture types and their ratings: load, list, show."),
    "driver": ("catalogue", "driver", "Driver models: add, load, list, show."),
    "circuit": ("catalogue", "circuit", "Final circuits: load, list, show."),
    "line": ("catalogue", "line", "Control lines: load, list, show."),
    "handover": ("handover", "handover", "Check a luminaire schedule and sign its records."),
    "cobie": ("cobie", "cobie", "Luminaires as a COBie workbook: write one, check one."),
    "addresses": ("addresses", "addresses", "Plan the addresses of lines in walking order, or check them."),
    "revise": ("installer", "revise", "Sign changed settings of one luminaire."),
    "move": ("installer", "move", "Sign that a luminaire hangs elsewhere."),
    "retire": ("installer", "retire", "Sign that a luminaire is gone for good."),
    "placed": ("installer", "placed", "Sign that the label is on the housing."),
    "approve": ("installer", "approve", "Accept another signer's open stops."),
    "label": ("labels", "label", "Print labels."),
    "labels": ("label_life", "labels", "List a luminaire's label copies and what is wrong with them."),
    "found": ("label_life", "found", "Sign that a label was found elsewhere or on a wrong housing."),
    "withdraw-label": ("label_life", "withdraw_label", "Sign that labels no longer count."),
    "reissue": ("label_life", "reissue", "Withdraw a luminaire's labels and print a new one, in one act."),
    "printer": ("printing", "printer", "A label printer: what it has; resume a print run."),
    "sticker": ("sticker", "sticker", "The label's link and record on an NFC sticker: write, read."),
    "mark": ("mark", "mark", "Labels for bins, spares and control lines."),
    "scan": ("technician", "scan", "Read labels from pictures and verify them."),
    "show": ("technician", "show", "Show a luminaire's verified settings and findings."),
    "find": ("find", "find", "Find luminaires by place, type, line and address, serial number or neighbours."),
    "history": ("technician", "history", "List every version of a luminaire."),
    "fit": ("technician", "fit", "Judge which spare drivers can take the settings."),
    "swap": ("swap", "swap", "Replace a driver: guided, or steps, readback, next version."),
    "sheet": ("sheet", "sheet", "Print a work order for people who work on paper."),
    "bus": ("bus", "bus", "A DALI line: look, set a spare, read it back, identify."),
    "readback": ("readback", "readback", "What a driver reads: form, typed in, check, prove."),
    "cover": ("cover", "cover", "What no spare can save; which spare can stand in for which luminaires."),
    "spares": ("cover_set", "spares", "Which models of spare to stock: the fewest or cheapest set, and what would change it."),
    "stock": ("stock_today", "stock", "Spares: load, receive, issue, return, count, transfer, reserve, order, list."),
    "reorder": ("reorder", "reorder", "What to order by supplier, vital first: screen, CSV, workbook, PDF."),
    "rates": ("rates", "rates", "Failure rates learned from the swaps on record, and what fails too fast."),
    "hold": ("hold_money", "hold", "How many spares to hold: plan, budget, opening stock, last-time buy."),
    "pack": ("pack", "pack", "Make the handover pack for the building's owner."),
    "import": ("take_over", "import_", "Take over another vault's handover pack; list what was taken over."),
    "adopt": ("take_over", "adopt", "Make luminaires that were taken over yours, under new tags."),
    "audit": ("keeping", "audit", "Verify every signature, chain, proof and index row."),
    "rebuild": ("keeping", "rebuild", "Make the index anew from the journal alone."),
    "checkpoint": ("keeping", "checkpoint", "Sign the journal's size and root, to be kept outside."),
    "access": ("server", "access", "Give a role of a PostgreSQL server the rights to work in a site."),
    "cosign": ("cosign", "cosign", "A second signature on checkpoints, of another kind (ML-DSA-65): key, add, check."),
    "estate": ("estate", "estate", "One checkpoint over many sites: key, sign, check."),
    "backup": ("backup", "backup", "Copy the vault while others write, and prove the copy."),
    "restore": ("backup", "restore", "Bring a backup back, proven to be the same history."),
    "bench": ("bench", "bench", "Measure this machine: each figure beside its limit."),
    "upgrade": ("keeping", "upgrade", "Bring an older vault to this program's schema."),
}


class LazyGroup(click.Group):
    """A group whose commands are imported when they are called."""

    def list_commands(self, _ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, _ctx: click.Context, name: str) -> click.Command | None:
        if name not in COMMANDS:
            return None
        module, attribute, _ = COMMANDS[name]
        command: click.Command = getattr(importlib.import_module(f"vault.cli.{module}"), attribute)
        return command

    def format_commands(self, _ctx: click.Context, formatter: click.HelpFormatter) -> None:
        # The overview comes from the table above, so that --help imports no command.
        with formatter.section("Commands"):
            formatter.write_dl([(name, line) for name, (_, _, line) in COMMANDS.items()])


@click.group(cls=LazyGroup, epilog="Example: gearkeep --vault vault.db show 7K3D9QXW6")
@click.option("--vault", envvar="GEARKEEP_VAULT", metavar="FILE", help="The vault's file, or a site on a PostgreSQL server: "
              "postgresql+psycopg://USER@HOST/DATABASE?site=NAME (or GEARKEEP_VAULT). Default: vault.db in this folder.")
@click.option("--read-url", envvar="GEARKEEP_READ_URL", metavar="URL", help="A replica of the site to read from "
              "(or GEARKEEP_READ_URL). Whatever signs goes to --vault alone.")
@click.option("--key", envvar="GEARKEEP_KEY", metavar="FILE", help="Your key file (or GEARKEEP_KEY); needed to sign.")
@click.option("--checkpoint-key", envvar="GEARKEEP_CHECKPOINT_KEY", metavar="FILE",
              help="The vault's checkpoint key file (or GEARKEEP_CHECKPOINT_KEY).")
@click.option("--passphrase-fd", type=int, metavar="N", help="Read the key file's passphrase from this file descriptor; "
              "else GEARKEEP_PASSPHRASE, else a prompt.")
@click.version_option(package_name="gearkeep", prog_name="gearkeep")
@click.pass_context
def main(ctx: click.Context, vault: str | None, read_url: str | None, key: str | None, checkpoint_key: str | None,
         passphrase_fd: int | None) -> None:
    """Keep every luminaire's driver settings as signed records, found by the label on the housing.

    Exit codes: 0 good; 1 stop, cannot tell, failed verification or nothing found; 2 wrong use.
    """
    ctx.obj = {"vault": vault, "read_url": read_url, "key": key, "checkpoint_key": checkpoint_key, "passphrase_fd": passphrase_fd}


if __name__ == "__main__":
    main()
