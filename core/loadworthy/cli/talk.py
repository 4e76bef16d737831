"""What the writing commands share: whether a person is there, reading lines, and the dialogue about one table."""

from __future__ import annotations

import sys
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence

    from loadworthy.case import Case
    from loadworthy.cli.options import Bench
    from loadworthy.errors import CaseError, Fault
    from loadworthy.recording.draft import Draft
    from loadworthy.recording.targets import Target


def is_person() -> bool:
    """Whether somebody at a terminal can be asked."""
    return all(stream is not None and stream.isatty() for stream in (sys.stdin, sys.stdout))


def ask(prompt: str) -> str:
    """Print a prompt and return the line that is typed. Raises EOFError at the end of the input."""
    from loadworthy.cli.output import fit

    _with_line_editing()
    while True:
        try:
            return input(fit(prompt, sys.stdout))
        except UnicodeDecodeError:
            line("this line is not readable text; type it again")


def _with_line_editing() -> None:
    if "readline" not in sys.modules:
        from contextlib import suppress
        from importlib import import_module

        # Its import alone changes what input() can do.
        with suppress(ImportError):
            import_module("readline")


def line(text: str) -> None:
    """Print a line, broken where it is too long, but never within a word: a path is there to be copied."""
    from loadworthy.cli.output import say
    from loadworthy.outputs.page import WIDTH, wrap

    longest = max(map(len, text.split()), default=0)
    say(text if longest > WIDTH - 2 else "\n".join(wrap(text, "", "  ")))


def reader(bench: Bench) -> Callable[[bytes, str], Case]:
    """Return the function that reads the bytes of a case as every command does."""
    from loadworthy.casefile import loads

    catalogue = bench.host.catalogue
    shared = bench.house.instruments if bench.house is not None else ()
    return lambda data, name: loads(data, name, catalogue, shared=shared)


def converse(draft: Draft, bench: Bench, case: Case, system: str, *, every: bool = True) -> bool:
    """Ask for what a table lacks; false if the person left before its end. Raises CaseError.

    ``every``: all fields; else those that matter most, and the others only if the person wants to.
    """
    from loadworthy.outputs.words import in_prose
    from loadworthy.recording.dialogue import Dialogue, Finished
    from loadworthy.recording.papers import attach
    from loadworthy.recording.targets import members

    dialogue = Dialogue(
        draft,
        members(bench.host.subjects(case).values),
        case.vehicle,
        ask=ask,
        say=lambda text: line(in_prose(text, system)),
        attach=lambda path: attach(path, draft.path),
        system=system,
    )
    dialogue.opening()
    target = draft.target
    try:
        dialogue.about(target.asked[: target.first])
        if target.first < len(target.asked):
            more = f"{len(target.asked) - target.first} further facts may be asked for; go on? y or n: "
            if every or ask(more).strip().casefold() in ("y", "yes"):
                dialogue.about(target.asked[target.first :])
    except Finished:
        pass
    except EOFError:
        line("")
        return False
    finally:
        for name in draft.waiting:
            line(f"not saved, because it is not complete: {name}")
    return True


def told(before: Case, after: Case, system: str) -> None:
    """Print what became odd, what is unfinished, and whether the file passes ``check``."""
    from loadworthy.outputs.words import in_prose
    from loadworthy.recording.papers import examine

    faults, notes = examine(after)
    new = [note for note in (*after.notes, *notes) if note.code == "unfinished" or note not in before.notes]
    for note in new:
        line(in_prose(f"note: {note}", system))
    for fault in faults:
        line(f"fault: {fault}")
    if faults:
        line(f"loadworthy check {after.path} refuses it: an attached file was changed")
    else:
        line(f"loadworthy check {after.path} finds no errors")


def refuse(faults: Sequence[Fault], name: str) -> CaseError:
    """Return the error that says why nothing was written."""
    from loadworthy.casefile.faults import refusal

    return refusal(name, *faults, what="written")


@contextmanager
def worded_in(system: str) -> Iterator[None]:
    """Let faults tell quantities in the reader's units."""
    from loadworthy.cli.options import worded
    from loadworthy.errors import LoadworthyError

    try:
        yield
    except LoadworthyError as error:
        raise worded(error, system) from None


def known_target(name: str, bench: Bench) -> Target:
    """Return what can be written under a name. Raises ClickException with the nearest names."""
    from loadworthy.casefile.faults import Faults
    from loadworthy.recording.targets import names, target

    found = target(name, bench.host.catalogue)
    if found is None:
        known = names(bench.host.catalogue)
        hint = Faults().one_of(name, known)
        raise click.ClickException(f"no installed check has the section {name}; {hint}")
    return found


def example(target: Target, case: str) -> list[str]:
    """Return what to write where nothing was given: an example, and every field."""
    from loadworthy.outputs.page import wrap

    own = [field for field in target.fields if field.type == "quantity" and field.name != "odometer"][:1]
    required = [field for field in target.fields if field.required]
    wanted = required + [field for field in own if target.listed and field not in required]
    words = [f"loadworthy record {case} {target.name}"]
    for field in wanted or target.fields[:1]:
        part = ".1" if field.per else ""
        words.append("--date 2026-05-04" if field.name == "date" else f"--set {field.name}{part}=...")
    known = ", ".join(f"{field.name}{' (required)' if field.required else ''}" for field in target.fields)
    return [" ".join(words), *wrap(f"fields: {known}", "", "  ")]


def count(values: dict[str, Any], skip: Iterable[str]) -> int:
    """Return how many single values a table holds, besides some keys."""
    left = {key: value for key, value in values.items() if key not in skip}
    return sum(map(_leaves, left.values()))


def _leaves(value: Any) -> int:
    if isinstance(value, dict):
        return sum(map(_leaves, value.values()))
    if isinstance(value, list):
        return sum(map(_leaves, value))
    return 1
