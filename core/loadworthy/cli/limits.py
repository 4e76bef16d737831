"""``loadworthy limits``: every limit with its source."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from loadworthy.cli.options import Bench, house_file, pick, plugin_files, units

if TYPE_CHECKING:
    from collections.abc import Iterator

    from loadworthy.declarations import Limit
    from loadworthy.limits import ResolvedLimit


_EXAMPLES = "\b\n" + "\n".join(
    (
        "loadworthy limits torque",
        "loadworthy limits '*_stop' --house our-shop.toml",
    )
)


@click.command("limits", epilog=_EXAMPLES)
@click.argument("pattern", required=False, default="")
@house_file
@plugin_files
@units
def command(pattern: str, house_file: str | None, plugins: tuple[str, ...], system: str) -> int:
    """List limits with value, grade, source and mark.

    Without PATTERN all of them; with it those whose id or text holds it, or whose whole id fits it if it has * or ?.
    With --house the values in force, and what they replace.
    """
    from loadworthy.cli.output import say
    from loadworthy.house import House

    bench = Bench(plugins, house_file)
    declared = bench.host.catalogue.limits
    resolved = (bench.house or House()).resolve(bench.host.catalogue)
    chosen = set(pick(pattern, [(one.id, declared[one.id].text) for one in resolved], "limit"))
    lines = [line for one in resolved if one.id in chosen for line in _lines(one, declared[one.id], system)]
    say("\n".join(lines or ["no plugin declares a limit"]))
    return 0


def _lines(limit: ResolvedLimit, declared: Limit, system: str) -> Iterator[str]:
    from loadworthy.outputs.page import wrap
    from loadworthy.outputs.words import grade_word

    upper = f" to {_value(limit.high, limit.kind, system)}" if limit.high is not None else ""
    grade = "steers a rule" if limit.worse == "setting" else f"worse {limit.worse}: {grade_word(limit.grade)}"
    yield from wrap(
        f"{limit.id} = {_value(limit.value, limit.kind, system)}{upper} ({limit.origin}); {grade}", "", "  "
    )
    applies = f" Applies: {declared.applies}." if declared.applies else ""
    yield from wrap(f"{declared.text}.{applies} Source: {declared.source} ({declared.mark})", "  ")
    if limit.origin == "house":
        way = "looser" if limit.looser else "not looser"
        yield from wrap(f"default {_value(limit.default, limit.kind, system)}, {way}: {limit.reason}", "  ")


def _value(value: object, kind: str, system: str) -> str:
    from loadworthy.outputs.words import shown

    return "none" if value is None else shown(value, kind, system, 4)
