"""``loadworthy record``: a sheet, a repair or another entry, by prompts or by options."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from loadworthy.cli.options import Bench, house_file, plugin_files, units

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from loadworthy.case import Case
    from loadworthy.recording.draft import Draft
    from loadworthy.recording.given import Given
    from loadworthy.recording.targets import Target


_EXAMPLES = "\b\n" + "\n".join(
    (
        "loadworthy record car.toml wheel_nuts",
        "loadworthy record car.toml wheel_nuts --date 2026-05-04 --by 'M. K.' \\",
        "    --set nut_torque='115 N m +- 3' --file photos/wheel.jpg",
        "loadworthy record car.toml repair --date 2026-05-12 \\",
        "    --set what='nuts tightened' --set treats=wheel-nuts-loose",
        "loadworthy record car.toml vehicle --set drive_layout=front",
    )
)
#: Options that stand for the key of the same name.
_KEYS = ("id", "date", "time", "odometer", "by", "conditions", "note", "retest_of")


def _key(name: str, metavar: str, text: str) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    return click.option(f"--{name.replace('_', '-')}", name, metavar=metavar, help=text)


@click.command("record", epilog=_EXAMPLES)
@click.argument("case")
@click.argument("section")
@click.option("--set", "sets", multiple=True, metavar="FIELD=VALUE", help="A value; repeatable, see above.")
@click.option("--row", "rows", multiple=True, metavar="'FIELD: KEY = VALUE; ...'", help="One more row of a field.")
@_key("date", "DAY", "Day on which it was done, 2026-05-04 or today.")
@_key("time", "TIME", "Time of day.")
@_key("odometer", "DISTANCE", "Odometer with its unit.")
@_key("by", "NAME", "Who did it.")
@click.option(
    "--instrument", "instruments", multiple=True, metavar="[FIELD=]ID", help="Instrument of all, or of FIELD."
)
@click.option("--u", "spreads", multiple=True, metavar="FIELD=VALUE", help="Standard uncertainty of FIELD.")
@_key("conditions", "TEXT", "Under what conditions.")
@_key("note", "TEXT", "Anything else worth knowing.")
@_key("retest_of", "ID", "Repair that the sheet proves.")
@click.option("--file", "files", multiple=True, metavar="PATH", help="Photo or paper in the folder of the case.")
@_key("id", "ID", "Name of the entry; with --resume: which one.")
@click.option("--resume", is_flag=True, help="Go on with the entry that is not finished, and finish it.")
@click.option("--unfinished", is_flag=True, help="Leave it unfinished: what is missing is no error then.")
@units
@plugin_files
@house_file
def command(
    case: str,
    section: str,
    sets: tuple[str, ...],
    rows: tuple[str, ...],
    instruments: tuple[str, ...],
    spreads: tuple[str, ...],
    files: tuple[str, ...],
    resume: bool,
    unfinished: bool,
    house_file: str | None,
    plugins: tuple[str, ...],
    system: str,
    **keys: str | None,
) -> int:
    """Add a sheet of SECTION to CASE, or a repair, event, waiver, void or instrument, or facts of vehicle or plan.

    Without values, at a terminal, it asks line by line: Enter skips, ? explains, < corrects the last line. Every
    accepted line is saved at once, so an interruption loses nothing; --resume goes on.

    With values it writes them in one step, or says all that is wrong with them. VALUE is what a person would write: a
    quantity with its unit, a number, a choice, yes or no, a day; TOML too. FIELD.3 is the value for number 3 of several
    like parts, "FIELD.2000 rpm" a point of a curve. FIELD given again is a repeat of the reading, or the next of a
    list. Options with the name of a key stand for it: --by is --set by=.
    """
    from loadworthy.cli import talk

    bench = Bench(plugins, house_file, system)
    target = talk.known_target(section, bench)
    before = bench.case(case)
    id = keys["id"] if resume else None
    if resume:
        keys["id"] = None
    named = {key: text for key, text in keys.items() if text is not None}
    given = any((sets, rows, instruments, spreads, files, named))
    if (resume or unfinished) and not target.listed:
        raise click.UsageError(f"{section} is never unfinished: leave out --resume and --unfinished")
    by_prompts = not given and not unfinished and talk.is_person()
    if not given and not resume and not by_prompts:
        raise click.UsageError("\n".join(("nothing to record; write, for instance", *talk.example(target, case))))
    with talk.worded_in(system):
        draft = _draft(case, target, talk.reader(bench), resume=resume, id=id, ask=by_prompts)
        if by_prompts:
            return _by_prompts(draft, bench, before, system)
        collected = _collected(target, draft, sets, rows, named, instruments, spreads, files)
        trial = draft.try_all(collected.table, finished=not unfinished)
        if collected.faults or trial.faults:
            raise talk.refuse((*collected.faults, *trial.faults), case)
        after = draft.set_all(collected.table, finished=not unfinished)
    _summary(draft, before, after, system)
    return 0


def _draft(case: str, target: Target, check: Any, *, resume: bool, id: str | None, ask: bool) -> Draft:
    """Return the table to write: a new one, or one that is not finished yet."""
    from loadworthy.recording.draft import Draft, under_way

    open_ones = under_way(case, target) if target.listed and (resume or ask) else []
    if id is not None:
        open_ones = [row for row in open_ones if row.get("id") == id]
    if resume:
        if not open_ones:
            which = f" with the id {id}" if id is not None else ""
            raise click.ClickException(
                f"{case} has no unfinished {target.name}{which}; leave out --resume to begin one"
            )
        if len(open_ones) > 1 and not ask:
            ids = ", ".join(str(row.get("id", "one without id")) for row in open_ones)
            raise click.ClickException(f"{case} has several unfinished {target.name}: {ids}; say which with --id")
    for row in open_ones if ask else ():
        if (resume and len(open_ones) == 1) or _wants(target, row):
            return Draft(case, target, check, row)
    if resume and ask:
        raise click.ClickException("nothing was recorded")
    return Draft(case, target, check, open_ones[0] if resume else None)


def _wants(target: Target, row: Mapping[str, Any]) -> bool:
    """Ask whether to go on with an unfinished entry."""
    from loadworthy.cli import talk

    words = ", ".join(f"{key} {row[key]}" for key in ("date", "id", "what", "who", "kind", "sheet") if key in row)
    while True:
        # Without a default: it may be somebody else's, who is writing it at this moment.
        answer = talk.ask(f"{target.name} ({words or 'empty'}) is not finished; go on with it? y or n: ")
        if answer.strip().casefold() in ("y", "yes", "n", "no"):
            return answer.strip().casefold()[0] == "y"


def _by_prompts(draft: Draft, bench: Bench, case: Case, system: str) -> int:
    from loadworthy.cli import talk

    try:
        at_end = talk.converse(draft, bench, case, system)
    except KeyboardInterrupt:
        talk.line("")
        _left(draft)
        raise
    if not draft.begun or (not draft.changes and not draft.target.listed):
        known = "" if draft.target.listed else "; --set KEY=VALUE changes what is known already"
        talk.line(f"nothing was recorded{known}")
        return 0
    if not at_end:
        _left(draft)
        return 0
    if not draft.target.listed:
        _summary(draft, case, talk.reader(bench)(draft.data(), draft.path), system)
        return 0
    trial = draft.try_all({}, finished=True)
    if trial.faults:
        _left(draft)
        raise talk.refuse(trial.faults, draft.path)
    _summary(draft, case, draft.finish(), system)
    return 0


def _left(draft: Draft) -> None:
    """Say what stays of an interrupted entry."""
    from loadworthy.cli import talk

    if draft.begun and draft.target.listed:
        how = f"loadworthy record {draft.path} {draft.target.name} --resume"
        talk.line(f"{draft.target.name} is not finished; what was saved is in the file. Go on with: {how}")


def _collected(
    target: Target,
    draft: Draft,
    sets: tuple[str, ...],
    rows: tuple[str, ...],
    named: Mapping[str, str],
    instruments: tuple[str, ...],
    spreads: tuple[str, ...],
    files: tuple[str, ...],
) -> Given:
    """Return the keys that the options give."""
    from loadworthy.errors import Fault
    from loadworthy.recording.answers import AnswerError
    from loadworthy.recording.given import Given
    from loadworthy.recording.papers import attach

    given = Given(target, draft.values)
    for key in _KEYS:
        if key in named:
            given.value(key, "", named[key])
    for text in sets:
        given.set(text)
    for text in rows:
        given.row(text)
    given.named("instrument", instruments)
    given.named("u", spreads)
    attached = []
    for path in files:
        try:
            attached.append(attach(path, draft.path))
        except AnswerError as error:
            given.faults.append(Fault("bad-option", error.problem, f"--file {path}", None, error.write))
    if attached:
        given.attached(attached)
    return given


def _summary(draft: Draft, before: Case, after: Case, system: str) -> None:
    """Say what was written, what is odd about it, and whether the file passes ``check``."""
    from loadworthy.cli import talk

    target = draft.target
    values = talk.count(draft.values, ("id", "date", "unfinished") if target.listed else ())
    day = f" of {draft.values['date']}" if "date" in draft.values else ""
    state = " (not finished)" if draft.values.get("unfinished") is True else ""
    talk.line(f"written to {draft.path}: {target.name}{day}{state}, {values} value{'' if values == 1 else 's'}")
    talk.told(before, after, system)
