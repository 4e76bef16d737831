"""``loadworthy limits``: every limit with its source."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from loadworthy.cli.options import Bench, form, house_file, output, pick, plugin_files, units

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from loadworthy.declarations import Limit
    from loadworthy.limits import ResolvedLimit
    from loadworthy.outputs.spreadsheet_rows import Cell


_EXAMPLES = "\b\n" + "\n".join(
    (
        "loadworthy limits torque",
        "loadworthy limits '*_stop' --house our-shop.toml",
        "loadworthy limits --format csv -o limits.csv",
    )
)
_COLUMNS = (
    *("id", "value", "high", "unit", "origin", "worse", "grade", "text", "applies", "source", "mark"),
    *("default", "looser", "reason"),
)


@click.command("limits", epilog=_EXAMPLES)
@click.argument("pattern", required=False, default="")
@form
@output
@house_file
@plugin_files
@units
def command(
    pattern: str, form: str, target: str | None, house_file: str | None, plugins: tuple[str, ...], system: str
) -> int:
    """List limits with value, grade, source and mark.

    Without PATTERN all of them; with it those whose id or text holds it, or whose whole id fits it if it has * or ?.
    With --house the values in force, and what they replace.
    """
    from loadworthy.cli.output import deliver
    from loadworthy.house import House

    bench = Bench(plugins, house_file, system)
    declared = bench.host.catalogue.limits
    resolved = (bench.house or House()).resolve(bench.host.catalogue)
    ids = set(pick(pattern, [(one.id, declared[one.id].text) for one in resolved], "limit"))
    chosen = [one for one in resolved if one.id in ids]
    if form == "text":
        lines = [line for one in chosen for line in _lines(one, declared[one.id], system)]
        deliver("\n".join(lines or ["no plugin declares a limit"]) + "\n", target)
        return 0
    from loadworthy.outputs.listing import listing

    rows = [_row(one, declared[one.id], form, system) for one in chosen]
    deliver(listing("Limits", _COLUMNS, rows, form), target, form=form)
    return 0


def _lines(limit: ResolvedLimit, declared: Limit, system: str) -> Iterator[str]:
    from loadworthy.outputs.page import wrap
    from loadworthy.outputs.words import grade_word, in_prose, source_text

    upper = f" to {_value(limit.high, limit.kind, system)}" if limit.high is not None else ""
    grade = "steers a rule" if limit.worse == "setting" else f"worse {limit.worse}: {grade_word(limit.grade)}"
    yield from wrap(
        f"{limit.id} = {_value(limit.value, limit.kind, system)}{upper} ({limit.origin}); {grade}", "", "  "
    )
    applies = f" Applies: {in_prose(declared.applies, system)}." if declared.applies else ""
    source = f"{source_text(declared.source, declared.mark, system)} ({declared.mark})"
    yield from wrap(f"{in_prose(declared.text, system)}.{applies} Source: {source}", "  ")
    if limit.origin == "house":
        way = "looser" if limit.looser else "not looser"
        yield from wrap(f"default {_value(limit.default, limit.kind, system)}, {way}: {limit.reason}", "  ")


def _value(value: object, kind: str, system: str) -> str:
    from loadworthy.outputs.words import shown

    return "none" if value is None else shown(value, kind, system, 4)


def _row(limit: ResolvedLimit, declared: Limit, form: str, system: str) -> Sequence[Cell]:
    """Return a limit for other forms than text: SI for programs, the reader's units for people."""
    from loadworthy.outputs.words import in_prose, measured, source_text, unit_of

    given = [limit.value, limit.high, limit.default if limit.origin == "house" else None]
    if form == "json":
        system, unit = "si", unit_of(limit.kind)
    else:
        unit = measured(0.0, limit.kind, system)[1]
        given = [measured(one, limit.kind, system)[0] if isinstance(one, float) else one for one in given]
    value, high, default = given
    text, applies = in_prose(declared.text, system), in_prose(declared.applies, system)
    source = source_text(declared.source, declared.mark, system)
    house = (default, limit.looser, limit.reason) if limit.origin == "house" else (None, None, None)
    head = (limit.id, value, high, unit, limit.origin, limit.worse, limit.grade)
    return (*head, text, applies, source, declared.mark, *house)
