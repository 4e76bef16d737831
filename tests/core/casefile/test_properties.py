"""Properties of reading and writing over generated cases of a small section that has every type of field."""

from __future__ import annotations

import copy
import datetime
import functools
from pathlib import Path
from typing import Any

import pytest
from attrs import define, evolve
from drawn_cases import CATALOGUE, FIELDS, TODAY, cases, read
from hypothesis import given, settings
from hypothesis import strategies as st

from loadworthy import Case, CaseError
from loadworthy.case import Instrument, Reading
from loadworthy.casefile import append, converter, dump, load, loads, to_dict


def test_the_generator_makes_valid_cases_of_every_kind() -> None:
    """The properties below hold for refused cases too, so count that most are not refused."""
    seen: list[bool] = []
    keys: set[str] = set()

    @settings(max_examples=60, deadline=None, database=None)
    @given(cases())
    def run(tables: dict[str, Any]) -> None:
        try:
            case = read(tables)
        except CaseError:
            seen.append(False)
        else:
            seen.append(True)
            keys.update(name for sheet in case.sheets for name in sheet.values)

    run()
    assert sum(seen) > 0.6 * len(seen)
    assert keys == set(FIELDS)


@functools.cache
def _nothing() -> Case:
    return read({})


def case_of(tables: dict[str, Any]) -> Case:
    """Return the case, or an empty one where two generated sheets happen to be the same or a quantity is refused."""
    try:
        return read(tables)
    except CaseError:
        return _nothing()


@settings(max_examples=120, deadline=None)
@given(cases())
def test_tables_of_a_case_read_back_to_an_equal_case(tables: dict[str, Any]) -> None:
    case = case_of(tables)
    again = read(to_dict(case, catalogue=CATALOGUE))
    assert again == case
    assert again.digest == case.digest


@settings(max_examples=40, deadline=None)
@given(cases())
def test_a_dumped_case_loads_equal(tmp_path_factory: pytest.TempPathFactory, tables: dict[str, Any]) -> None:
    path = tmp_path_factory.mktemp("dump") / "case.toml"
    case = case_of(tables)
    dump(case, path, catalogue=CATALOGUE)
    assert evolve(load(path, catalogue=CATALOGUE, today=TODAY), path="") == case


@settings(max_examples=80, deadline=None)
@given(cases(), st.randoms(use_true_random=False))
def test_order_in_the_file_changes_nothing(tables: dict[str, Any], chance: Any) -> None:
    def shuffled(value: Any, ordered: bool = False) -> Any:
        if isinstance(value, dict):
            items = list(value.items())
            chance.shuffle(items)
            return {key: shuffled(part, key not in ("bench", "repair", "event")) for key, part in items}
        if isinstance(value, list):
            parts = [shuffled(part) for part in value]
            if not ordered:
                chance.shuffle(parts)
            return parts
        return value

    case = case_of(tables)
    if case is not _nothing():
        mixed = copy.deepcopy(tables)
        for key in list(mixed):
            mixed[key] = shuffled(mixed[key], ordered=False)
        for sheet in mixed["bench"]:  # lists inside a sheet do have an order
            sheet |= {key: part for key, part in _original(tables, sheet).items() if isinstance(part, list)}
        assert read(mixed) == case


def _original(tables: dict[str, Any], sheet: dict[str, Any]) -> dict[str, Any]:
    """Return the sheet of which ``sheet`` is a shuffle."""

    def plain(value: Any) -> Any:
        if isinstance(value, dict):
            return sorted((key, plain(part)) for key, part in value.items())
        return sorted(str(plain(part)) for part in value) if isinstance(value, list) else str(value)

    return next(one for one in tables["bench"] if plain(one) == plain(sheet))


JUNK = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(),
    st.just(10**400),
    st.floats(),
    st.text(max_size=8),
    st.sampled_from(["0 bar", "12 bar +- 0", "-3 bar abs", "12", "g", "\ud800", "2026-02-30", "1e999 bar", "@", "r0"]),
    st.just([]),
    st.just({}),
    st.just([[{}]]),
    st.just({"1": "0 bar"}),
    st.just({1: None}),
    st.datetimes(),
    st.binary(max_size=3),
).map(copy.deepcopy)


@settings(max_examples=400, deadline=None)
@given(cases(), st.data())
def test_any_value_anywhere_gives_a_case_or_a_case_error(tables: dict[str, Any], data: st.DataObject) -> None:
    """A change of type or content at a random place of the tables, down to the single value."""
    tables = copy.deepcopy(tables)
    for _ in range(data.draw(st.integers(1, 3))):
        holder: Any = tables
        while True:
            keys = list(holder) if isinstance(holder, dict) else list(range(len(holder)))
            if not keys:
                break
            key = data.draw(st.sampled_from(keys))
            if not isinstance(holder[key], (dict, list)) or data.draw(st.integers(0, 4)) == 0:
                holder[key] = data.draw(JUNK)
                break
            holder = holder[key]
        if isinstance(holder, dict) and data.draw(st.booleans()):
            holder[data.draw(st.sampled_from(["u", "instrument", "grip", "x", "id", 7]))] = data.draw(JUNK)
    try:
        outcome = [read(tables).digest]
    except CaseError as error:
        outcome = [fault.problem for fault in error.faults]
    assert outcome
    assert all(outcome)


@pytest.mark.parametrize(
    ("u", "place"),
    [
        ('{each = {1 = "0 bar"}}', "bench[1].u.each.1"),
        ('{each = {1 = "2 degC"}}', "bench[1].u.each.1"),
        ('{each = {3 = "0.1 bar"}}', "bench[1].u.each.3"),
        ('{points = {load = "0 N"}}', "bench[1].u.points.load"),
        ('{points = "0.1 N"}', "bench[1].u.points"),
        ('{strokes = "1"}', "bench[1].u.strokes"),
        ('{heat = "1 K"}', "bench[1].u.heat"),
        ('"0.1 bar"', "bench[1].u"),
    ],
)
def test_a_stated_uncertainty_that_cannot_be_used_is_a_fault_at_its_place(u: str, place: str) -> None:
    text = '[[bench]]\ndate = 2026-05-04\neach = {1 = "12 bar"}\npoints = [{load = "1 N"}]\nstrokes = 4\nu = ' + u
    with pytest.raises(CaseError) as caught:
        loads(text.encode(), "x", CATALOGUE, today=TODAY)
    assert [(fault.place, fault.line) for fault in caught.value.faults] == [(place, 6)]


def test_stated_uncertainties_survive_writing() -> None:
    case = read(
        {"bench": [{"date": "2026-05-04", "each": {"1": "12 bar", "2": "11 bar"}, "u": {"each": {"2": "0.1 bar"}}}]}
    )
    written = to_dict(case, catalogue=CATALOGUE)["bench"][0]
    assert written["u"] == {"each": {"2": "0.1 bar"}}
    first, second = (case.sheets[0].reading("each", key) for key in "12")
    assert first is not None
    assert second is not None
    assert first.u == pytest.approx(0.02 * 12e5)  # the field's default
    assert second.u == pytest.approx(0.1e5)


def test_readings_made_by_a_program_can_be_written() -> None:
    case = evolve(_nothing(), vehicle={"tank": Reading(0.061, 2e-4, "volume", "L")})
    tank = read(to_dict(case, catalogue=CATALOGUE)).vehicle["tank"]
    assert tank.value == pytest.approx(0.061, rel=1e-12)
    assert tank.u == pytest.approx(2e-4, rel=1e-9)


def test_samples_in_other_units_have_the_same_digest() -> None:
    one, other = (
        read({"bench": [{"date": "2026-05-04", "trace": {"every": every, "unit": unit, "values": values}}]})
        for every, unit, values in (("1 ms", "A", [1.5, 2]), ("0.001 s", "mA", [1500, 2000]))
    )
    assert one.digest == other.digest
    assert one.sheets[0].id == other.sheets[0].id


def test_every_reference_is_checked_beside_other_faults() -> None:
    with pytest.raises(CaseError) as caught:
        read(
            {
                "vehicle": {"tnk": "61 L"},
                "repair": [
                    {"id": "late", "date": "2026-06-01", "what": "w", "treats": ["leak"]},
                    {"id": "bad", "date": "2026-05-01", "what": 3, "treats": ["leak"]},
                ],
                "bench": [
                    {"id": "s1", "date": "2026-05-04", "retest_of": "late"},
                    {"id": "s2", "date": "2026-05-04", "retest_of": "bad"},
                    {"id": "s3", "date": "2026-05-04", "strokes": "4"},
                    {"id": "s5", "date": "2026-05-04", "strokes": 4},
                ],
                "void": [
                    {"sheet": "s5", "why": "w", "who": "v", "date": "2026-05-01"},
                    {"sheet": "s3", "why": "w", "who": "v", "date": "2026-05-05"},
                    {"sheet": "s4", "why": "w", "who": "v", "date": "2026-05-05"},
                ],
            }
        )
    assert sorted((fault.code, fault.place) for fault in caught.value.faults) == [
        ("bad-date", "bench[1].retest_of"),
        ("bad-date", "void[1].date"),
        ("unknown-key", "vehicle.tnk"),
        ("unknown-sheet", "void[3].sheet"),
        ("wrong-type", "bench[3].strokes"),
        ("wrong-type", "repair[2].what"),
    ]


def test_a_gauge_of_the_house_serves_reading_and_appending(tmp_path: Path) -> None:
    shared = (Instrument("house", "pressure_gauge", accuracy_class=1.6, span=25e5),)
    path = tmp_path / "case.toml"
    path.write_bytes(b"")
    sheet = {"date": "2026-05-04", "grip": "12 bar", "instrument": "house"}
    with pytest.raises(CaseError, match="no instrument"):
        append(path, "bench", sheet, catalogue=CATALOGUE, today=TODAY)
    case = append(path, "bench", sheet, catalogue=CATALOGUE, shared=shared, today=TODAY)
    grip = case.sheets[0].reading("grip")
    assert grip is not None
    assert grip.u == pytest.approx(0.016 * 25e5 / 3**0.5)  # class % of span, rectangular: JCGM 100:2008, 4.3.7


@pytest.mark.parametrize("data", [[1], None, "x", 3])
def test_what_is_no_table_is_no_case(data: Any) -> None:
    with pytest.raises(CaseError, match="no case"):
        read(data)


def test_a_cattrs_converter_knows_cases_inside_other_structures() -> None:
    @define
    class Job:
        number: int
        case: Case

    tables = {"bench": [{"date": datetime.date(2026, 5, 4), "strokes": 4, "id": "s"}]}
    converts = converter(catalogue=CATALOGUE)
    job = converts.structure({"number": 7, "case": tables}, Job)
    assert job.case.sheets[0].get("strokes") == 4
    assert converts.unstructure(job) == {"number": 7, "case": tables}
