"""One cause seen by several checks is one risk; each check's findings stand without the others."""

from __future__ import annotations

import datetime
import random
from math import cos, pi
from typing import TYPE_CHECKING, Any

import pytest

from loadworthy import Case, Host, assess
from loadworthy.testing.bench import readable
from support import bundled_modules

if TYPE_CHECKING:
    from loadworthy import Register

DAY = datetime.date(2026, 5, 4)
#: The cylinder's exhaust valve: what low compression, a weak hump of starter current and its misfires all speak for.
CAUSE = "exhaust-valve-seal@cylinder 3"


def _current() -> dict[str, Any]:
    """Return a starter's current over ten engine cycles; the second hump, of cylinder 3, is weak."""
    source, values = random.Random(7), []
    for i in range(6000):
        t = i / 1000
        hump = (1.0, 0.6, 1.0, 1.0)[int(t / 0.15) % 4] * (0.5 - 0.5 * cos(2 * pi * t / 0.15))
        values.append(round(120 + 60 * hump + source.gauss(0, 1.0), 2))
    return {"every": "1 ms", "unit": "A", "values": values}


CASE: dict[str, Any] = {
    "as_of": DAY + datetime.timedelta(days=1),
    "vehicle": {
        "fuel": "petrol_e10",
        "induction": "turbo",
        "cylinder_count": 4,
        "cylinder_banks": [[1, 2, 3, 4]],
        "firing_order": [1, 3, 4, 2],
        "displacement": "1998 cm3",
        "compression_ratio": 10.0,
        "compression_spec_min": "11 bar",
        "base_torque_measured": {"2000 rpm": "280 N m", "5500 rpm": "260 N m"},
    },
    "plan": {"torque": {"2000 rpm": "330 N m", "5500 rpm": "310 N m"}},
    "compression": [
        {
            "id": "dry",
            "date": DAY,
            "dry_reading": {"1": "13.0 bar", "2": "12.9 bar", "3": "9.4 bar", "4": "13.1 bar"},
            "compression_strokes": 6,
            "cranking_speed": "230 rpm",
            "throttle_state": "wide_open",
            "coolant_temp": "85 degC",
            "altitude": "0 m",
        }
    ],
    "cranking_trace": [
        {
            "id": "trace",
            "date": DAY,
            "current": _current(),
            "sync_times": [f"{0.065 + 0.6 * i:.3f} s" for i in range(10)],
            "sync_cylinder": 1,
        }
    ],
    "fault_memory": [
        {
            "id": "memory",
            "date": DAY,
            "read_before_clear": "yes",
            "stored": [{"code": "P0303"}],
            "pending": [{"code": "P0303"}],
            "answers": [{"permanent": "refused"}],
            "monitor_status": [{"since_clear": "81 07 65 00"}],
            "warm_ups_since_clear": 60,
            "distance_since_clear": "1500 km",
            "time_since_clear": "2000 min",
        }
    ],
}


def register(without: str = "") -> Register:
    host = Host({id: one for id, one in bundled_modules().items() if id != without}, entry_points=False)
    return assess(Case.from_dict(readable(CASE, host), catalogue=host.catalogue), host=host)


def sheets_of(found: Register) -> set[str]:
    """Return the sheets whose findings accuse the cause."""
    (risk,) = [one for one in found.risks if one.id == CAUSE]
    return {finding.finding.sheet for finding in risk.findings if finding.stands}


def test_a_low_cylinder_seen_three_ways_is_one_risk() -> None:
    found = register()
    assert found.failures == ()
    about = [one.id for one in found.risks if one.cause == "exhaust-valve-seal" and one.active]
    assert about == [CAUSE]
    assert sheets_of(found) == {"dry", "trace", "memory"}
    (risk,) = [one for one in found.risks if one.id == CAUSE]
    assert {one.plugin for one in risk.findings} == {"compression", "fault_memory"}
    belief = next(one for one in found.beliefs if (one.cause, one.subject) == tuple(CAUSE.split("@")))
    # The weights add where nothing is shared, and the memory's own is that of its misfire family.
    groups = {item.group for item in belief.weights if item.db > 0.0}
    assert len(groups) >= 2
    assert any("misfire" in group for group in groups)


@pytest.mark.parametrize("plugin", sorted(bundled_modules()))
def test_without_one_check_the_findings_of_all_others_stand(plugin: str) -> None:
    whole, part = register(), register(plugin)
    left = {one.id: (one.state, one.grade) for one in part.standings}
    expected = {one.id: (one.state, one.grade) for one in whole.standings if one.plugin != plugin}
    # What rests on the demand is unknown without it; nothing else may change.
    same = {id: found for id, found in expected.items() if id in left}
    if plugin == "load_demand":
        same = {id: found for id, found in same.items() if left[id][0] != "unknown"}
    else:
        assert left.keys() == expected.keys()
    assert {id: left[id] for id in same} == same
    assert part.outcome != "clear"


@pytest.mark.parametrize(("plugin", "sheets"), [("compression", {"memory"}), ("fault_memory", {"dry", "trace"})])
def test_the_cause_is_still_accused_by_the_other_check(plugin: str, sheets: set[str]) -> None:
    assert sheets_of(register(plugin)) == sheets
