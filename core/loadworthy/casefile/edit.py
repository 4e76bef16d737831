"""Changing a case file's text by tables and keys: every other byte stays, and the parser vouches for it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from loadworthy.casefile.faults import plain, refusal
from loadworthy.casefile.layout import layout
from loadworthy.casefile.locate import TOKEN
from loadworthy.casefile.rendering import lines, table_text
from loadworthy.casefile.tables import parse
from loadworthy.errors import CaseError, Fault
from loadworthy.record import NamedTuple

if TYPE_CHECKING:
    from collections.abc import Mapping

    from loadworthy.casefile.layout import Entry, Table

#: In place of a value: the key is taken out.
GONE: Final[Any] = object()


class Edited(NamedTuple):
    """A text after a change, and what the parser makes of it."""

    text: str
    tables: dict[str, Any]


def with_table(text: str, name: str, section: str, table: Mapping[str, Any]) -> Edited:
    """Return the text with ``[[section]]`` behind all else. Raises CaseError where nothing can follow."""
    added = table_text(section, table, name)
    after = parse(text, name)
    held = after.setdefault(section, [])
    if not isinstance(held, list):
        raise _no_list(section, name)
    held += parse(added)[section]
    new = _behind(text, added)
    if not _is(new, after):
        raise _no_list(section, name)
    return Edited(new, after)


def with_keys(
    text: str,
    name: str,
    section: str,
    index: int | None,
    changes: Mapping[str, Any],
    before: dict[str, Any] | None = None,
) -> Edited:
    """Return the text with keys of one table set, or taken out (`GONE`); comments stay.

    ``index``: of the tables ``[[section]]``, from 0; None is ``[section]``, which is added where it is missing.
    ``before`` are the text's own tables, if they were parsed already: they are changed. Raises CaseError with the line
    to edit by hand where a key is written in a way that this cannot change.
    """
    after = parse(text, name) if before is None else before
    given = {key: value for key, value in changes.items() if value is not GONE}
    if index is None and not _stands(text, section):
        # Tables inside it may stand already, as [[section.rows]].
        added = table_text(section, given, name, listed=False)
        after.setdefault(section, {}).update(parse(added)[section])
        new = _behind(text, added)
    else:
        new = text
        for key, value in changes.items():
            new = _with_key(new, name, section, index, key, value)
        table = after[section] if index is None else after[section][index]
        for key in changes:
            table.pop(key, None)
        table.update(parse("\n".join(lines(given, section, name))))
    if not _is(new, after):
        raise _by_hand(text, name, section, _start(text, section))
    return Edited(new, after)


def _stands(text: str, section: str) -> bool:
    """Whether ``[section]``, or a key of this name before the first header, stands in the text."""
    tables = layout(text)
    return any(table.name == (section,) for table in tables) or any(e.key[0] == section for e in tables[0].entries)


def _with_key(text: str, name: str, section: str, index: int | None, key: str, value: Any) -> str:
    table = _table(text, name, section, index)
    own = [entry for entry in table.entries if entry.key[0] == key]
    below = [other for other in layout(text) if other.start >= table.body and other.name[:2] == (section, key)]
    if index is not None:
        # Tables of the next [[section]] are its own.
        following = [one.start for one in layout(text) if one.name == (section,) and one.start > table.start]
        below = [other for other in below if not following or other.start < following[0]]
    if below or len(own) > 1 or (own and own[0].key != (key,)):
        first = below[0].start if below else own[0].start
        raise _by_hand(text, name, f"{section}.{key}", first)
    if not own:
        return text if value is GONE else _inserted(text, table, lines({key: value}, section, name)[0])
    entry = own[0]
    if any(match[0].startswith("#") for match in TOKEN.finditer(text, entry.start, entry.end)):
        raise _by_hand(text, name, f"{section}.{key}", entry.start)
    if value is GONE:
        return _without(text, entry)
    written = lines({key: value}, section, name)[0].replace("\n", _newline(text))
    return text[: entry.start] + written + text[entry.end :]


def _table(text: str, name: str, section: str, index: int | None) -> Table:
    found = [table for table in layout(text) if table.name == (section,) and table.listed == (index is not None)]
    if len(found) <= (index or 0):
        raise _by_hand(text, name, section, _start(text, section))
    return found[index or 0]


def _inserted(text: str, table: Table, line: str) -> str:
    """Put a line behind the last key of a table, or behind its header."""
    newline = _newline(text)
    at = table.body
    if table.entries:
        end = text.find("\n", table.entries[-1].end)
        at = len(text) if end < 0 else end + 1
    gap = "" if text[:at].endswith("\n") else newline
    return f"{text[:at]}{gap}{line.replace(chr(10), newline)}{newline}{text[at:]}"


def _without(text: str, entry: Entry) -> str:
    """Take a key out, with its line if nothing else stands there."""
    first = text.rfind("\n", 0, entry.start) + 1
    end = text.find("\n", entry.end)
    end = len(text) if end < 0 else end + 1
    if text[first : entry.start].strip() or text[entry.end : end].strip():
        return text[: entry.start] + text[entry.end :].lstrip(" \t")
    return text[:first] + text[end:]


def _behind(text: str, added: str) -> str:
    """Put tables behind a text, a blank line between, in the line ends that the text has."""
    newline = _newline(text)
    gap = "" if not text else newline if text.endswith("\n") else newline * 2
    return text + gap + added.replace("\n", newline)


def _newline(text: str) -> str:
    return "\r\n" if "\r\n" in text else "\n"


def _is(text: str, tables: Mapping[str, Any]) -> bool:
    try:
        return parse(text) == tables
    except CaseError:
        return False


def _start(text: str, section: str) -> int:
    """Return where a table or a key of this name first stands."""
    for table in layout(text):
        if table.name[:1] == (section,):
            return table.start
        for entry in table.entries:
            if not table.name and entry.key[0] == section:
                return entry.start
    return 0


def _by_hand(text: str, name: str, place: str, at: int) -> CaseError:
    line = text.count("\n", 0, at) + 1
    problem = "this is written in a way that only an editor of text can change"
    return refusal(name, Fault("cannot-edit", problem, place, line, f"edit line {line} by hand"), what="written")


def _no_list(section: str, name: str) -> CaseError:
    problem = "the file writes it as one table or as a list in brackets: nothing can be appended to that"
    fault = Fault("cannot-append", problem, plain(section), None, f"write each as [[{plain(section)}]]")
    return refusal(name, fault, what="written")
