"""What several runs together infer: what could not be tried again stands, a fault does not heal by being read again."""

from __future__ import annotations

import datetime
from typing import Any

import pytest
from inventory_cases import PETROL, answered, case, limits, register
from run_cases import DAY, SOUND

from loadworthy.findings import Finding
from loadworthy_plugins.modifications.judging import changed_kinds
from loadworthy_plugins.modifications.judging_run import judge_runs
from loadworthy_plugins.modifications.rules_calibration import inferred

SCALED = {"map_key_on": "66.7 kPa"}
NOT_TRIED = {"map_key_on": None, "idle_vacuum": "65 kPa"}
#: Ratio of ranges found, 60; found and then read right, 60 x 0.1; read right, 0.1; on odds of 0.05/0.95.
ACCUSED, READ_AGAIN, CLEARED = (r / (r + 19.0) for r in (60.0, 6.0, 0.1))


def _run(day: int, **changed: Any) -> dict[str, Any]:
    found = {"date": DAY + datetime.timedelta(days=day), **SOUND, **changed}
    return {key: value for key, value in found.items() if value is not None}


def test_key_on_and_rail_together_point_to_a_converter() -> None:
    rail = Finding("modifications.rail_flow", "a", bands={"off": 1.0})
    key_on = Finding("modifications.key_on", "a", bands={"changed": 1.0})
    clean = Finding("modifications.rail_flow", "a", bands={"clean": 1.0})
    # Prior 0.05: ratios of 10; 5 and 10; 5 and 0.3 (computed here).
    for found, p in (((rail,), 0.3448), ((key_on, rail), 0.7246), ((key_on, clean), 0.0732)):
        assert inferred(found)["signal-converter-fitted"] == pytest.approx(p, abs=1e-4)


def _sensor(*runs: dict[str, Any], **tables: Any) -> float:
    """Return the probability of another pressure sensor by all runs."""
    made = case(mixture_run=list(runs), **tables)
    return changed_kinds(made, tuple(judge_runs(made, limits())))["pressure_sensor"]


def test_a_run_without_the_test_supersedes_nothing() -> None:
    assert _sensor(_run(0, **SCALED)) == pytest.approx(ACCUSED, abs=0.01)
    assert _sensor(_run(0)) == pytest.approx(CLEARED, abs=0.01)
    assert _sensor(_run(0, **SCALED), _run(3, **NOT_TRIED)) == pytest.approx(ACCUSED, abs=0.01)
    # Against the word of the inventory that all is as made.
    found = register(answered(), vehicle=PETROL, mixture_run=[_run(0, **SCALED), _run(3, **NOT_TRIED)])
    assert any(s.finding.rule == "modifications.conflicting" and s.stands for s in found.standings)


@pytest.mark.parametrize(("days", "p"), [((2,), READ_AGAIN), ((2, 2), READ_AGAIN), ((2, 5), CLEARED)])
def test_a_scaling_is_gone_when_read_right_on_two_later_days(days: tuple[int, ...], p: float) -> None:
    clean = [_run(day, id=f"later-{i}") for i, day in enumerate(days)]
    assert _sensor(_run(0, **SCALED), *clean) == pytest.approx(p, abs=0.01)
    # What was clean before it fired clears nothing more.
    assert _sensor(_run(-1), _run(0, **SCALED)) == pytest.approx(ACCUSED, abs=0.01)


@pytest.mark.parametrize(
    ("treats", "p"),
    [
        ("pressure-sensor-scaling-changed", CLEARED),
        ("modifications.key_on", CLEARED),
        ("camshaft-changed", READ_AGAIN),
    ],
)
def test_or_when_read_right_after_its_repair(treats: str, p: float) -> None:
    repair = {"date": DAY + datetime.timedelta(days=1), "what": "sensor and slope", "treats": [treats]}
    runs = (_run(0, **SCALED), _run(2))
    assert _sensor(*runs, repair=[repair]) == pytest.approx(p, abs=0.01)
    assert _sensor(runs[0], repair=[repair]) == pytest.approx(ACCUSED, abs=0.01)
