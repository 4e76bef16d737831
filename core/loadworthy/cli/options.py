"""What several commands share: options, loading of plugins, house and cases, and output."""

from __future__ import annotations

import datetime
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from collections.abc import Callable

    from loadworthy.case import Case
    from loadworthy.errors import LoadworthyError
    from loadworthy.host import Host
    from loadworthy.house import House
    from loadworthy.register import Register

#: Non-ASCII characters that we print ourselves or that cases often hold, for streams that cannot show them.
_ASCII = {"±": "+-", "°": "deg ", "²": "2", "³": "3", "µ": "u", "\u2013": "-", "\u2014": "-", "\u2212": "-", "·": "*"}


def _day(ctx: click.Context, param: click.Parameter, value: str | None) -> datetime.date | None:
    """Read a day written as year-month-day."""
    if value is None:
        return None
    try:
        return datetime.date.fromisoformat(value)
    except ValueError:
        raise click.BadParameter(f"{value!r} is no day; write it as 2026-05-04", ctx, param) from None


def reading(function: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options of every command that reads a case."""
    for option in (
        click.option("--units", "system", type=click.Choice(["si", "us"]), default="si", help="Units shown."),
        plugin_files,
        click.option("--house", "house_file", metavar="FILE", help="House settings (TOML)."),
        click.option("--as-of", callback=_day, metavar="DATE", help="Judge what was known on that day, 2026-05-04."),
    ):
        function = option(function)
    return function


plugin_files = click.option(
    "--plugin", "plugins", multiple=True, metavar="FILE", help="A plugin as a single Python file; may be repeated."
)
output = click.option("-o", "--output", "target", metavar="FILE", help="Write to a file instead of the screen.")


class Bench:
    """Host and house of one run. Raises LoadworthyError where they cannot be used."""

    def __init__(self, plugins: tuple[str, ...], house_file: str | None, **options: Any) -> None:
        from loadworthy.host import Host

        self.host: Host = Host(files=plugins, **options)
        self.house: House | None = None
        if house_file is not None:
            from loadworthy.house import House

            self.house = House.load(house_file, catalogue=self.host.catalogue)

    def case(self, path: str) -> Case:
        """Read one case with the house's shared instruments."""
        from loadworthy.casefile import load

        shared = self.house.instruments if self.house is not None else ()
        return load(path, catalogue=self.host.catalogue, shared=shared)

    def register(self, path: str, as_of: datetime.date | None) -> Register:
        """Read one case and assess it."""
        from loadworthy.assessing import assess

        return assess(self.case(path), host=self.host, house=self.house, as_of=as_of)


def complain(error: LoadworthyError) -> None:
    """Print an error with every fault on the error stream."""
    say(str(error), err=True)


def say(text: str, *, err: bool = False) -> None:
    """Print text; characters that the stream cannot show are written in ASCII."""
    import sys

    stream = sys.stderr if err else sys.stdout
    encoding = getattr(stream, "encoding", None) or "ascii"
    try:
        text.encode(encoding)
    except (UnicodeEncodeError, LookupError):
        text = "".join(_ASCII.get(char, char) for char in text).encode("ascii", "replace").decode("ascii")
    click.echo(text, err=err, nl=not text.endswith("\n"))


def deliver(text: str, target: str | None) -> None:
    """Print text, or write it to a file in one step."""
    if target is None:
        say(text)
        return
    from loadworthy.casefile.write import replace

    try:
        replace(target, text.encode("utf-8"))
    except OSError as error:
        raise click.ClickException(f"cannot write {target}: {error.strerror or error}") from None
