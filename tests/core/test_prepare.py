"""The case as it stood, without struck out sheets, with distorted readings marked (method, sections 2, 3 and 7)."""

from __future__ import annotations

import datetime
from itertools import permutations
from typing import Any

import pytest
from weighing import days, repair, sheet

from loadworthy.case import Case, Event, Reading, Sheet, Void, Waiver
from loadworthy.declarations import Catalogue, Field, Section
from loadworthy.findings import Distortion
from loadworthy.prepare import as_known_on, as_of_day, distorted

CATALOGUE = Catalogue(
    sections={
        "bench": Section(
            "bench",
            "bench",
            (
                Field("level", "quantity", kind="pressure_gauge", per="part", quantity="height"),
                Field("heat", "quantity", kind="temperature"),
                Field("remark", "text"),
                Field(
                    "points",
                    "rows",
                    fields=(
                        Field("flow", "quantity", kind="flow_mass", quantity="draught"),
                        Field("heat", "quantity", kind="temperature"),
                    ),
                ),
            ),
        )
    }
)


def test_the_day_asked_for_comes_before_that_of_the_case_and_today() -> None:
    case = Case(as_of=days(3))
    assert as_of_day(case, days(1)) == days(1)
    assert as_of_day(case, None) == days(3)
    before, found, after = datetime.date.today(), as_of_day(Case(), None), datetime.date.today()
    assert before <= found <= after


def test_what_is_dated_later_does_not_exist_yet() -> None:
    case = Case(
        sheets=(sheet("a", 0), sheet("b", 1)),
        repairs=(repair("r0", 0, "worn"), repair("r1", 1, "worn")),
        events=(Event("shock", days(0)), Event("shock", days(1))),
        waivers=(Waiver("N. N.", "row", "agreed", days(1), days(9)),),
    )
    known = as_known_on(case, days(0))
    assert [s.id for s in known.sheets] == ["a"]
    assert [r.id for r in known.repairs] == ["r0"]
    assert [e.date for e in known.events] == [days(0)]
    assert known.waivers == ()
    assert as_known_on(case, days(1)) == case


def test_a_sheet_counts_until_it_is_struck_out() -> None:
    void = Void("a", "wrong vehicle", "N. N.", days(2))
    case = Case(sheets=(sheet("a", 0), sheet("b", 0)), voids=(void,))
    assert [s.id for s in as_known_on(case, days(1)).sheets] == ["a", "b"]
    assert [s.id for s in as_known_on(case, days(2)).sheets] == ["b"]
    assert as_known_on(case, days(2)).voids == (void,)


def _case(**values: Any) -> Case:
    return Case(sheets=(sheet("s"), Sheet("bench", "t", days(0), values)))


def _level(value: float = 10.0, u: float | None = 3.0) -> Reading:
    return Reading(value, u, "pressure_gauge", u_parts=(("stated", 3.0),))


@pytest.mark.parametrize("target", ["bench.level", "level", "height"])
def test_widened_by_field_section_or_quantity(target: str) -> None:
    """u 3 widened by 0.4 x 10 in quadrature: 5, whole numbers of 3-4-5 triangles; then by 12: 13."""
    case = _case(level={"1": _level(), "2": _level(u=None)}, heat=_level(), remark="level")
    relative = ("q", Distortion(target, "tube", widen_relative=0.4))
    found, notes = distorted(case, [relative], CATALOGUE)
    one, two = found.sheets[1].values["level"]["1"], found.sheets[1].values["level"]["2"]
    assert (one.value, one.u) == (10.0, pytest.approx(5.0))
    assert one.u_parts == (("stated", 3.0), ("tube", pytest.approx(4.0)))
    # What cannot be judged does not become judged by a distortion.
    assert two == _level(u=None)
    assert found.sheets[1].values["heat"] == _level()
    assert found.sheets[1].values["remark"] == "level"
    assert found.sheets[0] == case.sheets[0]
    assert notes == ("bench.level: taken as less certain: tube",)
    both, _ = distorted(case, [relative, ("q", Distortion(target, "more", widen_by=12.0))], CATALOGUE)
    assert both.sheets[1].values["level"]["1"].u == pytest.approx(13.0)


def test_refused_keeps_value_and_uncertainty() -> None:
    case = _case(level={"1": _level()}, heat=(_level(), "text"))
    refuse = [("q", Distortion("level", "tube", "refuse")), ("q", Distortion("heat", "mask", "refuse"))]
    found, notes = distorted(case, refuse, CATALOGUE)
    one = found.sheets[1].values["level"]["1"]
    assert (one.value, one.u, one.refused) == (10.0, 3.0, "tube")
    listed = found.sheets[1].values["heat"]
    assert (listed[0].refused, listed[1]) == ("mask", "text")
    assert notes == ("bench.heat: not to be relied on: mask", "bench.level: not to be relied on: tube")


@pytest.mark.parametrize("target", ["bench.points.flow", "flow", "draught"])
def test_rows_are_reached_too(target: str) -> None:
    rows = ({"flow": _level(), "heat": _level(1.0)}, {"heat": _level(2.0)})
    case = _case(points=rows, level=_level())
    found, notes = distorted(case, [("q", Distortion(target, "box", "refuse"))], CATALOGUE)
    values = found.sheets[1].values
    assert values["points"][0]["flow"].refused == "box"
    assert values["points"][0]["heat"] is rows[0]["heat"]
    assert values["points"][1] is rows[1]
    assert values["level"].refused == ""
    assert notes == ("bench.points.flow: not to be relied on: box",)
    same, none = distorted(case, [("q", Distortion("bench.flow", "box", "refuse"))], CATALOGUE)
    assert (same, none) == (case, ())


@pytest.mark.parametrize("target", ["other.level", "lev", "pressure_gauge", ""])
def test_what_is_not_meant_is_left_alone(target: str) -> None:
    case = _case(level=_level(), heat=_level())
    found, notes = distorted(case, [("q", Distortion(target, "tube", "refuse"))], CATALOGUE)
    assert (found, notes) == (case, ())


def test_the_order_of_distortions_is_nothing() -> None:
    case = _case(level=_level())
    given = [
        ("a", Distortion("level", "tube", widen_by=1.0)),
        ("b", Distortion("height", "hose", "refuse")),
        ("c", Distortion("bench.level", "mask", "refuse")),
    ]
    results = [distorted(case, order, CATALOGUE) for order in permutations(given)]
    assert all(result == results[0] for result in results)
    assert results[0][0].sheets[1].values["level"].refused == "mask; hose"


def test_no_distortion_changes_nothing() -> None:
    case = _case(level=_level())
    found, notes = distorted(case, [], CATALOGUE)
    assert found is case
    assert notes == ()
