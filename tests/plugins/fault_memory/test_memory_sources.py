"""What several sources of one fact give together, and what a spoilt one may still say."""

from __future__ import annotations

import pytest
from memory_cases import EMPTY, case_of, clean, engine, host, limits, memory, sheet, view

from loadworthy.house import House
from loadworthy_plugins.fault_memory.memory import Memory, Present, read_memory


def one(found: Memory, code: str) -> Present:
    (present,) = (each for each in found.present if each.code == code)
    return present


def codes(found: Memory) -> dict[str, float]:
    return {each.code: each.s for each in found.present}


@pytest.mark.parametrize("status", ["50", "00"])
def test_the_permanent_list_holds_a_code_whatever_its_status_byte_says(status: str) -> None:
    raw = memory(sheet(raw_replies=f"7E8 07 59 15 FF 04 20 00 {status}"))
    assert (one(raw, "P0420").state, one(raw, "P0420").s) == ("permanent_only", 0.7)
    assert codes(memory(sheet(permanent=[{"code": "P0420", "status": status}]))) == {"P0420": 0.7}
    assert raw.states["0A"] == "codes"


@pytest.mark.parametrize(("status", "s"), [("2F", 0.5), ("64", 0.5), ("20", 0.35), ("50", None), ("00", None)])
def test_a_damaged_status_list_says_pending_at_best(status: str, s: float | None) -> None:
    found = memory(sheet(raw_replies=f"7E8 10 0B 59 02 FF 01 71 00\n7E8 21 {status} 03 00 00"))
    assert found.damaged
    assert codes(found) == ({"P0171": s} if s is not None else {})
    assert not found.passed


def test_codes_typed_from_a_damaged_answer_are_pending_at_best() -> None:
    found = memory(sheet(answers=[{"stored": "damaged", "pending": "empty"}], stored=[{"code": "P0171"}]))
    assert codes(found) == {"P0171": 0.5}
    assert found.states["03"] == "damaged"


def test_the_same_list_sent_and_typed_is_counted_once() -> None:
    fields = {"raw_replies": "7E8 04 43 01 01 71\n7E8 06 41 01 82 07 65 00", "stored": [{"code": "P0171"}]}
    assert any("counts 2 codes, its list holds 1" in each for each in memory(sheet(**fields)).damaged)


@pytest.mark.parametrize(("count", "whole"), [("81", True), ("82", False)])
def test_a_status_list_is_compared_with_the_count_too(count: str, whole: bool) -> None:
    # One code confirmed, one pending only: the unit counts the confirmed one.
    lists = "7E8 10 0B 59 02 FF 01 71 00\n7E8 21 2F 03 00 00 64"
    found = memory(sheet(raw_replies=f"{lists}\n7E8 06 41 01 {count} 07 65 00"))
    assert bool(found.damaged) is not whole
    assert found.states["03"] == ("codes" if whole else "damaged")


def test_two_failure_types_are_two_entries_of_the_count() -> None:
    rows = [{"code": "P0087-11"}, {"code": "P0087-64"}]
    assert not memory(sheet(stored=rows, monitor_status=[{"since_clear": "82 07 65 00"}])).damaged
    assert memory(sheet(stored=rows, monitor_status=[{"since_clear": "83 07 65 00"}])).damaged


def test_two_units_of_one_kind_are_complete_only_together() -> None:
    kinds = [{"identifier": "7EA", "kind": "other"}, {"identifier": "7EB", "kind": "other"}]
    raw = "7EA 06 41 01 00 04 01 01\n7EB 06 41 01 81 04 01 00"
    found = memory(sheet(raw_replies=raw, units=kinds)).statuses["other"]
    assert (found.lamp, found.codes) == (True, 1)
    assert "catalyst" not in found.complete


def test_status_sent_and_typed_the_worse_one_counts() -> None:
    raw = "7E8 06 41 01 00 07 65 04"
    found = memory(sheet(raw_replies=raw, monitor_status=[{"since_clear": "81 07 65 00"}])).statuses["engine"]
    assert (found.lamp, found.codes) == (True, 1)
    assert found.supported - found.complete == {"evaporative"}


@pytest.mark.parametrize("state", ["silent", "not_asked"])
def test_a_silent_unit_did_not_answer(state: str) -> None:
    expected = engine(units_expected=["gearbox"])
    answers = [*EMPTY, {"unit": "gearbox", "stored": state}]
    assert "units_missing" in view(clean(answers=answers), vehicle=expected).gaps
    answers = [*EMPTY, {"unit": "gearbox", "stored": "empty"}]
    assert "units_missing" not in view(clean(answers=answers), vehicle=expected).gaps
    assert "units_missing" not in view(clean(units_found=["gearbox"]), vehicle=expected).gaps


def test_counters_alone_do_not_settle_a_memory_whose_monitors_nobody_read() -> None:
    assert memory(clean(monitor_status=None)).age.kind == "partial"
    assert view(clean(monitor_status=None)).one("memory_age").unknown


def test_an_unreadable_code_clears_nothing() -> None:
    answers = [{"stored": "codes", "pending": "empty", "permanent": "empty"}]
    found = memory(clean(answers=answers, stored=[{"code": "PO171"}]))
    assert found.states["03"] == "damaged"
    assert not view(clean(answers=answers, stored=[{"code": "PO171"}])).has("silence")


def test_house_settings_of_exposure_count() -> None:
    case = case_of(clean(warm_ups_since_clear=12))
    (own,) = case.of("fault_memory")
    assert read_memory(case, own, limits()).age.kind == "settled"
    own_value = {"value": 40, "reason": "measured here"}
    house = House.from_dict({"limits": {"fault_memory.exposure_warm_ups": own_value}})
    found = read_memory(case, own, house.resolve(host().catalogue)).age
    assert (found.kind, found.exposure) == ("partial", 0.3)
