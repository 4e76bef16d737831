"""``loadworthy register``: the full register."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from loadworthy.cli.options import Bench, Each, form, output, reading

if TYPE_CHECKING:
    import datetime

    from loadworthy.register import Register

_OUTCOMES = ("clear", "limited", "incomplete", "hold")


_EXAMPLES = "\b\n" + "\n".join(
    (
        "loadworthy register car.toml",
        "loadworthy register cars/*.toml --format json -o all.json",
        "loadworthy register cars/*.toml --format csv -o all.csv",
        "loadworthy register car.toml --as-of 2026-05-04 --fail-on incomplete",
    )
)


@click.command("register", epilog=_EXAMPLES)
@click.argument("cases", nargs=-1, required=True, metavar="CASE...")
@form
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
    """Print the register of each CASE.

    It says, in this order: the outcome and its reason; what decides; what to do first; the risks, the worst first; the
    ceilings over speed and what lifts them; gates; gaps in the evidence; what did not run; and in small print what was
    not looked into, assumptions, changed limits, waivers, struck out sheets.

    Outcomes from best to worst: clear, limited, incomplete, hold. A broken case does not stop the others. In JSON one
    case is an object, several are a list; in CSV all cases stand in one table.
    """
    from loadworthy.cli.output import deliver

    _spare(target, (*cases, *plugins, *((house_file,) if house_file else ())))
    bench = Bench(plugins, house_file, system)
    each = Each(cases)
    registers: list[Register] = list(each.of(lambda path: bench.register(path, as_of)))
    if registers:
        beginnings = [f"Outcome: {register.outcome.upper()}" for register in registers] if form == "text" else []
        deliver(_shown(registers, form, system, len(cases)), target, beginnings, form)
    bad = fail_on is not None and any(_OUTCOMES.index(r.outcome) >= _OUTCOMES.index(fail_on) for r in registers)
    return max(each.code, int(bad))


def _spare(target: str | None, read: tuple[str, ...]) -> None:
    """Refuse to write over a file that is read."""
    if target is None:
        return
    from os.path import realpath

    if realpath(target) in map(realpath, read):
        raise click.ClickException(f"cannot write {target}: it is one of the files to read; name another")


def _shown(registers: list[Register], form: str, system: str, asked: int) -> str:
    if form == "json":
        from json import dumps

        data = [register.to_dict() for register in registers]
        whole = data[0] if asked == 1 else data
        return dumps(whole, indent=1, sort_keys=True, ensure_ascii=True, allow_nan=False) + "\n"
    if form == "csv":
        from loadworthy.outputs.spreadsheet import registers_csv

        return registers_csv(registers, system=system)
    if form == "markdown":
        from loadworthy.outputs.markdown import register_markdown

        return "\n".join(register_markdown(register, system=system) for register in registers)
    from loadworthy.outputs.page import WIDTH
    from loadworthy.outputs.text import register_text

    between = f"\n{'=' * WIDTH}\n\n"
    return between.join(register_text(register, system=system) for register in registers)
