"""Lists of what is installed in every form but text: the same columns for programs, spreadsheets and documents."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from loadworthy.outputs.spreadsheet_rows import Cell


def listing(title: str, columns: Sequence[str], rows: Sequence[Sequence[Cell]], form: str) -> str:
    """Return rows as ``json`` (a list of objects), ``csv`` or ``markdown`` (a table under the title)."""
    if form == "json":
        from json import dumps

        data = [dict(zip(columns, row, strict=True)) for row in rows]
        return dumps(data, indent=1, sort_keys=True, ensure_ascii=True, allow_nan=False) + "\n"
    if form == "csv":
        from loadworthy.outputs.spreadsheet import line

        return "".join(map(line, (columns, *rows)))
    from loadworthy.outputs.markdown import table

    lines = table(columns, [[_word(cell) for cell in row] for row in rows])
    return "\n".join((f"# {title}", "", *lines)) + "\n"


def _word(cell: Cell) -> str:
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    return f"{cell:.6g}" if isinstance(cell, (int, float)) else cell
