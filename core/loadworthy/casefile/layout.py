"""Where the tables and keys of a TOML text stand, to the character: what an editor of single lines needs.

Only for text that the parser took, so nothing is checked here.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.casefile.locate import TOKEN
from loadworthy.record import NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterator


class Entry(NamedTuple):
    """One ``key = value``: the parts of its key, the first character of the key and the one behind the value."""

    key: tuple[str, ...]
    start: int
    end: int


class Table(NamedTuple):
    """What stands under one header, or before the first.

    ``start`` is the header's first character, ``body`` the one behind the header's line, ``end`` that of the next
    header or of the end of the text. ``listed``: written as ``[[name]]``.
    """

    name: tuple[str, ...]
    listed: bool
    start: int
    body: int
    end: int
    entries: tuple[Entry, ...]


def layout(text: str) -> tuple[Table, ...]:
    """Return every table of a text in its order; the first is what stands before any header, be it nothing."""
    return tuple(_Scan(text).tables())


class _Scan:
    def __init__(self, text: str) -> None:
        self._text = text
        self._tokens = [
            (match.lastgroup or "", match[0], match.start(), match.end())
            for match in TOKEN.finditer(text)
            if match.lastgroup != "blank"
        ]

    def tables(self) -> Iterator[Table]:
        name: tuple[str, ...] = ()
        listed, start, body = False, 0, 0
        entries: list[Entry] = []
        at = 0
        while at < len(self._tokens):
            kind, token, first, _ = self._tokens[at]
            if kind == "line":
                at += 1
            elif token == "[":
                yield Table(name, listed, start, body, first, tuple(entries))
                listed = self._text.startswith("[[", first)
                name, at = self._key(at + (2 if listed else 1), "]")
                at = self._line_end(at)
                start, entries = first, []
                body = self._tokens[at][3] if at < len(self._tokens) else len(self._text)
            else:
                key, equals = self._key(at, "=")
                at, end = self._value(equals + 1)
                entries.append(Entry(key, first, end))
        yield Table(name, listed, start, body, len(self._text), tuple(entries))

    def _key(self, at: int, stop: str) -> tuple[tuple[str, ...], int]:
        """Return the parts of a dotted key and the index of the token that ends it."""
        parts: list[str] = []
        while self._tokens[at][1] != stop:
            kind, token = self._tokens[at][:2]
            parts += [unquoted(token)] if kind == "text" else [part for part in token.split(".") if part]
            at += 1
        return tuple(parts), at

    def _line_end(self, at: int) -> int:
        while at < len(self._tokens) and self._tokens[at][0] != "line":
            at += 1
        return at

    def _value(self, at: int) -> tuple[int, int]:
        """Return the index of the line end behind a value, which may go over lines within brackets, and its end."""
        depth, end = 0, 0
        while at < len(self._tokens):
            kind, token, _, behind = self._tokens[at]
            if kind == "line" and depth == 0:
                break
            if kind != "line":
                end = behind
            if kind == "mark":
                depth += (token in "[{") - (token in "]}")
            at += 1
        return at, end


def unquoted(token: str) -> str:
    """Return the key that a quoted token stands for.

    >>> unquoted('"2000 rpm"'), unquoted("'a.b'")
    ('2000 rpm', 'a.b')
    """
    if "\\" not in token or token[0] == "'":
        return token[1:-1]
    import tomllib

    return next(iter(tomllib.loads(f"{token} = 0")))
