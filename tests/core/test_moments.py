"""Which came first, how old a sheet is, and when it is too old to satisfy anything (method, sections 2 and 3)."""

from __future__ import annotations

import pytest
from weighing import days, repair, sheet

from loadworthy.case import Case, Event, Sheet
from loadworthy.declarations import Section
from loadworthy.moments import age, is_stale, later, odometer_at, side_of_repair


@pytest.mark.parametrize(
    ("a", "b", "is_later", "is_earlier"),
    [
        (sheet("a", 1, 8), sheet("b", 0, 17), True, False),
        (sheet("a", 0, 17), sheet("b", 0, 8), True, False),
        (sheet("a", 0, 8), sheet("b", 0, 8), False, False),
        (sheet("a", 0, 17), sheet("b", 0), False, False),
        (sheet("a", 0), sheet("b", 0), False, False),
        (sheet("a", 0, retest_of="r"), sheet("b", 0), False, False),
        (sheet("a", 0, retest_of="r"), sheet("b", 0, retest_of="r"), False, False),
        (sheet("a", 0, 8, retest_of="r"), sheet("b", 0, 17), False, True),
    ],
    ids=["day", "time", "same time", "one time", "no time", "retest alone", "two retests", "time before retest"],
)
def test_later(a: Sheet, b: Sheet, is_later: bool, is_earlier: bool) -> None:
    assert (later(a, b), later(b, a)) == (is_later, is_earlier)


@pytest.mark.parametrize(
    ("given", "hour", "proofs", "side"),
    [
        (sheet("s", -1, 17), 8, (), -1),
        (sheet("s", 1), None, (), 1),
        (sheet("s", 0, 7), 8, (), -1),
        (sheet("s", 0, 9), 8, (), 1),
        (sheet("s", 0, 8), 8, (), 0),
        (sheet("s", 0, 9), None, (), 0),
        (sheet("s", 0), 8, (), 0),
        (sheet("s", 0, retest_of="r"), None, (), 1),
        (sheet("s", 0, retest_of="another"), None, (), 0),
        (sheet("s", 0), None, (sheet("p", 0),), -1),
        (sheet("s", 0), None, (sheet("p", 0, section="quick"),), 0),
        (sheet("s", 0, 7, retest_of="r"), 8, (sheet("p", 0),), -1),
        (sheet("s", 1), None, (sheet("p", 0),), 1),
        (sheet("s", 0, 8), None, (sheet("p", 0, 9),), -1),
        (sheet("s", 0, 10), None, (sheet("p", 0, 9),), 1),
    ],
)
def test_side_of_repair(given: Sheet, hour: int | None, proofs: tuple[Sheet, ...], side: int) -> None:
    assert side_of_repair(given, repair("r", 0, "worn", hour=hour), proofs) == side


def test_the_odometer_is_the_highest_known_by_the_day_and_runs_on() -> None:
    """40 km a day since the last reading: a sheet's own reading must not make it look as if the car had stood still."""
    case = Case(
        sheets=(sheet("a", -5, odometer=81e6), sheet("b", -4), sheet("c", 3, odometer=99e6)),
        events=(Event("shock", days(-3), odometer=82e6),),
        repairs=(repair("r", -2, "worn"),),
    )
    assert odometer_at(case, days(-3)) == 82e6
    assert odometer_at(case, days(0)) == 82e6 + 3 * 40e3
    assert odometer_at(case, days(-4)) == 81e6 + 40e3
    assert odometer_at(case, days(3)) == 99e6
    assert odometer_at(case, days(-6)) is None


@pytest.mark.parametrize(
    ("odometer", "now", "km"),
    [(80e6, 82e6, 2000.0), (None, 82e6, 4000.0), (80e6, None, 4000.0), (None, None, 4000.0), (83e6, 82e6, 0.0)],
)
def test_age_in_km(odometer: float | None, now: float | None, km: float) -> None:
    """40 km a day where either reading is missing (common practice, no source)."""
    found = age(sheet("s", -100, odometer=odometer), days(0), now, None)
    assert found == pytest.approx((100.0, km, max(100 / 180, km / 5000)))


def test_age_by_the_half_lives_of_the_section() -> None:
    section = Section("quick", "quick", (), half_life_days=10.0, half_life_km=100.0)
    old = sheet("s", -20, odometer=80e6)
    assert age(old, days(0), 80.05e6, section) == pytest.approx((20.0, 50.0, 2.0))
    assert age(old, days(0), 80.5e6, section) == pytest.approx((20.0, 500.0, 5.0))


def test_a_sheet_of_tomorrow_has_no_age() -> None:
    assert age(sheet("s", 1), days(0), None, None) == (0.0, 0.0, 0.0)


@pytest.mark.parametrize(("old", "stale_after", "stale"), [(360, 2.0, False), (361, 2.0, True), (361, 2.5, False)])
def test_stale_is_older_than_its_half_lives(old: int, stale_after: float, stale: bool) -> None:
    one = sheet("s", -old, odometer=80e6)
    section = Section("bench", "bench", (), stale_after=stale_after)
    case = Case(sheets=(one, sheet("now", 0, odometer=80e6)))
    assert is_stale(one, case, days(0), section) is stale
    if stale_after == 2.0:
        assert is_stale(one, case, days(0), None) is stale


@pytest.mark.parametrize(("day", "stale"), [(-11, False), (-10, True), (0, True), (1, False)])
def test_any_event_may_end_a_section(day: int, stale: bool) -> None:
    """Events come after the sheets of their day; what is dated later than the day asked about does not exist."""
    one = sheet("s", -10)
    case = Case(sheets=(one,), events=(Event("anything", days(day)),))
    ended = Section("quick", "quick", (), ended_by_any_event=True)
    assert is_stale(one, case, days(0), ended) is stale
    assert is_stale(one, case, days(0), Section("bench", "bench", ())) is False
