r"""The register as Markdown: CommonMark with the pipe tables of GitHub Flavored Markdown, readable as plain text too.

Free text of cases and plugins comes out as text: whatever could begin markup in it is escaped, where it stands in the
text and where a line breaks. CommonMark 0.31.2, sections 2.4 and 2.5; GFM 0.29, sections 4.10, 6.5 and 6.9.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from loadworthy.outputs.page import WIDTH, Paper, printable

if TYPE_CHECKING:
    from collections.abc import Sequence

    from loadworthy.register import Register

#: Columns of a table are aligned up to this width.
_WIDEST = 32
#: What could begin markup anywhere: an underscore between letters or digits cannot; two dots and a slash, or what
#: follows "www", would become a link where addresses do by themselves.
_SPECIAL = re.compile(r"[\\`*|~$<>]|&(?=[#A-Za-z])|(?<![^\W_])_|_(?![^\W_])|(?<=\])\(|(?<=:)/(?=/)|(?<=[wW]{3})\.")
#: What could begin a block, an underline or a footnote at the beginning of a line; a number is followed by its sign.
_START = re.compile(r"\d{1,9}(?=[.)](?:\s|$))|(?=[-+](?:[\s-]|$)|[#=:]|\[\^)")
_ENTITIES = {"<": "&lt;", ">": "&gt;", "&": "&amp;"}


def register_markdown(register: Register, *, system: str = "si") -> str:
    """Return the whole register as Markdown that ends with a newline; ``system`` is ``si`` or ``us``."""
    from loadworthy.outputs.text import write
    from loadworthy.outputs.view import View

    paper = Markdown()
    write(View(register, system), paper)
    return "\n".join(paper.lines) + "\n"


def escape(text: str) -> str:
    r"""Return text on one line that Markdown shows as it is, as long as it does not begin a line (`filled`).

    >>> escape("a_b *c* <b> | [x](y) & &amp;")
    'a_b \\*c\\* &lt;b&gt; \\| [x]\\(y) & &amp;amp;'
    """
    plain = " ".join(printable(text).split())
    return _SPECIAL.sub(lambda found: _ENTITIES.get(found[0]) or f"\\{found[0]}", plain)


def filled(text: str, indent: str = "", hang: str | None = None) -> list[str]:
    r"""Return text escaped and broken into lines, ``hang`` before all but the first; a longer word is not cut.

    >>> filled("1. # no list, no heading"), filled("xx " * 26 + "x - y")[1]
    (['1\\. # no list, no heading'], '\\- y')
    """
    hang = indent if hang is None else hang
    words = escape(text).split(" ")
    if words[0].startswith("["):  # a definition, or a box to be ticked
        words[0] = f"\\{words[0]}"
    lines: list[str] = []
    line, start = "", indent
    for word in words:
        if line and len(start) + len(line) + 1 + len(word) > WIDTH:
            lines.append(start + _begun(line))
            line, start = word, hang
        else:
            line = f"{line} {word}" if line else word
    return [*lines, (start + _begun(line)).rstrip()]


def table(head: Sequence[str], rows: Sequence[Sequence[str]], right: Sequence[int] = ()) -> list[str]:
    """Return a pipe table, its columns aligned; ``right`` are the indices of those set to the right.

    >>> table(("id", "n"), [("post", "1")], right=(1,))
    ['| id   |   n |', '| :--- | --: |', '| post |   1 |']
    """
    cells = [[escape(cell) for cell in row] for row in (head, *rows)]
    widths = [min(_WIDEST, max(3, *(len(row[i]) for row in cells))) for i in range(len(head) - 1)]
    widths.append(max(3, len(cells[0][-1])))
    ends = [f"{'-' * (width - 1)}:" if i in right else f":{'-' * (width - 1)}" for i, width in enumerate(widths)]
    lines = []
    for row in (cells[0], ends, *cells[1:]):
        aligned = (c.rjust(w) if i in right else c.ljust(w) for i, (c, w) in enumerate(zip(row, widths, strict=True)))
        lines.append(f"| {' | '.join(aligned)} |")
    return lines


def _begun(line: str) -> str:
    found = _START.match(line)
    return f"{found[0]}\\{line[found.end() :]}" if found else line


class Markdown(Paper):
    """Paper for Markdown: parts are headings, entries smaller ones, what is told of them a list."""

    def __init__(self) -> None:
        super().__init__()
        #: What the last thing was: things of one list stand together, everything else is set apart by a blank line.
        self._last = ""
        self._inner = ""

    def title(self, text: str) -> None:
        """Add the title of the whole."""
        self._heading("#", text)

    def lead(self, text: str, *, apart: bool = False) -> None:
        """Add a line that stands by itself, outside any part."""
        self.paragraph(text)

    def part(self, text: str, nothing: str = "") -> None:
        """Begin a part; ``nothing`` is said in it where it is empty."""
        self._heading("##", text)
        if nothing:
            self.paragraph(nothing)

    def section(self, text: str) -> None:
        """Begin a section of a part."""
        self._heading("###", text)

    def paragraph(self, text: str) -> None:
        """Add a paragraph."""
        self._block("paragraph", filled(text))

    def numbered(self, number: int, text: str) -> None:
        """Add a thing of an ordered list."""
        head = f"{number}. "
        self._inner = " " * len(head)
        self._block("numbered", filled(text, head, self._inner))

    def below(self, text: str) -> None:
        """Add a line to the thing before it."""
        self._block("numbered", filled(text, f"{self._inner}- ", f"{self._inner}  "))

    def bullet(self, text: str) -> None:
        """Add a thing of a list without order."""
        self._block("bullet", filled(text, "- ", "  "))

    def entry(self, number: int, marks: Sequence[str], text: str) -> None:
        """Begin an entry with its rank and what it is marked with; `told` tells about it."""
        self._heading("###", f"{number}. {text} ({', '.join(marks)})")

    def told(self, label: str, text: str) -> None:
        """Tell something about the entry."""
        self._block("bullet", filled(text, f"- **{escape(label)}:** ", "  "))

    def table(
        self,
        head: tuple[str, ...],
        rows: Sequence[tuple[str, ...]],
        right: tuple[int, ...] = (),
        *,
        headed: bool = False,
    ) -> None:
        """Add a table, always with a head; a last column without one is left out."""
        width = len(head) if head[-1] else len(head) - 1
        self._block("table", table(head[:width], [row[:width] for row in rows], right))

    def under(self, head: tuple[str, ...], rows: Sequence[tuple[str, ...]], right: tuple[int, ...] = ()) -> None:
        """Add a table to the section before it."""
        self.table(head, rows, right)

    def end(self) -> None:
        """Begin the colophon."""
        self._block("rule", ["---"])

    def foot(self, label: str, text: str) -> None:
        """Add a line of the colophon."""
        self.told(label, text)

    def _heading(self, marks: str, text: str) -> None:
        line = escape(text)
        # A row of "#" at the end would be taken for the end of the heading.
        shown = f"{line[:-1]}\\#" if line.endswith("#") else line
        self._block("heading", [f"{marks} {shown}".rstrip()])

    def _block(self, kind: str, lines: list[str]) -> None:
        if self.lines and (kind != self._last or kind not in ("numbered", "bullet")):
            self.lines.append("")
        self._last = kind
        self.lines += lines
