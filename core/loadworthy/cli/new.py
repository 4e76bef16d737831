"""``loadworthy new``: a new case, by prompts or by options."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from loadworthy.cli.options import Bench, house_file, plugin_files, units

if TYPE_CHECKING:
    from collections.abc import Iterable


_EXAMPLES = "\b\n" + "\n".join(
    (
        "loadworthy new car.toml",
        "loadworthy new car.toml --name 'Red hatchback' --set vehicle.drive_layout=front \\",
        "    --set 'plan.torque=2000 rpm: 336 N m; 4000 rpm: 390 N m'",
        "loadworthy new second.toml --like car.toml --name 'Blue hatchback'",
    )
)
_TABLES = ("vehicle", "plan")


@click.command("new", epilog=_EXAMPLES)
@click.argument("file")
@click.option("--like", metavar="CASE", help="Take vehicle, plan and instruments of this case, and no evidence.")
@click.option("--name", metavar="TEXT", help="What people call it.")
@click.option("--set", "sets", multiple=True, metavar="TABLE.KEY=VALUE", help="A fact of vehicle or plan; repeatable.")
@units
@plugin_files
@house_file
def command(
    file: str,
    like: str | None,
    name: str | None,
    sets: tuple[str, ...],
    house_file: str | None,
    plugins: tuple[str, ...],
    system: str,
) -> int:
    """Make a new case in FILE, which must not be there yet.

    At a terminal and without --set it asks for the facts of the vehicle and the plan, what matters most first; every
    question can be skipped and answered later with `loadworthy record FILE vehicle` or `plan`.
    """
    from os.path import lexists

    from loadworthy.casefile.write import create
    from loadworthy.cli import talk

    if lexists(file):
        raise click.ClickException(f"{file} is there already; name another file, or add to it with loadworthy record")
    bench = Bench(plugins, house_file, system)
    by_prompts = not sets and talk.is_person()
    with talk.worded_in(system):
        tables = _given(bench, file, like, sets)
        if name is None and by_prompts:
            name = talk.ask("name of the case (Enter: none): ").strip()
        case = create({**({"name": name} if name else {}), **tables}, file, check=talk.reader(bench))
        talk.line(f"{file}: a new case")
        left = by_prompts and not _asked(bench, file, system)
    talk.told(case, bench.case(file), system)
    if left:
        talk.line(f"next: loadworthy record {file} vehicle")
        return 0
    talk.line(f"next: loadworthy record {file} SECTION, where SECTION is one of:")
    talk.line(", ".join(sorted(bench.host.catalogue.sections)) or "none, as no check is installed")
    return 0


def _given(bench: Bench, file: str, like: str | None, sets: Iterable[str]) -> dict[str, Any]:
    """Return the tables that the options give. Raises CaseError with everything that is wrong with them."""
    from loadworthy.casefile import to_dict
    from loadworthy.cli import talk
    from loadworthy.errors import Fault
    from loadworthy.recording.given import Given

    tables: dict[str, Any] = {}
    if like is not None:
        taken = to_dict(bench.case(like), catalogue=bench.host.catalogue)
        tables = {key: taken[key] for key in (*_TABLES, "instrument") if key in taken}
    given = {key: Given(talk.known_target(key, bench), tables.get(key)) for key in _TABLES}
    faults = []
    for text in sets:
        table, _, rest = text.partition(".")
        if table.strip() in given:
            given[table.strip()].set(rest)
        else:
            write = "write vehicle.KEY=VALUE or plan.KEY=VALUE"
            faults.append(Fault("bad-option", "this is neither of the vehicle nor of the plan", text[:40], None, write))
    faults += [one._replace(place=f"{key}.{one.place}") for key in _TABLES for one in given[key].faults]
    if faults:
        raise talk.refuse(faults, file)
    for key in _TABLES:
        if given[key].table:
            tables[key] = {**tables.get(key, {}), **given[key].table}
    return {key: tables[key] for key in (*_TABLES, "instrument") if key in tables}


def _asked(bench: Bench, file: str, system: str) -> bool:
    """Ask for vehicle and plan; false if the person left before the end."""
    from loadworthy.cli import talk
    from loadworthy.recording.draft import Draft

    check = talk.reader(bench)
    for key in _TABLES:
        draft = Draft(file, talk.known_target(key, bench), check)
        if not talk.converse(draft, bench, check(draft.data(), file), system, every=False):
            return False
    return True
