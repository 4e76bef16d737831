"""What is said about a field before it is asked for, and about a line that was refused or is odd."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from loadworthy.casefile.rendering import value_text
from loadworthy.casefile.values import usual_range
from loadworthy.recording.answers import shown_unit
from loadworthy.units import KINDS, format_value

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from loadworthy.declarations import Field
    from loadworthy.errors import Fault
    from loadworthy.recording.questions import Question

KEYS = (
    "Enter skips, ? explains, < corrects the last line, + adds a reading of the same, . finishes, Ctrl-D leaves it for "
    "later. Every line is saved at once."
)
_HELP = (
    "Enter: skip this",
    "<: back to the last line that was saved, to correct it or to take it out",
    "+: another reading of what was saved last, a repeat",
    ".: finish; what is missing is asked no more",
    "Ctrl-D: leave it unfinished, to go on later with loadworthy record",
)


def about(field: Field, vehicle: Mapping[str, Any], system: str) -> Iterator[str]:
    """Yield what to know before answering: text, usual range, choices, help, caution."""
    need = ", required" if field.required else ""
    usual = between(usual_range(field, vehicle), field, system)
    yield f"{field.name}{need}: {field.text or field.name}{f'; usual {usual}' if usual else ''}"
    if field.choices:
        yield f"one of: {', '.join(field.choices)}"
    if field.help:
        yield field.help
    if field.caution:
        yield f"CAUTION: {field.caution}"


def explained(question: Question, vehicle: Mapping[str, Any], system: str) -> Iterator[str]:
    """Yield everything there is to say about a question, and what may be typed."""
    field = question.field
    yield from about(field, vehicle, system)
    possible = between(field.possible or (), field, system)
    if possible:
        yield f"possible: {possible}"
    yield _how(question, system)
    yield from _HELP


def between(bounds: Sequence[float | None], field: Field, system: str) -> str:
    """Return a range of a field in words, or nothing where it has no end."""
    low, high = bounds if len(bounds) == 2 else (None, None)
    if low is None and high is None:
        return ""
    if low is None:
        return f"up to {_amount(high, field, system)}"
    if high is None:
        return f"from {_amount(low, field, system)}"
    return f"{_amount(low, field, system)} to {_amount(high, field, system)}"


def prompt(question: Question, system: str, today: str = "") -> str:
    """Return what stands before the answer; ``today`` is what Enter means where that is not to skip."""
    unit = "rpm" if question.key == "speed" else "" if question.key else shown_unit(question.field, system)
    hint = f" ({today})" if today else " (Enter: no more)" if question.ends else ""
    return f"{question.label}{f' [{unit}]' if unit else ''}{hint}: "


def value(written: Any) -> str:
    """Return a value as it stands in the file, on one line."""
    return " ".join(value_text(written).split())


def fault(one: Fault) -> str:
    """Return what is wrong and what to write; the place is known."""
    return f"{one.problem}; {one.write}" if one.write else one.problem


def _amount(number: float | None, field: Field, system: str) -> str:
    if number is None:
        return ""
    return format_value(number, field.kind, system=system) if field.kind in KINDS else f"{number:.6g}"


def _how(question: Question, system: str) -> str:
    """Return how an answer may be written."""
    field = question.field
    unit = shown_unit(field, system)
    if question.key:
        return f"write which {question.key} comes next"
    if field.type == "quantity":
        bare = f"; a number alone is in {unit}" if unit else ""
        return f'write number and unit, with limits of error if known, as in "12.1 {unit} +- 0.2"{bare}'
    return {
        "flag": "write yes or no",
        "date": "write it as 2026-05-04, or today",
        "count": "write a whole number" + ("; several with blanks between" if field.many or field.nested else ""),
        "number": "write a number without unit",
        "choice": "write one of the choices" + ("; several with commas between" if field.many else ""),
        "series": "write a TOML table of every, unit and values",
        "curve": f"write the value{f', a number alone is in {unit}' if unit else ''}",
    }.get(field.type, "write it as text on one line")
