"""What several commands share: options, and the loading of plugins, house and cases."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    import datetime
    from collections.abc import Callable, Iterable, Iterator, Sequence

    from loadworthy.case import Case
    from loadworthy.cli.progress import Progress
    from loadworthy.errors import LoadworthyError
    from loadworthy.host import Host
    from loadworthy.house import House
    from loadworthy.register import Register

#: Forms of what is printed: for people, for programs, for spreadsheets, for other documents.
FORMATS = ("text", "json", "csv", "markdown")


def _day(ctx: click.Context, param: click.Parameter, value: str | None) -> datetime.date | None:
    """Read a day written as year-month-day."""
    if value is None:
        return None
    import datetime

    try:
        if len(value) == 10:
            return datetime.date.fromisoformat(value)
    except ValueError:
        pass
    raise click.BadParameter(f"{value!r} is no day; write it as 2026-05-04", ctx, param)


plugin_files = click.option(
    "--plugin", "plugins", multiple=True, metavar="FILE", help="Use a plugin that is a single Python file; repeatable."
)
house_file = click.option("--house", "house_file", metavar="FILE", help="Use the house settings in this file (TOML).")
units = click.option(
    "--units",
    "system",
    type=click.Choice(["si", "us"]),
    default="si",
    show_default=True,
    help="Units for people and spreadsheets; JSON is always SI.",
)
as_of = click.option(
    "--as-of", callback=_day, metavar="DATE", help="Judge what was known on that day, written 2026-05-04."
)
form = click.option(
    "--format",
    "form",
    type=click.Choice(FORMATS),
    default="text",
    show_default=True,
    help="For people (text, markdown), for spreadsheets (csv), for programs (json).",
)
output = click.option("-o", "--output", "target", metavar="FILE", help="Write to this file in one step.")


def reading(function: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options of every command that reads a case."""
    for option in (units, plugin_files, house_file, as_of):
        function = option(function)
    return function


class Bench:
    """Host and house of one run. Raises LoadworthyError or ClickException where they cannot be used.

    Faults of cases and house settings are worded in the units of ``system``.
    """

    def __init__(self, plugins: Iterable[str] = (), house_file: str | None = None, system: str = "si") -> None:
        from os.path import isfile

        from loadworthy.host import Host

        for file in plugins:
            if not isfile(file):
                raise click.ClickException(f"--plugin {file}: there is no such file")
        self.host: Host = Host(files=plugins)
        self.house: House | None = None
        self._system = system
        if house_file is not None:
            from loadworthy.errors import LoadworthyError
            from loadworthy.house import House

            try:
                self.house = House.load(house_file, catalogue=self.host.catalogue)
            except LoadworthyError as error:
                raise worded(error, system) from None

    def case(self, path: str) -> Case:
        """Read one case with the house's shared instruments."""
        from loadworthy.casefile import load
        from loadworthy.errors import LoadworthyError

        shared = self.house.instruments if self.house is not None else ()
        try:
            return load(path, catalogue=self.host.catalogue, shared=shared)
        except LoadworthyError as error:
            raise worded(error, self._system) from None

    def register(self, path: str, as_of: datetime.date | None) -> Register:
        """Read one case and assess it."""
        from loadworthy.assessing import assess

        return assess(self.case(path), host=self.host, house=self.house, as_of=as_of)


def worded(error: LoadworthyError, system: str) -> LoadworthyError:
    """Return an error with the quantities of its faults in the reader's units; what was written stays in quotes."""
    if system == "si":
        return error
    from loadworthy.outputs.words import in_prose

    faults = (
        fault._replace(problem=in_prose(fault.problem, system), write=in_prose(fault.write, system))
        for fault in error.faults
    )
    return type(error)(error.message, tuple(faults))


class Each:
    """Works through cases so that a broken one does not stop the others. ``code`` is the highest exit code so far.

    On a terminal it tells how far it has come.
    """

    def __init__(self, paths: Sequence[str]) -> None:
        self.code = 0
        self._paths = paths

    def of(self, work: Callable[[str], Any], *, prints: bool = False) -> Iterator[Any]:
        """Yield what ``work`` makes of each case; one that cannot be read, or that breaks us, is complained of.

        ``prints``: whoever takes what is yielded prints it at once.
        """
        from loadworthy.errors import CaseError, LoadworthyError

        watch = _watched(len(self._paths))
        try:
            for number, path in enumerate(self._paths, 1):
                if watch is not None:
                    watch.at(number, path)
                try:
                    done = work(path)
                    if watch is not None and prints:
                        watch.clear()
                    yield done
                except CaseError as error:
                    from loadworthy.cli.output import complain_of

                    if watch is not None:
                        watch.clear()
                    complain_of(error)
                    self.code = max(self.code, 2)
                except (LoadworthyError, click.ClickException, click.exceptions.Exit):
                    raise
                except Exception:
                    from loadworthy.cli.fault import report

                    if watch is not None:
                        watch.clear()
                    self.code = max(self.code, report(path))
        finally:
            if watch is not None:
                watch.clear()


def _watched(total: int) -> Progress | None:
    """Return what tells how far the work has come; for a single case nothing is even imported."""
    if total < 2:
        return None
    from loadworthy.cli.progress import watched

    return watched(total)


def pick(pattern: str, names: Iterable[tuple[str, str]], what: str) -> list[str]:
    """Return the ids of (id, text) pairs that a pattern finds: part of either, or with * and ? the whole id.

    Raises ClickException with the nearest ids where there is none.
    """
    from fnmatch import fnmatchcase

    pairs = list(names)
    asked = pattern.lower()
    if any(char in asked for char in "*?["):
        found = [id for id, _ in pairs if fnmatchcase(id.lower(), asked)]
    else:
        found = [id for id, text in pairs if asked in id.lower() or asked in text.lower()]
    if found or not pattern:
        return found
    from difflib import get_close_matches

    near = get_close_matches(asked[:100], [id for id, _ in pairs], n=3, cutoff=0.4)
    hint = f"; did you mean {' or '.join(near)}?" if near else ""
    raise click.ClickException(f"no {what} matches {pattern}{hint}")
