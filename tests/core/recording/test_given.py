"""Options give the same case as a file written by hand, for every type of field."""

from __future__ import annotations

import datetime
import re
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from recording.benched import CATALOGUE, known

from loadworthy import Case
from loadworthy.casefile import from_dict
from loadworthy.casefile.rendering import value_text
from loadworthy.recording.given import Given

TODAY = datetime.date(2026, 6, 1)
BASE = {"date": datetime.date(2026, 5, 4), "must": "said"}


def case_of(*sheets: dict[str, Any]) -> Case:
    instruments = [{"id": id, "measures": "pressure_gauge", "resolution": "0.1 bar"} for id in ("g1", "g2")]
    tables = {"bench": list(sheets), "instrument": instruments}
    return from_dict(tables, catalogue=CATALOGUE, today=TODAY)


def collected(*sets: str, rows: tuple[str, ...] = (), values: dict[str, Any] | None = None) -> Given:
    found = Given(known("bench"), values)
    for text in sets:
        found.set(text)
    for text in rows:
        found.row(text)
    return found


@pytest.mark.parametrize(
    ("sets", "hand"),
    [
        (["grip=12 bar +- 0.2"], {"grip": "12 bar +- 0.2"}),
        (["grip=12 bar", "grip=12.2 bar"], {"grip": ["12 bar", "12.2 bar"]}),
        (['grip=["12 bar", "12.2 bar"]'], {"grip": ["12 bar", "12.2 bar"]}),
        (["each.1=178 psi", "each.2=12 bar"], {"each": {"1": "178 psi", "2": "12 bar"}}),
        (["each.wheel 1=178 psi"], {"each": {"1": "178 psi"}}),
        (["each.1=178 psi", "each.1=179 psi"], {"each": {"1": ["178 psi", "179 psi"]}}),
        (['each={1 = "178 psi", 2 = "12 bar"}'], {"each": {"1": "178 psi", "2": "12 bar"}}),
        (["heat=40 degC"], {"heat": "40 degC"}),
        (["share=0.2"], {"share": 0.2}),
        (["share=20 %"], {"share": "20 %"}),
        (["lengths=1 mm", "lengths=2 mm; 3 mm"], {"lengths": ["1 mm", "2 mm", "3 mm"]}),
        (["factor=1.5"], {"factor": 1.5}),
        (["factor=1"], {"factor": 1.0}),
        (["strokes=6"], {"strokes": 6}),
        (["order=3 1", "order=2"], {"order": [3, 1, 2]}),
        (["layout=1 3", "layout=2 4"], {"layout": [[1, 3], [2, 4]]}),
        (["layout=[[1, 3], [2, 4]]"], {"layout": [[1, 3], [2, 4]]}),
        (["state=shut tight"], {"state": "shut_tight"}),
        (["marks.1=a", "marks.1=b", "marks.2=b"], {"marks": {"1": ["a", "b"], "2": ["b"]}}),
        (["marks.2=a, b"], {"marks": {"2": ["a", "b"]}}),
        (["clean=no"], {"clean": False}),
        (["since=2026-05-01"], {"since": datetime.date(2026, 5, 1)}),
        (["at=9:30"], {"at": datetime.time(9, 30)}),
        (["pull.2000 rpm=300 N m", "pull.3000=320 N m"], {"pull": {"2000 rpm": "300 N m", "3000 rpm": "320 N m"}}),
        (["pull=2000 rpm: 300 N m; 3000 rpm: 320 N m"], {"pull": {"2000 rpm": "300 N m", "3000 rpm": "320 N m"}}),
        (
            ['trace={every = "1 ms", unit = "A", values = [1, 2.5]}'],
            {"trace": {"every": "1 ms", "unit": "A", "values": [1, 2.5]}},
        ),
        (['points=[{load = "1 kN", heard = true}]'], {"points": [{"load": "1 kN", "heard": True}]}),
        (["spot.load=1 kN", "spot.heard=y"], {"spot": {"load": "1 kN", "heard": True}}),
        (["note=[x] = 'y'"], {"note": "[x] = 'y'"}),
        (["odometer=84 000.5 km".replace(" 0", "0")], {"odometer": "84000.5 km"}),
    ],
)
def test_options_equal_what_is_written_by_hand(sets: list[str], hand: dict[str, Any]) -> None:
    found = collected("date=2026-05-04", "must=said", *sets)
    assert found.faults == []
    assert case_of(found.table).digest == case_of({**BASE, **hand}).digest != case_of(BASE).digest


@pytest.mark.parametrize(
    "rows",
    [
        ('points: {load = "1 kN", word = "rough"}', 'points: {load = "2 kN", heard = true}'),
        ("points: load = 1 kN; word = rough", "points:load=2 kN;heard=yes"),
    ],
)
def test_rows(rows: tuple[str, str]) -> None:
    found = collected("date=2026-05-04", "must=said", rows=rows)
    hand = {**BASE, "points": [{"load": "1 kN", "word": "rough"}, {"load": "2 kN", "heard": True}]}
    assert found.faults == []
    assert case_of(found.table).digest == case_of(hand).digest


def test_instruments_and_uncertainties() -> None:
    found = collected("date=2026-05-04", "must=said", "grip=12 bar", "each.1=12 bar", "each.2=12 bar")
    found.named("instrument", ["grip=g1", "each=g2"])
    found.named("u", ["each.1=0.1 bar", "each.2=0.2 bar", "grip=0.3 bar"])
    hand = {
        **BASE,
        "grip": "12 bar",
        "each": {"1": "12 bar", "2": "12 bar"},
        "instrument": {"grip": "g1", "each": "g2"},
        "u": {"each": {"1": "0.1 bar", "2": "0.2 bar"}, "grip": "0.3 bar"},
    }
    assert found.faults == []
    assert case_of(found.table) == case_of(hand)
    one = collected("date=2026-05-04", "must=said", "grip=12 bar")
    one.named("instrument", ["g1"])
    assert case_of(one.table) == case_of({**BASE, "grip": "12 bar", "instrument": "g1"})


@pytest.mark.parametrize(
    ("sets", "place", "words"),
    [
        (["gripp=12 bar"], "gripp", "did you mean grip"),
        (["grip"], "grip", "write FIELD=VALUE"),
        (["grip="], "grip", "no value"),
        (["each=12 bar"], "each", r"each\.1="),
        (["must=a", "must=b"], "must", "given twice"),
        (["pull.2000=300 N m", "pull.2000 rpm=310 N m"], "pull.2000 rpm", "given twice"),
        (["pull=2000: 300 N m", "pull.2000=300 N m"], "pull.2000", "given twice"),
        (["each.1=12 bar", 'each={2 = "12 bar"}'], "each", "given twice"),
        (["spot.lode=1 kN"], "spot.lode", "did you mean load"),
        (["heat.1=40 degC"], "heat.1", "no parts"),
        (["clean=perhaps"], "clean", "yes or no"),
    ],
)
def test_every_mistake_has_its_place_and_its_mend(sets: list[str], place: str, words: str) -> None:
    found = collected(*sets)
    assert [fault.place for fault in found.faults] == [place]
    assert re.search(words, str(found.faults[0]))


def test_all_mistakes_are_told_at_once() -> None:
    assert len(collected("x=1", "clean=perhaps", "grip=", rows=("nothing: a = 1", "points: 5")).faults) == 5


def test_parts_and_rows_are_added_to_what_stands() -> None:
    stands = {"each": {"1": "12 bar"}, "points": [{"load": "1 kN"}], "pull": {"2000 rpm": "300 N m"}}
    found = collected(
        "each.2=13 bar", "pull.2000=310 N m", "pull.3000=1 N m", rows=("points: load=2 kN",), values=stands
    )
    assert found.table == {
        "each": {"1": "12 bar", "2": "13 bar"},
        "pull": {"2000 rpm": "310 N m", "3000 rpm": "1 N m"},
        "points": [{"load": "1 kN"}, {"load": "2 kN"}],
    }
    assert stands["each"] == {"1": "12 bar"}
    assert collected("each.1=13 bar", values=stands).table == {"each": {"1": "13 bar"}}


# Drawn sheets ----------------------------------------------------------------------------------------------------

_WHEELS = ("1", "2", "left")
_BAR = st.integers(1, 49).map(lambda n: f"{n / 2} bar")
_WORD = st.text("abc =;:.'\"é", min_size=1, max_size=8).filter(lambda text: text.strip() == text)
_DRAWN: dict[str, st.SearchStrategy[Any]] = {
    "grip": st.one_of(_BAR, st.lists(_BAR, min_size=2, max_size=3)),
    "each": st.dictionaries(
        st.sampled_from(_WHEELS), st.one_of(_BAR, st.lists(_BAR, min_size=2, max_size=3)), min_size=1
    ),
    "lengths": st.lists(st.integers(1, 99).map(lambda n: f"{n} mm"), min_size=1, max_size=3),
    "factor": st.floats(0.0, 2.0),
    "strokes": st.integers(1, 99),
    "order": st.lists(st.integers(1, 9), min_size=1, max_size=4),
    "state": st.sampled_from(["open", "shut_tight"]),
    "marks": st.dictionaries(
        st.sampled_from(_WHEELS), st.lists(st.sampled_from(["a", "b"]), min_size=1, max_size=2), min_size=1
    ),
    "clean": st.booleans(),
    "since": st.dates(datetime.date(2020, 1, 1), datetime.date(2026, 1, 1)),
    "pull": st.dictionaries(
        st.integers(1, 60).map(lambda n: f"{n}00 rpm"), st.integers(0, 500).map(lambda n: f"{n} N m"), min_size=1
    ),
    "points": st.lists(
        st.fixed_dictionaries({"load": st.integers(1, 9).map(lambda n: f"{n} kN")}, optional={"word": _WORD}),
        min_size=1,
        max_size=2,
    ),
    "note": _WORD,
}


def _plain(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return value.isoformat() if hasattr(value, "isoformat") else str(value)


def _as_options(name: str, value: Any, toml: bool) -> tuple[list[str], list[str]]:
    """Return the options --set and --row for a value, in plain words where there are some, or as TOML."""
    if toml:
        return [f"{name}={' '.join(value_text(value).split(chr(10)))}"], []
    if name == "points":
        return [], [f"{name}: {value_text(row)}" for row in value]
    if isinstance(value, dict):
        return [text for key, part in value.items() for text in _as_options(f"{name}.{key}", part, False)[0]], []
    if isinstance(value, list):
        return [f"{name}={_plain(part)}" for part in value], []
    return [f"{name}={_plain(value)}"], []


@given(st.fixed_dictionaries({}, optional=_DRAWN), st.data())
def test_any_sheet_by_options_equals_the_same_by_hand(sheet: dict[str, Any], data: st.DataObject) -> None:
    sets, rows = ["date=2026-05-04", "must=said"], []
    for name, value in sheet.items():
        # A text that looks like TOML is TOML.
        toml = data.draw(st.booleans()) or (isinstance(value, str) and value[0] in "'\"")
        more_sets, more_rows = _as_options(name, value, toml)
        sets += more_sets
        rows += more_rows
    found = (
        collected(*data.draw(st.permutations(sets)), rows=tuple(rows))
        if _orderless(sheet)
        else collected(*sets, rows=tuple(rows))
    )
    assert found.faults == []
    assert case_of(found.table).digest == case_of({**BASE, **sheet}).digest


def _orderless(sheet: dict[str, Any]) -> bool:
    """Whether the order of options cannot matter: no lists."""
    parts = [part for value in sheet.values() for part in (value.values() if isinstance(value, dict) else [value])]
    return not any(isinstance(part, list) for part in parts)
