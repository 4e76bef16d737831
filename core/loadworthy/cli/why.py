"""``loadworthy why``: how a number came about."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from loadworthy.cli.options import Bench, reading

if TYPE_CHECKING:
    import datetime

    from loadworthy.register import Register


_EXAMPLES = "\b\n" + "\n".join(
    (
        "loadworthy why car.toml",
        "loadworthy why car.toml allowed",
        "loadworthy why car.toml wheel-nuts-loose@wheel-3",
    )
)


@click.command("why", epilog=_EXAMPLES)
@click.argument("case")
@click.argument("id", required=False)
@reading
def command(
    case: str,
    id: str | None,
    as_of: datetime.date | None,
    house_file: str | None,
    plugins: tuple[str, ...],
    system: str,
) -> int:
    """Show what is behind one ID of CASE's register: readings, limits, formulas, sources, weights.

    IDs stand in brackets in the register. Without ID everything that can be asked for is listed. Four figures are
    always there: outcome, plan_class, demand and allowed. Limits, causes, tests, sheets and repairs have IDs too.

    The beginning of an ID will do if only one begins so. Blanks in an ID may be written as hyphens.
    """
    from loadworthy.cli.output import say
    from loadworthy.outputs.why import why_text

    register = Bench(plugins, house_file, system).register(case, as_of)
    if id is None:
        say("\n".join(_overview(register)))
        return 0
    text = why_text(register, id, system=system)
    if text is None:
        raise click.ClickException(_unknown(register, id))
    say(text)
    return 0


def _overview(register: Register) -> list[str]:
    from loadworthy.outputs.page import wrap
    from loadworthy.outputs.why import every_id, ids

    lines = []
    listed = ids(register)
    for family, names in listed.items():
        lines.append(f"{family}:" if names else f"{family}: none")
        for name in names:
            lines += wrap(name, "  ", "    ")
    others = ", ".join(family for family in every_id(register) if family not in listed)
    return [*lines, *wrap(f"Also by their ids: {others}.")]


def _unknown(register: Register, id: str) -> str:
    from loadworthy.outputs.why import meant, nearest

    several = meant(register, id)
    if several:
        more = f" and {len(several) - 8} more" if len(several) > 8 else ""
        return "\n  ".join((f"several ids begin with {id}:", *several[:8])) + more
    near = nearest(register, id)
    if near:
        return "\n  ".join((f"there is no id {id}; the nearest are:", *near))
    return f"there is no id {id}; without an ID the command lists them"
