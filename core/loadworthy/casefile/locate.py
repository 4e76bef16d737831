"""Which line a place such as ``sheets[2].part.3`` stands on, found by a scan of the text.

The TOML parser keeps no lines. The scan runs only once something is wrong, and only over text that the parser took
(or took up to the line in question), so it need not check anything.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

#: A token of TOML. Possessive throughout, so that no text makes it go back: the scan is linear.
TOKEN = re.compile(
    r"""
    (?P<blank>[ \t\r]++|\#[^\n]*+)
    |(?P<line>\n)
    |(?P<long>\"\"\"(?:[^"\\]++|\\.|"(?!""))*+\"{3,5}|'''(?:[^']++|'(?!''))*+'{3,5})
    |(?P<text>"(?:[^"\\\n]++|\\.)*+"|'[^'\n]*+')
    |(?P<mark>[\[\]{}=,])
    |(?P<bare>[^\s\[\]{}=,#"']++)
    |(?P<other>.)
    """,
    re.VERBOSE | re.DOTALL,
)


def tokens(text: str) -> Iterator[tuple[str, str, int]]:
    """Yield kind, text and line of each token of a TOML text, blanks and comments left out."""
    line = 1
    for match in TOKEN.finditer(text):
        kind = match.lastgroup or ""
        token = match[0]
        if kind != "blank":
            yield kind, token, line
        if kind in ("line", "long"):
            line += token.count("\n")


class Places:
    """The line of every key and list element of a text; ``last`` is the last place whose value began.

    Of a key that stands twice the first line is kept.
    """

    __slots__ = ("_counts", "_lines", "_stack", "_table", "last")

    def __init__(self, text: str) -> None:
        self._lines: dict[str, int] = {}
        self._counts: dict[str, int] = {}
        self._table = ""
        # Open values: [place, kind of bracket or "" for a simple one, elements so far]
        self._stack: list[list[str | int]] = []
        self.last = ""
        self._scan(text)

    def line(self, place: str) -> int | None:
        """Return the line of a place (of a list of tables its first), or of the nearest place that holds it."""
        while place:
            line = self._lines.get(place) or self._lines.get(f"{place}[1]")
            if line is not None:
                return line
            place = place[: max(place.rfind("."), place.rfind("["), 0)]
        return None

    def _scan(self, text: str) -> None:
        key: list[str] = []
        header = 0
        expects_key = True
        for kind, token, line in tokens(text):
            if header:
                if token == "]":
                    self._header(key, header, line)
                    header, key = -1, []
                elif token == "[":
                    header = 2
                elif kind in ("bare", "text"):
                    key += _parts(kind, token)
                if header == -1:
                    header = 0
                    expects_key = False  # up to the end of the line
                continue
            inside = self._stack[-1] if self._stack else None
            if kind == "line":
                if not self._stack or not self._stack[0][1]:  # else within a list over several lines
                    self._stack.clear()
                    key, expects_key = [], True
            elif inside is None and token == "[" and expects_key and not key:
                header = 1
            elif (inside is None or inside[1] == "{") and expects_key:
                if token == "=":
                    self._key(key, line)
                    key, expects_key = [], False
                elif token == "}":
                    self._close()
                    expects_key = False
                elif kind in ("bare", "text"):
                    key += _parts(kind, token)
            elif inside is not None:
                expects_key = self._value(inside, token, kind, line)

    def _header(self, key: list[str], brackets: int, line: int) -> None:
        place = ""
        for at, part in enumerate(key):
            place = f"{place}.{part}" if place else part
            if at == len(key) - 1 and brackets == 2:
                self._counts[place] = self._counts.get(place, 0) + 1
            if place in self._counts:
                place = f"{place}[{self._counts[place]}]"
        self._table = self.last = place
        self._lines.setdefault(place, line)

    def _key(self, key: list[str], line: int) -> None:
        holder = str(self._stack[-1][0]) if self._stack else self._table
        self.last = ".".join(([holder] if holder else []) + key)
        self._lines.setdefault(self.last, line)
        self._stack.append([self.last, "", 0])

    def _value(self, inside: list[str | int], token: str, kind: str, line: int) -> bool:
        """Take one token of a value; return whether a key comes next."""
        if inside[1] == "[" and token not in ("]", ","):
            # An element begins: give it a place of its own.
            inside[2] = int(inside[2]) + 1
            place = f"{inside[0]}[{inside[2]}]"
            self._lines.setdefault(place, line)
            inside = [place, "", 0]
            self._stack.append(inside)
        if token in ("[", "{"):
            inside[1] = token
            return token == "{"
        if token in ("]", "}"):
            if not inside[1]:
                self._stack.pop()
            self._close()
        elif token == ",":
            if not inside[1]:
                self._stack.pop()
            return bool(self._stack) and self._stack[-1][1] == "{"
        return False

    def _close(self) -> None:
        """Close the innermost bracket; its value is then a simple one that only waits for what follows."""
        if self._stack:
            self._stack[-1][1] = ""


def _parts(kind: str, token: str) -> list[str]:
    return [token[1:-1]] if kind == "text" else [part for part in token.split(".") if part]
