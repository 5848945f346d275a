"""Numbers of pieces as they are typed."""

from __future__ import annotations

import re

import click

_WHOLE = re.compile(r"-?[0-9]{1,9}")


class Pieces(click.IntRange):
    """A whole number of pieces, `least` or more."""

    def __init__(self, least: int) -> None:
        super().__init__(min=least)

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> int:
        """The number. Raises click.BadParameter for anything else."""
        said = str(value).strip()
        if not _WHOLE.fullmatch(said) or int(said) < int(self.min or 0):
            raise self.refusal(said, param, ctx)
        return int(said)

    def refusal(self, said: str, param: click.Parameter | None, ctx: click.Context | None) -> click.BadParameter:
        """What was found and what is allowed."""
        return click.BadParameter(f"{said} was found; a number of pieces is a whole number, {self.min or 0} or more.", ctx=ctx,
                                  param=param)


class CountingCommand(click.Command):
    """A command in which a negative number of pieces is told as one, and not as an option that does not exist."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Raises click.BadParameter instead of click.NoSuchOption for "-4"."""
        numbers = [word for word in args if word.startswith("-") and _WHOLE.fullmatch(word)]
        try:
            return super().parse_args(ctx, args)
        except click.NoSuchOption as problem:
            number = next((word for word in numbers if word.startswith(problem.option_name)), None)
            for parameter in self.params:
                if number is not None and isinstance(parameter.type, Pieces):
                    raise parameter.type.refusal(number, parameter, ctx) from None
            raise
