"""Registers as one flat table for spreadsheets: CSV as RFC 4180 has it, a row for each thing on a register.

Numbers stand bare, in the reader's units with the unit beside them; texts stand in quotes, and none of them is run as a
formula (OWASP, CSV injection): before what would begin one an apostrophe is put, also where a program that takes
semicolons for separators would begin a cell.
"""

from __future__ import annotations

import re
from math import isfinite
from typing import TYPE_CHECKING

from loadworthy.outputs.page import printable
from loadworthy.outputs.spreadsheet_rows import COLUMNS, rows
from loadworthy.outputs.view import View

if TYPE_CHECKING:
    from collections.abc import Iterable

    from loadworthy.outputs.spreadsheet_rows import Cell
    from loadworthy.register import Register

_DIGITS = 9
_FORMULA = re.compile("(?:^|(?<=;))(?=[\\s\"']*[=+\\-@\uff1d\uff0b\uff0d\uff20])")


def registers_csv(registers: Iterable[Register], *, system: str = "si") -> str:
    """Return the table of one or several registers under one head; ``system`` is ``si`` or ``us``."""
    lines = [line(COLUMNS)]
    for register in registers:
        lines += (line([row.get(column, "") for column in COLUMNS]) for row in rows(View(register, system)))
    return "".join(lines)


def harmless(text: str) -> str:
    """Return text on one line that no spreadsheet takes for a formula.

    >>> harmless("=1+1"), harmless(" @x"), harmless("a;-b"), harmless("a-b")
    ("'=1+1", "'@x", "a;'-b", 'a-b')
    """
    return _FORMULA.sub("'", " ".join(printable(text).split()))


def line(cells: Iterable[Cell]) -> str:
    """Return one line of the table with its end."""
    return ",".join(map(_cell, cells)) + "\r\n"


def _cell(value: Cell) -> str:
    if value is None or value == "":
        return ""
    if isinstance(value, bool):
        return '"yes"' if value else '"no"'
    if isinstance(value, (int, float)):
        return f"{value + 0.0:.{_DIGITS}g}" if isfinite(value) else ""
    return '"' + harmless(value).replace('"', '""') + '"'
