"""Changing single keys of a text: the parser vouches that nothing else changed, and every other byte stays."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loadworthy import CaseError
from loadworthy.casefile.edit import GONE, with_keys, with_table
from loadworthy.casefile.layout import layout

TEXT = """# a case
name = "x" # its name

[vehicle] # facts
a = 1 # first
# between
"b c" = {x = "1 bar", y = [1, 2]}
long = \"\"\"
[not] = 'a header'
\"\"\"
list = [
    1,
    2,
]

# about the sheets
[[bench]]
date = 2026-05-04
grip = "12 bar" # good

[[bench]]
date = 2026-05-05

[[bench.points]]
load = 1

[plan]
"""


def test_layout_finds_tables_and_keys() -> None:
    tables = layout(TEXT)
    assert [(table.name, table.listed) for table in tables] == [
        ((), False),
        (("vehicle",), False),
        (("bench",), True),
        (("bench",), True),
        (("bench", "points"), True),
        (("plan",), False),
    ]
    vehicle = tables[1]
    assert [entry.key for entry in vehicle.entries] == [("a",), ("b c",), ("long",), ("list",)]
    assert TEXT[vehicle.entries[1].start : vehicle.entries[1].end] == '"b c" = {x = "1 bar", y = [1, 2]}'
    assert TEXT[vehicle.entries[3].end - 1] == "]"
    assert "".join(TEXT[table.start : table.end] for table in tables) == TEXT


@pytest.mark.parametrize(
    ("section", "index", "changes", "before", "after"),
    [
        ("vehicle", None, {"a": 2}, "a = 1 # first", "a = 2 # first"),
        ("vehicle", None, {"list": [3]}, "list = [\n    1,\n    2,\n]", "list = [3]"),
        ("vehicle", None, {"long": "s"}, 'long = """\n[not] = \'a header\'\n"""', 'long = "s"'),
        ("vehicle", None, {"new": "12 bar"}, "    2,\n]\n", '    2,\n]\nnew = "12 bar"\n'),
        ("bench", 0, {"grip": "13 bar"}, '"12 bar" # good', '"13 bar" # good'),
        ("bench", 0, {"grip": GONE}, 'grip = "12 bar" # good', "# good"),
        ("bench", 0, {"date": GONE}, "date = 2026-05-04\n", ""),
        ("bench", 1, {"note": "n"}, "date = 2026-05-05\n", 'date = 2026-05-05\nnote = "n"\n'),
        ("plan", None, {"goal": "power"}, "[plan]\n", '[plan]\ngoal = "power"\n'),
        ("bench", 0, {"rows": [{"r": 1}, {"r": 2}]}, "# good\n", "# good\nrows = [\n    {r = 1},\n    {r = 2},\n]\n"),
    ],
)
@pytest.mark.parametrize("newline", ["\n", "\r\n"])
def test_only_the_keys_lines_change(
    section: str, index: int | None, changes: dict[str, Any], before: str, after: str, newline: str
) -> None:
    text = TEXT.replace("\n", newline)
    assert TEXT.count(before) == 1
    expected = TEXT.replace(before, after).replace("\n", newline)
    assert with_keys(text, "x", section, index, changes).text == expected


def test_a_table_that_is_missing_is_added() -> None:
    assert with_keys("name = 'x'", "x", "vehicle", None, {"a": 1}).text == "name = 'x'\n\n[vehicle]\na = 1\n"
    rows_first = "[[vehicle.points]]\nload = 1\n"
    assert with_keys(rows_first, "x", "vehicle", None, {"a": 1}).text == f"{rows_first}\n[vehicle]\na = 1\n"


def test_a_key_at_the_end_without_a_line_end() -> None:
    assert with_keys("[plan]\na = 1", "x", "plan", None, {"b": 2}).text == "[plan]\na = 1\nb = 2\n"
    assert with_keys("[plan]\na = 1", "x", "plan", None, {"a": 2}).text == "[plan]\na = 2"
    assert with_keys("[plan]", "x", "plan", None, {"a": 2}).text == "[plan]\na = 2\n"


@pytest.mark.parametrize(
    ("text", "section", "index", "key", "line"),
    [
        ("name = 1\nvehicle = {a = 1}\n", "vehicle", None, "a", 2),
        ("\nvehicle.a = 1\n", "vehicle", None, "a", 2),
        ("[vehicle]\n\na.b = 1\n", "vehicle", None, "a", 3),
        ("[vehicle]\n[vehicle.a]\nb = 1\n", "vehicle", None, "a", 2),
        ("[vehicle]\na = [1, # kept\n2]\n", "vehicle", None, "a", 2),
        ("[[bench]]\n[[bench.a]]\nb = 1\n[[bench]]\n", "bench", 0, "a", 2),
    ],
)
def test_what_cannot_be_changed_names_the_line(text: str, section: str, index: int | None, key: str, line: int) -> None:
    with pytest.raises(CaseError, match=f"edit line {line} by hand"):
        with_keys(text, "x", section, index, {key: 5})


def test_tables_of_the_next_one_are_its_own() -> None:
    text = "[[bench]]\nx = 1\n[[bench]]\n[[bench.a]]\nb = 1\n"
    assert with_keys(text, "x", "bench", 0, {"a": 5}).text == text.replace("x = 1\n", "x = 1\na = 5\n")


def test_a_list_in_brackets_cannot_be_appended_to() -> None:
    with pytest.raises(CaseError, match=r"write each as \[\[event\]\]"):
        with_table("event = [{kind = 'a'}]\n", "x", "event", {"kind": "b"})


_KEYS = st.sampled_from(["a", "b", "c d", 'q"t', "é.f"])
_VALUES = st.recursive(
    st.one_of(st.integers(-9, 9), st.text("ab\"'\\\n#]=é", max_size=6), st.booleans(), st.dates()),
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(_KEYS, inner, max_size=3)),
    max_leaves=5,
)


@given(
    st.dictionaries(_KEYS, _VALUES, max_size=4),
    st.lists(st.dictionaries(_KEYS, _VALUES, max_size=3), min_size=1, max_size=3),
    st.dictionaries(_KEYS, _VALUES, min_size=1, max_size=3),
    st.booleans(),
    st.sampled_from(["\n", "\r\n"]),
    st.data(),
)
def test_any_change_of_any_table(
    vehicle: dict[str, Any],
    sheets: list[dict[str, Any]],
    changes: dict[str, Any],
    listed: bool,
    newline: str,
    data: st.DataObject,
) -> None:
    text = with_keys("# top\n", "x", "vehicle", None, vehicle).text
    for sheet in sheets:
        text = with_table(text, "x", "bench", sheet).text
    text = text.replace("\n", newline)
    index = data.draw(st.integers(0, len(sheets) - 1)) if listed else None
    removed = data.draw(st.sets(st.sampled_from(sorted(changes))))
    asked = {key: GONE if key in removed else value for key, value in changes.items()}
    new, tables = with_keys(text, "x", "bench" if listed else "vehicle", index, asked)
    expected = tomllib.loads(text)
    table = expected["bench"][index] if index is not None else expected["vehicle"]
    for key, value in changes.items():
        table.pop(key, None)
        if key not in removed:
            table[key] = value
    assert tomllib.loads(new) == tables == expected
    assert new.startswith("# top")
    assert newline == "\n" or "\n" not in new.replace("\r\n", "")
