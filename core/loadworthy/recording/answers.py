"""How a line that somebody types becomes what is written into the file.

Only the form is read here: 12.9 becomes "12.9 bar", "yes" becomes true. Whether a value is possible, and in words why
not, is left to the reader of cases, which sees every line before it is saved.
"""

from __future__ import annotations

import datetime
import re
from typing import TYPE_CHECKING, Any

from loadworthy.units import KINDS, display_unit

if TYPE_CHECKING:
    from loadworthy.declarations import Field

_NUMBER = r"[-+]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][-+]?\d+)?"
#: A number without a unit, perhaps with limits of error in the same unit or in percent.
_BARE = re.compile(rf"({_NUMBER})\s*((?:\+-|\+/-|\u00b1)\s*{_NUMBER}\s*%?)?")
_YES = frozenset(("yes", "y", "true"))
_NO = frozenset(("no", "n", "false"))


class AnswerError(ValueError):
    """A line cannot be what is asked for: what is wrong, and what to write."""

    def __init__(self, problem: str, write: str) -> None:
        super().__init__(f"{problem}; {write}")
        self.problem = problem
        self.write = write


def read(text: str, field: Field, unit: str = "") -> Any:
    """Return what a line means for a field: one value, or a list where it holds several or the field is one.

    ``unit``: in which a number without one is taken; none: such a number is left to be refused. TOML is understood for
    every type of field. Raises AnswerError.

    >>> from loadworthy.declarations import Field
    >>> read("12.9", Field("p", "quantity", kind="pressure_gauge"), "bar gauge")
    '12.9 bar gauge'
    >>> read("yes", Field("f", "flag")), read("1 3, 4", Field("order", "count", many=True))
    (True, [1, 3, 4])
    """
    text = text.strip()
    given = toml(text) if text[:1] in ('"', "'", "[", "{") else None
    if given is not None and (field.type != "text" or isinstance(given, (str, list) if _listed(field) else str)):
        listed = [given] if _listed(field) and not isinstance(given, list) else given
        return _lists(listed) if field.nested else listed
    if field.type in ("series", "rows", "record"):
        raise AnswerError(f"{field.name} is a table", f"write it as TOML, {_example(field)}")
    if field.type == "curve":
        return _curve(text, field, unit)
    if not _listed(field) and field.type != "quantity":
        return _one(text, field, unit)
    found = [_one(part, field, unit) for part in _parts(text, field)]
    if field.nested:
        return [found]
    return found if _listed(field) or len(found) > 1 else found[0]


def shown_unit(field: Field, system: str) -> str:
    """Return the unit in which a number without one is taken, or nothing where the field has none."""
    if field.type not in ("quantity", "curve") or field.kind not in KINDS:
        return ""
    unit = display_unit(field.kind, system)
    return "" if unit == "1" else unit


def speed_key(text: str) -> str:
    """Return the key of a point of a curve: a number alone is in rpm."""
    bare = _BARE.fullmatch(text.strip())
    return f"{bare[1]} rpm" if bare and not bare[2] else text.strip()


def with_unit(text: str, unit: str) -> str:
    """Return a number with the unit behind it; whatever is no bare number stays as it is.

    >>> with_unit("12.1 +- 0.2", "bar"), with_unit("175 psi", "bar")
    ('12.1 bar +- 0.2', '175 psi')
    """
    bare = _BARE.fullmatch(text)
    if not bare or not unit:
        return text
    return f"{bare[1]} {unit} {bare[2]}" if bare[2] else f"{bare[1]} {unit}"


def _lists(value: list[Any]) -> list[Any]:
    return value if any(isinstance(one, list) for one in value) else [value]


def _listed(field: Field) -> bool:
    return field.many or field.nested


def _parts(text: str, field: Field) -> list[str]:
    """Return the values on a line: numbers by blanks and commas, choices by commas, quantities by semicolons."""
    if field.type == "count":
        parts = re.split(r"[\s,;]+", text)
    elif field.type in ("quantity", "number"):
        parts = text.split(";")
    elif field.type == "choice":
        parts = re.split(r"[,;]", text)
    else:
        parts = [text]
    return [part.strip() for part in parts if part.strip()] or [text]


def _one(text: str, field: Field, unit: str) -> Any:
    if field.type == "quantity":
        # Without a unit to add it is left a number: its reader knows which units would fit.
        bare = not unit and "," not in text and re.fullmatch(_NUMBER, text)
        return _number(text) if bare else with_unit(text, unit)
    if field.type in ("number", "count"):
        return _number(text)
    if field.type == "flag":
        word = text.casefold()
        if word not in _YES | _NO:
            raise AnswerError(f'"{_short(text)}" is neither yes nor no', "write yes or no")
        return word in _YES
    if field.type == "date":
        return _date(text)
    if field.type == "choice":
        word = "_".join(text.casefold().split())
        return next((choice for choice in field.choices if choice.casefold() == word), text)
    if field.kind == "time":
        return _time(text)
    return text


def _number(text: str) -> int | float:
    if re.fullmatch(r"[-+]?\d{1,300}", text):
        return int(text)
    if re.fullmatch(_NUMBER, text) and "," not in text:
        return float(text)
    if re.fullmatch(_NUMBER, text):
        raise AnswerError(f'"{_short(text)}" has a comma', f"write {text.replace(',', '.')}")
    raise AnswerError(f'"{_short(text)}" is no number', "write it as 12.3, without a unit")


def _date(text: str) -> Any:
    """Return a day; what is none stays text, for the reader to refuse."""
    day = {"today": 0, "yesterday": 1}.get(text.casefold())
    if day is not None:
        return datetime.date.today() - datetime.timedelta(days=day)
    try:
        return datetime.date.fromisoformat(text) if len(text) == 10 else text
    except ValueError:
        return text


def _time(text: str) -> Any:
    try:
        return datetime.time.fromisoformat(text if ":" in text[:3] and text[1:2] != ":" else f"0{text}")
    except ValueError:
        return text


def _curve(text: str, field: Field, unit: str) -> dict[str, str]:
    """Return points written as ``2000 rpm: 300 N m; 3000 rpm: 320 N m``."""
    points = {}
    for part in text.split(";"):
        speed, mark, value = part.partition(":")
        if not mark or not value.strip():
            raise AnswerError(f'"{_short(part.strip())}" is no point of a curve', f"write {_example(field)}")
        points[speed_key(speed)] = with_unit(value.strip(), unit)
    return points


def _example(field: Field) -> str:
    """Return how a table of the field may be written on one line."""
    if field.type == "curve":
        return f"2000 rpm: 12.3 {display_unit(field.kind)}; 3000 rpm: ..."
    if field.type == "series":
        return f'{{every = "1 ms", unit = "{display_unit(field.kind)}", values = [1.2, 1.3]}}'
    inner = ", ".join(f"{one.name} = ..." for one in field.fields[:2])
    return f"[{{{inner}}}]" if field.type == "rows" else f"{{{inner}}}"


def toml(text: str) -> Any:
    """Return the value that a TOML text stands for, or None."""
    from loadworthy.casefile.tables import parse
    from loadworthy.errors import CaseError

    try:
        found = parse(f"value = {text}")
    except CaseError:
        return None
    return found["value"] if len(found) == 1 else None


def _short(text: str) -> str:
    from loadworthy.casefile.faults import plain

    return plain(text)
