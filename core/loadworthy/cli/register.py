"""``loadworthy register``: the full register."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from loadworthy.cli.options import Bench, complain, deliver, output, reading

if TYPE_CHECKING:
    import datetime

    from loadworthy.register import Register

_OUTCOMES = ("clear", "limited", "incomplete", "hold")


@click.command("register")
@click.argument("cases", nargs=-1, required=True, metavar="CASE...")
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", help="How to show it.")
@click.option("--fail-on", type=click.Choice(_OUTCOMES), help="Exit with 1 if an outcome is at least this bad.")
@output
@reading
def command(
    cases: tuple[str, ...],
    form: str,
    fail_on: str | None,
    target: str | None,
    as_of: datetime.date | None,
    house_file: str | None,
    plugins: tuple[str, ...],
    system: str,
) -> int:
    """Print the risk register of each CASE.

    It says, in this order: the outcome and why; what decides; what to do first; the risks; the ceilings over speed;
    gates; gaps; what did not run. From best to worst an outcome is clear, limited, incomplete or hold. With several
    cases a broken one does not stop the others.
    """
    from loadworthy.errors import CaseError

    bench = Bench(plugins, house_file)
    registers: list[Register] = []
    code = 0
    for path in cases:
        try:
            registers.append(bench.register(path, as_of))
        except CaseError as error:
            complain(error)
            code = 2
    if registers:
        deliver(_shown(registers, form, system, len(cases)), target)
    if fail_on is not None and any(_OUTCOMES.index(r.outcome) >= _OUTCOMES.index(fail_on) for r in registers):
        code = max(code, 1)
    return code


def _shown(registers: list[Register], form: str, system: str, asked: int) -> str:
    if form == "json":
        from json import dumps

        data = [r.to_dict() for r in registers]
        return (
            dumps(data[0] if asked == 1 else data, indent=1, sort_keys=True, ensure_ascii=True, allow_nan=False) + "\n"
        )
    from loadworthy.outputs.text import register_text

    return f"\n{'=' * 80}\n\n".join(register_text(r, system=system) for r in registers)
