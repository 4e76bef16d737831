"""When a reading answers the row of required evidence, and what holds until one does."""

from __future__ import annotations

import datetime
from typing import Any

import pytest
from memory_cases import DAY, OLD, case_of, clean, engine, limits, memory, view, with_codes

from loadworthy_plugins.fault_memory import examine


def status(since_clear: str) -> list[dict[str, str]]:
    return [{"since_clear": since_clear}]


def on(days: int, one: dict[str, Any]) -> dict[str, Any]:
    return {**one, "date": DAY + datetime.timedelta(days)}


@pytest.mark.parametrize(
    ("fields", "why"),
    [
        ({"warm_ups_since_clear": 6}, "partial: 0.60 of full exposure"),
        ({"warm_ups_since_clear": 1}, "recent: 0.10 of full exposure"),
        ({"monitor_status": status("00 07 65 01")}, "monitors not complete since the memory was erased: catalyst"),
        ({"warm_ups_since_clear": None, "distance_since_clear": None, "time_since_clear": None}, "how long ago"),
    ],
)
@pytest.mark.parametrize("stored", [[], [{"code": "P0442"}], [{"code": "P0219"}]])
def test_a_memory_that_is_too_young(fields: dict[str, Any], why: str, stored: list[dict[str, str]]) -> None:
    one = {key: value for key, value in clean(stored=stored, **fields).items() if value is not None}
    seen = view(one)
    assert seen.row.state == "unknown"
    assert why in seen.row.why
    # A code that sets no ceiling of its own does not lift this one.
    assert [one.value for one in seen.ceilings("memory_too_young")] == ["as_received"]
    assert not seen.ceilings("memory_unread")


def test_a_settled_whole_reading_meets_the_row() -> None:
    seen = view(clean())
    assert (seen.row.state, seen.row.sheets) == ("met", (memory(clean()).sheet.id,))
    assert not {"memory_too_young", "memory_unread"} & seen.ceiling_names


def test_an_older_whole_reading_does_not_stand_in_for_a_later_open_one() -> None:
    assert view(on(-5, clean()), clean(warm_ups_since_clear=2)).row.state == "unknown"
    assert view(on(-5, clean(warm_ups_since_clear=2)), clean()).row.state == "met"


@pytest.mark.parametrize("swap", [False, True])
@pytest.mark.parametrize("worse", [{"warm_ups_since_clear": 2}, {"read_before_clear": "no"}])
def test_of_two_readings_of_a_day_without_times_the_worse_counts(worse: dict[str, Any], swap: bool) -> None:
    pair = [clean(), {key: value for key, value in clean(**worse).items() if value is not None}]
    assert view(*(pair[::-1] if swap else pair)).row.state == "unknown"


def test_a_reading_that_is_not_whole_supersedes_nothing() -> None:
    """Unknown is never good, and takes nothing away either (method, section 2)."""
    part = {key: value for key, value in clean(answers=None).items() if value is not None}
    assert view(clean(), part).row.state == view(on(-1, clean()), part).row.state == "met"
    assert view(part).row.state == "unknown"


@pytest.mark.parametrize(("first", "second", "state"), [("09:00", "11:00", "met"), ("11:00", "09:00", "unknown")])
def test_times_put_the_readings_of_a_day_in_order(first: str, second: str, state: str) -> None:
    young = {**clean(warm_ups_since_clear=2), "time": datetime.time.fromisoformat(first)}
    assert view(young, {**clean(), "time": datetime.time.fromisoformat(second)}).row.state == state


def test_a_pointer_to_the_gearbox_asks_for_its_codes() -> None:
    seen = view(with_codes(("P0700",), **OLD))
    assert seen.gaps["gearbox_codes"].required
    assert seen.gaps["gearbox_codes"].test == "gearbox-and-body-units"
    read = [{"stored": "codes", "pending": "empty"}, {"unit": "gearbox", "stored": "empty"}]
    assert "gearbox_codes" not in view(with_codes(("P0700",), **{**OLD, "answers": read})).gaps


def test_units_that_did_not_answer_are_named() -> None:
    seen = view(clean(), vehicle=engine(units_expected=["engine", "brakes"]))
    assert "brakes" in seen.gaps["units_missing"].text
    assert "engine" not in seen.gaps["units_missing"].text


def test_no_sheet_at_all() -> None:

    coverage, ceiling = examine(case_of(), None, limits())
    assert (coverage.row, coverage.state) == ("fault_memory", "absent")
    assert (ceiling.name, ceiling.value) == ("memory_unread", "as_received")


@pytest.mark.parametrize(
    ("state", "asked"),
    [("empty", False), ("codes", False), ("refused", False), ("silent", True), ("damaged", True), ("not_asked", True)],
)
def test_permanent_codes_that_were_not_read_are_a_gap(state: str, asked: bool) -> None:
    seen = view(clean(answers=[{"stored": "empty", "pending": "empty", "permanent": state}]))
    assert ("permanent_unread" in seen.gaps) is asked
    if asked:
        assert not seen.gaps["permanent_unread"].required
        assert state.replace("_", " ") in seen.gaps["permanent_unread"].text
    # The row asks for stored and pending codes and the monitor status; but a damaged answer spoils a reading.
    assert seen.row.state == ("unknown" if state == "damaged" else "met")
    assert bool(seen.ceilings("memory_unread")) is (state == "damaged")


@pytest.mark.parametrize(
    ("fields", "advised"),
    [
        ({"key_state": "key_on_engine_off", "supply_voltage": "11.9 V"}, True),
        ({"key_state": "key_on_engine_off", "supply_voltage": "12.0 V"}, False),
        ({"key_state": "key_on_engine_off", "supply_voltage": "11.9 V", "support_supply": True}, False),
        ({"key_state": "idling", "supply_voltage": "11.9 V"}, False),
        ({"key_state": "key_on_engine_off"}, False),
    ],
)
def test_a_low_supply_asks_for_a_reading_with_support(fields: dict[str, Any], advised: bool) -> None:
    assert ("support the supply" in view(clean(**fields)).advice) is advised
