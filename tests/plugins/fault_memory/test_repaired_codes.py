"""A code that was repaired heals by a clean, settled reading; one that only vanished, or was only erased, does not."""

from __future__ import annotations

import datetime
from typing import TYPE_CHECKING, Any

import pytest
from tests.plugins.fault_memory.memory_cases import DAY, clean, register, view, with_codes

if TYPE_CHECKING:
    from loadworthy.register import Register

BEFORE = DAY - datetime.timedelta(days=28)
#: Read with its code; driven less since the memory was erased than between both readings: erased after the repair.
FAULTY: dict[str, Any] = {
    "day": BEFORE,
    "odometer": "80000 km",
    "warm_ups_since_clear": 91,
    "distance_since_clear": "3150 km",
    "time_since_clear": "4200 min",
    "monitor_status": [{"since_clear": "81 07 65 00"}],
}
AFTER: dict[str, Any] = {"odometer": "81600 km"}


def repair(*treats: str) -> dict[str, Any]:
    return {"date": BEFORE + datetime.timedelta(days=2), "what": "hose renewed", "treats": list(treats)}


def standing(found: Register) -> list[str | None]:
    """Return the grades of what stands of codes that no family holds, those that are known."""
    every = [one for one in found.standings if one.stands and one.finding.rule == "fault_memory.unlisted"]
    return [one.grade for one in every if one.grade is not None]


def test_erased_after_the_repair_and_driven_enough_is_a_whole_reading() -> None:
    found = view(with_codes(("P0171",), **FAULTY), clean(**AFTER))
    assert found.row.state == "met"
    last = found.all("memory_age")[-1]
    assert (last.bands, last.verdicts[0].p_beyond) == ({"settled": 1.0}, 0.0)


def test_erased_between_and_not_driven_enough_is_none() -> None:
    young = {"warm_ups_since_clear": 6, "distance_since_clear": "150 km", "time_since_clear": "200 min"}
    found = view(with_codes(("P0171",), **FAULTY), clean(**AFTER, **young))
    assert found.row.state == "unknown"
    assert "a clear lies between" in found.all("memory_age")[-1].text


@pytest.mark.parametrize("code", ["P1234", "U1FFF", "B1234", "P0ABC"])
def test_an_unlisted_code_heals_by_repair_and_clean_reading(code: str) -> None:
    faulty = with_codes((code,), **FAULTY)
    found = register(faulty, clean(**AFTER), repair=[repair("fault_memory.unlisted")])
    assert f"code_meaning:{code}" not in {gap.id for gap in found.gaps}
    assert standing(found) == ["clean"]
    assert not [view for view in found.ceilings if view.ceiling.finding]


def test_an_unlisted_code_that_only_vanished_stays() -> None:
    found = register(with_codes(("P1234",), **FAULTY), clean(**AFTER))
    assert standing(found) == ["watch", "clean"]


@pytest.mark.parametrize(
    "young",
    [
        {"warm_ups_since_clear": 6, "distance_since_clear": "150 km", "time_since_clear": "200 min"},
        {"answers": [{"stored": "empty", "pending": "empty"}]},
        {"answers": [{"stored": "empty", "pending": "silent", "permanent": "empty"}]},
    ],
)
def test_a_reading_that_proves_nothing_leaves_the_gap(young: dict[str, Any]) -> None:
    found = register(
        with_codes(("P1234",), **FAULTY), clean(**{**AFTER, **young}), repair=[repair("fault_memory.unlisted")]
    )
    assert "code_meaning:P1234" in {gap.id for gap in found.gaps}
    assert standing(found) == ["fix_first"]


def test_another_unlisted_code_does_not_hide_that_one_is_gone() -> None:
    other = with_codes(("P1999",), **AFTER, warm_ups_since_clear=91, distance_since_clear="3150 km")
    other.update(time_since_clear="4200 min", monitor_status=[{"since_clear": "01 07 65 00"}])
    other["answers"] = [{"stored": "codes", "pending": "empty", "permanent": "empty"}]
    found = register(with_codes(("P1234",), **FAULTY), other, repair=[repair("fault_memory.unlisted")])
    assert {gap.id for gap in found.gaps if gap.id.startswith("code_meaning:")} == {"code_meaning:P1999"}
