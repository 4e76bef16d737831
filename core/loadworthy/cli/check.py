"""``loadworthy check``: read only, every error at once."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from loadworthy.cli.options import Bench, Each, reading

if TYPE_CHECKING:
    import datetime
    from collections.abc import Iterator

    from loadworthy.case import Case


_EXAMPLES = "\b\n" + "\n".join(
    (
        "loadworthy check car.toml",
        "loadworthy check cars/*.toml --house our-shop.toml",
    )
)


@click.command("check", epilog=_EXAMPLES)
@click.argument("cases", nargs=-1, required=True, metavar="CASE...")
@reading
def command(
    cases: tuple[str, ...],
    as_of: datetime.date | None,
    house_file: str | None,
    plugins: tuple[str, ...],
    system: str,
) -> int:
    """Read each CASE and report every error with its place, and what is odd without being wrong.

    Nothing is judged. Photos and papers that sheets name in the folder of the case are opened and compared with what
    they were when they were attached. The exit code is 2 if any case cannot be read, or such a file was changed.
    """
    from loadworthy.cli.output import say

    bench = Bench(plugins, house_file, system)
    each = Each(cases)
    for lines in each.of(lambda path: list(_lines(path, bench.case(path), as_of, system)), prints=True):
        say("\n".join(lines))
    return each.code


def _lines(path: str, case: Case, as_of: datetime.date | None, system: str) -> Iterator[str]:
    from loadworthy.case import UNDATED
    from loadworthy.errors import CaseError
    from loadworthy.outputs.page import wrap
    from loadworthy.outputs.words import in_prose
    from loadworthy.recording.papers import examine

    faults, notes = examine(case)
    if faults:
        raise CaseError(f"{path}: attached files are not what they were", faults)
    day = as_of or case.as_of
    counts = [
        f"{len(entries)} {word}{'' if len(entries) == 1 else 's'}"
        for word, entries in (("sheet", case.sheets), ("repair", case.repairs), ("waiver", case.waivers))
        if entries or word == "sheet"
    ]
    yield from wrap(f"{path}: no errors; {', '.join(counts)}{f', as of {day.isoformat()}' if day else ''}")
    later = [sheet.id for sheet in case.sheets if day is not None and day < sheet.date < UNDATED]
    if later:
        yield from wrap(f"dated later, so not known yet: {', '.join(later)}", "  - ", "    ")
    for note in (*case.notes, *notes):
        yield from wrap(in_prose(f"note: {note}", system), "  - ", "    ")
