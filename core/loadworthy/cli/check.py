"""``loadworthy check``: read only, every error at once."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from loadworthy.cli.options import Bench, complain, reading, say

if TYPE_CHECKING:
    import datetime


@click.command("check")
@click.argument("cases", nargs=-1, required=True, metavar="CASE...")
@reading
def command(
    cases: tuple[str, ...],
    as_of: datetime.date | None,
    house_file: str | None,
    plugins: tuple[str, ...],
    system: str,
) -> int:
    """Read each CASE and report every error with its place, and what is odd without being wrong."""
    from loadworthy.errors import CaseError

    bench = Bench(plugins, house_file)
    code = 0
    for path in cases:
        try:
            case = bench.case(path)
        except CaseError as error:
            complain(error)
            code = 2
            continue
        count = len(case.sheets)
        say(f"{path}: no errors; {count} sheet{'' if count == 1 else 's'}, digest {case.digest[:16]}")
        for note in case.notes:
            say(f"  note: {note}")
    return code
