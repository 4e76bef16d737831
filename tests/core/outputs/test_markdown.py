"""The register as Markdown says what the text says, and no text of a case or a plugin becomes markup."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from markdown_it import MarkdownIt
from shown import CASE, register

from loadworthy.outputs.markdown import Markdown, escape, filled, register_markdown, table
from loadworthy.outputs.page import Paper, printable
from loadworthy.outputs.text import write
from loadworthy.outputs.view import View
from loadworthy.record import evolve
from support import DEMOS, bundled

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from markdown_it.token import Token

    from loadworthy import Register

READER = MarkdownIt("commonmark").enable(["table", "strikethrough"])
#: Whatever else may be written into a case or a plugin's text.
HOSTILE = [
    "<script>alert(1)</script>",
    "<!-- -->",
    "<https://example.org>",
    "https://example.org www.example.org",
    "&lt;b&gt; &#60;b&#62; &copy;",
    "# head\n## head",
    "text #",
    "> quoted",
    "- item\n+ item\n* item",
    "1. item\n2) item",
    "[x](http://example.org)",
    "![x](y.png)",
    "[x]: http://example.org",
    "[x][x] [x]",
    "[^1]: note [^1]",
    "[ ] box",
    "*em* **strong** _em_ __strong__ a_b_c ~~gone~~ ~gone~",
    "`code` ``code``",
    "```\nblock",
    "~~~",
    "---",
    "===",
    "***",
    "| a | b |\n| - | - |",
    "a\\",
    "\\* \\| \\\\| \\`",
    "    indented",
    "two  \nlines",
    "$x$",
    "\x1b[31mred\x1b[0m \x00 \x07 \u202e\u2066 \u200b \ufeff",
    "\uff1cscript\uff1e",
]
TEXT = st.one_of(
    st.sampled_from(HOSTILE),
    st.text("<>&[]()!#*_`~|\\-+=:.$ \n19ax\u202e/w^\"'", max_size=30),
    st.text(max_size=20),
    st.lists(st.sampled_from(HOSTILE), min_size=1, max_size=3).map(" ".join),
)


def tokens(text: str) -> Iterator[Token]:
    for token in READER.parse(text):
        yield token
        yield from token.children or ()


def structure(text: str) -> list[tuple[str, str]]:
    """What stands there, without the text and where its lines break."""
    inner = ("text", "softbreak", "text_special")
    return [(token.type, token.tag) for token in tokens(text) if token.type not in inner]


def content(text: str) -> str:
    """The text that a reader of the rendered form sees, blanks as one."""
    parts = []
    for token in READER.parse(text):
        # Words of one block follow each other; two blocks are apart.
        inner = "".join(" " if one.type == "softbreak" else one.content for one in token.children or ())
        parts.append(inner)
    return squeezed(" ".join(parts))


def squeezed(text: str) -> str:
    return " ".join(printable(text).split())


class Recorder(Paper):
    """Writes down every text that is put on paper, in order."""

    def __init__(self) -> None:
        super().__init__()
        self.texts: list[str] = []

    def title(self, text: str) -> None:
        self.texts.append(text)

    def lead(self, text: str, *, apart: bool = False) -> None:
        self.texts.append(text)

    def part(self, text: str, nothing: str = "") -> None:
        self.texts += [text, nothing]

    def numbered(self, number: int, text: str) -> None:
        self.texts.append(text)

    def entry(self, number: int, marks: Sequence[str], text: str) -> None:
        self.texts += [text, *marks]

    def told(self, label: str, text: str) -> None:
        self.texts += [label, text]

    def table(
        self,
        head: tuple[str, ...],
        rows: Sequence[tuple[str, ...]],
        right: tuple[int, ...] = (),
        *,
        headed: bool = False,
    ) -> None:
        self.texts += [cell for row in (head, *rows) for cell in row]

    def under(self, head: tuple[str, ...], rows: Sequence[tuple[str, ...]], right: tuple[int, ...] = ()) -> None:
        self.table(head, rows, right)

    section = paragraph = below = bullet = title
    foot = told


def recorded(found: Register, system: str) -> list[str]:
    paper = Recorder()
    write(View(found, system), paper)
    return [squeezed(text) for text in paper.texts if squeezed(text)]


def holds_in_order(whole: str, parts: list[str]) -> None:
    at = 0
    for part in parts:
        found = whole.find(part, at)
        assert found >= 0, part
        at = found + len(part)


@pytest.mark.parametrize("system", ["si", "us"])
@pytest.mark.parametrize("path", [*DEMOS, None], ids=lambda path: path.stem if path else "everything")
def test_it_says_what_the_text_says_in_the_same_order(path: Any, system: str) -> None:
    from loadworthy import Case, assess

    found = register() if path is None else assess(Case.load(path, catalogue=bundled().catalogue), host=bundled())
    text = register_markdown(found, system=system)
    holds_in_order(content(text), recorded(found, system))
    # Nothing is lost on the way to the text either: there words may be cut, so without blanks.
    assert {token.type for token in tokens(text)} <= PLAIN
    assert all(char.isprintable() or char == "\n" for char in text)


#: What a register is made of: no link, image, code or HTML among it.
PLAIN = {
    *(f"{name}_{end}" for name in ("heading", "paragraph", "bullet_list", "ordered_list") for end in ("open", "close")),
    *(f"{name}_{end}" for name in ("list_item", "strong", "table", "thead", "tbody") for end in ("open", "close")),
    *(f"{name}_{end}" for name in ("tr", "th", "td") for end in ("open", "close")),
    *("inline", "text", "text_special", "softbreak", "hr"),
}


def test_headings_tables_and_lists_are_what_they_should_be() -> None:
    text = register_markdown(register())
    assert text.startswith("# Test rig, everything at once\n\nAs known on 2026-05-10\n\nOutcome: HOLD, repair first.")
    headings = [line for line in text.splitlines() if line.startswith("#")]
    assert headings[1:4] == ["## What decides", "## What to do first", "## Risks, the worst first"]
    assert "### 1. Post loose, post 1, DANGER TO PERSONS (high, possible)" in headings
    assert "- **id:** loose-post@post 1" in text
    assert "|  rpm | today | planned | allowed | what binds |\n| ---: | ----: |" in text
    # Once in text, where the label stands only beside the first of several; here beside each.
    assert text.count("**for it:**") == 4
    assert "## Gates, apart from the outcome\n\n- go: " in text


def test_lines_are_short_and_a_case_without_torque_is_told() -> None:
    text = register_markdown(register('name = "empty"'))
    assert "## Ceilings over speed\n\nno table, plan or demand is unknown\n" in text
    long = [line for line in text.splitlines() if len(line) > 82 and not line.startswith(("|", "#"))]
    assert long == []


# Hostile text ---------------------------------------------------------------------------------------------------------


def written(text: str) -> str:
    """A document with the text in every place that there is."""
    paper = Markdown()
    paper.title(text)
    paper.lead(text)
    paper.part(text, text)
    paper.section(text)
    paper.paragraph(text)
    for number in (1, 2):
        paper.numbered(number, text)
        paper.below(text)
    paper.bullet(text)
    paper.bullet(text)
    paper.entry(10, (text, text), text)
    paper.told("label", text)
    paper.told("label", f"before {text}")
    paper.table(("a", "b"), [(text, text), ("x", text)], (1,))
    paper.under(("a", "b"), [(text, "y")])
    paper.end()
    paper.foot("label", text)
    return "\n".join(paper.lines) + "\n"


PLACES = written("plain").count("plain")


@given(TEXT.filter(lambda text: squeezed(text)))
@example("\\")
@example("a [")
@example("](x)")
@example("_ _a_ _")
@settings(max_examples=400, deadline=None)
def test_no_text_is_markup_wherever_it_stands(text: str) -> None:
    found = written(text)
    assert structure(found) == structure(written("plain"))
    words, plain = ("".join(content(one).split()) for one in (found, written("plain")))
    assert plain.count("plain") == PLACES > 20
    assert words == plain.replace("plain", "".join(printable(text).split()))


@given(TEXT, st.integers(60, 90))
@settings(max_examples=200, deadline=None)
def test_no_break_of_a_line_makes_markup(text: str, before: int) -> None:
    """Words move to the beginning of a line, where other characters begin markup."""
    long = f"{'x' * before} {text} {text} {'y ' * 30}{text}"
    for indent in ("", "- ", "  "):
        lines = "\n".join(filled(long, indent, " " * len(indent)))
        assert content(lines) == squeezed(long)
        kinds = {token.type for token in tokens(lines)} - {"bullet_list_open", "bullet_list_close"}
        assert kinds <= {"paragraph_open", "paragraph_close", "inline", "text", "text_special", "softbreak"} | {
            "list_item_open",
            "list_item_close",
        }


@given(st.lists(st.lists(TEXT, min_size=3, max_size=3), max_size=4))
@settings(deadline=None)
def test_a_table_keeps_its_cells(rows: list[list[str]]) -> None:
    found = [token for token in READER.parse("\n".join(table(("a", "b", "c"), rows, (2,)))) if token.type == "inline"]
    cells = ["".join(one.content for one in token.children or ()) for token in found]
    assert cells == ["a", "b", "c", *(squeezed(cell) for row in rows for cell in row)]


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
def test_free_text_of_a_case_comes_out_as_text(text: str) -> None:
    """Names, reasons, names of persons: put behind the reader, which refuses some of it."""
    plain = register()
    case = plain.case
    hostile = evolve(
        plain,
        case=evolve(case, name=text, voids=tuple(evolve(void, why=text, who=text) for void in case.voids)),
        waivers=tuple(seen._replace(waiver=evolve(seen.waiver, who=text, why=text)) for seen in plain.waivers),
        limits_changed=tuple(change._replace(reason=text) for change in plain.limits_changed),
        notes=(text,),
        gates=tuple(evolve(gate, text=text, why=text) for gate in plain.gates),
    )
    found = register_markdown(hostile)
    assert {token.type for token in tokens(found)} <= PLAIN
    holds_in_order(content(found), recorded(hostile, "si"))
    assert "\u202e" not in found
    assert "\x1b" not in found


def test_a_stream_in_ascii_gets_no_markup_either() -> None:
    """Dropping accents would turn a wide sign into the one that begins markup."""
    from loadworthy.cli.output import _in_numbers

    text = _in_numbers("\n".join(filled("\uff1cscript\uff1e \uff0a caf\u00e9")))
    assert text.isascii()
    assert content(text) == "\uff1cscript\uff1e \uff0a caf\u00e9"


def test_escapes_are_few_in_ordinary_text() -> None:
    ordinary = "compression.leak_area@cylinder 3 [x.y] (25 min); 82 % of: a + b - c = 3.5, 1.5 bar"
    assert escape(ordinary) == ordinary
    assert CASE.splitlines()[1] == 'name = "Test rig, everything at once"'
