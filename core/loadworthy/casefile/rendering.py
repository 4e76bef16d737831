"""Tables as TOML text, as people write a case: a key a line, tables inside it inline, rows one below the other."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from loadworthy.casefile.faults import plain, refusal
from loadworthy.errors import Fault

if TYPE_CHECKING:
    from collections.abc import Mapping


def table_text(section: str, table: Mapping[str, Any], name: str, *, listed: bool = True) -> str:
    """Return the table under its own header, ``[[section]]`` or if not ``listed`` ``[section]``.

    Raises CaseError about the file ``name`` for what no case file can hold.
    """
    header = f"[[{key_text(section)}]]" if listed else f"[{key_text(section)}]"
    return "\n".join((header, *lines(table, plain(section), name))) + "\n"


def lines(table: Mapping[str, Any], place: str, name: str) -> list[str]:
    """Return the lines ``key = value`` of a table. Raises CaseError for what no case file can hold."""
    try:
        found = [f"{key_text(key)} = {value_text(value)}" for key, value in table.items()]
        "\n".join(found).encode("utf-8")
    except (TypeError, ValueError, RecursionError, AttributeError):
        problem = "the table holds a value that no case file can hold"
        write = "use text, numbers, true or false, dates, lists and tables of these"
        raise refusal(name, Fault("wrong-type", problem, place, None, write), what="written") from None
    return found


def document(tables: Mapping[str, Any], name: str) -> str:
    """Return a whole case file. Raises CaseError for what no case file can hold."""
    own = {key: value for key, value in tables.items() if not _is_table(value) and not _are_tables(value)}
    parts = ["".join(f"{line}\n" for line in lines(own, "", name))]
    for key, value in tables.items():
        if _is_table(value):
            parts.append(table_text(key, value, name, listed=False))
        elif _are_tables(value):
            parts += [table_text(key, row, name) for row in value]
    return "\n".join(part for part in parts if part)


def value_text(value: Any) -> str:
    """Return a value as it stands behind a key: a list of tables has each on a line of its own.

    >>> value_text({"1": "12.1 bar"})
    '{1 = "12.1 bar"}'
    """
    if _are_tables(value):
        return "[\n" + "".join(f"    {_inline(row)},\n" for row in value) + "]"
    return _inline(value)


def key_text(name: str) -> str:
    """Return a key, in quotes where it needs them."""
    import tomli_w

    return tomli_w.dumps({name: 1}).removesuffix(" = 1\n")


def _inline(value: Any) -> str:
    if _is_table(value):
        return "{" + ", ".join(f"{key_text(str(key))} = {_inline(part)}" for key, part in value.items()) + "}"
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(_inline(part) for part in value) + "]"
    import tomli_w

    return tomli_w.dumps({"v": value}).removeprefix("v = ").rstrip("\n")


def _is_table(value: Any) -> bool:
    return hasattr(value, "items")


def _are_tables(value: Any) -> bool:
    return isinstance(value, (list, tuple)) and bool(value) and all(_is_table(row) for row in value)
