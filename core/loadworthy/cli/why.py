"""``loadworthy why``: how a number came about."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from loadworthy.cli.options import Bench, reading, say

if TYPE_CHECKING:
    import datetime


@click.command("why")
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
    """Show reading, limit, formula, source and weights behind one ID of CASE's register.

    Without ID: everything that can be asked for. IDs stand in brackets in the register; always there are outcome,
    plan_class, demand and allowed.
    """
    from loadworthy.outputs.why import ids, why_text

    register = Bench(plugins, house_file).register(case, as_of)
    known = ids(register)
    if id is None:
        for kind, names in known.items():
            say(f"{kind}:")
            for name in names or ("none",):
                say(f"  {name}")
        return 0
    text = why_text(register, id, system=system)
    if text is None:
        from difflib import get_close_matches

        near = get_close_matches(id, [name for names in known.values() for name in names], n=3, cutoff=0.4)
        hint = f"did you mean {' or '.join(near)}?" if near else "without an ID the command lists them"
        raise click.ClickException(f"the register has no {id}; {hint}")
    say(text)
    return 0
