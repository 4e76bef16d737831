"""Starter current and battery voltage while cranking."""

from __future__ import annotations

import random
from math import cos, pi
from typing import Any

import pytest
from compression_cases import DAY, PETROL, dry, look

SPEC = {**PETROL, "compression_spec_min": "9 bar"}


def current(humps: list[float], *, noise: float = 1.0, seconds: float = 6.0) -> dict[str, Any]:
    source = random.Random(7)
    values = []
    for i in range(int(1000 * seconds)):
        t = i / 1000
        hump = humps[int(t / 0.15) % len(humps)] * (0.5 - 0.5 * cos(2 * pi * t / 0.15))
        values.append(round(120 + 60 * hump + source.gauss(0, noise), 2))
    return {"every": "1 ms", "unit": "A", "values": values}


def trace(humps: list[float], **more: Any) -> dict[str, Any]:
    return {"date": DAY, "current": current(humps), **more}


SYNC = {"sync_times": [f"{0.065 + 0.6 * i:.3f} s" for i in range(10)], "sync_cylinder": 1}
ORDER = {**SPEC, "firing_order": [1, 3, 4, 2]}


def test_a_weak_hump_without_sync_is_a_position() -> None:
    found = look(SPEC, cranking_trace=[trace([1.0, 0.6, 1.0, 1.0])])
    assert found.grade("trace") == "fix_first"
    assert "after the sync-less start" in found.finding("trace").text
    assert ("compression-low-one-cylinder", None) in found.symptoms()


def test_a_weak_hump_with_sync_is_a_cylinder() -> None:
    found = look(ORDER, cranking_trace=[trace([1.0, 0.6, 1.0, 1.0], **SYNC)])
    # Second in firing order 1, 3, 4, 2.
    assert found.grade("trace", "cylinder 3") == "fix_first"
    assert found.grade("trace", "cylinder 1") == "unknown"
    assert ("compression-low-one-cylinder", "cylinder 3") in found.symptoms()


def test_an_even_trace_clears_nothing() -> None:
    found = look(ORDER, cranking_trace=[trace([1.0, 1.0, 1.0, 1.0], **SYNC)])
    assert [found.grade("trace", s) for s in (None, "cylinder 1", "cylinder 4")] == ["unknown"] * 3
    assert found.symptoms() == set()


def test_the_gauge_settles_what_was_pending() -> None:
    weak = trace([1.0, 0.6, 1.0, 1.0], **SYNC)
    even = look(ORDER, cranking_trace=[weak], compression=[dry([13.0, 13.1, 12.9, 13.0])])
    assert even.grade("trace", "cylinder 3") == "watch"
    assert any("identity" in text for text in even.advice())
    low = look(ORDER, cranking_trace=[weak], compression=[dry([13.0, 13.1, 9.0, 13.0])])
    assert low.grade("trace", "cylinder 3") == "fix_first"


def test_eight_cylinders_are_ordinal_only() -> None:
    eight = {**SPEC, "cylinder_count": 8, "displacement": "3996 cm3"}
    found = look(eight, cranking_trace=[trace([1.0, 0.5] + [1.0] * 6)])
    assert found.grade("trace") == "note"


def voltage(humps: list[float]) -> dict[str, Any]:
    """Return the battery voltage to the same current: 12.6 V behind 10 milliohm."""
    amperes = current(humps, noise=0.5)["values"]
    return {"every": "1 ms", "unit": "V", "values": [round(12.6 - 0.010 * a, 4) for a in amperes]}


def test_battery_voltage_works_inverted() -> None:
    weak = {"date": DAY, "voltage": voltage([1.0, 0.6, 1.0, 1.0]), **SYNC}
    by_voltage = look(ORDER, cranking_trace=[weak])
    by_current = look(ORDER, cranking_trace=[trace([1.0, 0.6, 1.0, 1.0], **SYNC)])
    for found in (by_voltage, by_current):
        assert found.grade("trace", "cylinder 3") == "fix_first"
        assert found.step("hump 2 over the median", "trace") == pytest.approx(0.6, abs=0.02)
        assert found.step("cranking speed", "trace") * 60 == pytest.approx(200.0, abs=1.0)
    assert by_voltage.step("recorded", "trace") == "battery voltage, inverted"
    # A lower signal: the same hump is less certainly weak.
    weakish = [1.0, 0.77, 1.0, 1.0]
    sure = look(ORDER, cranking_trace=[trace(weakish, **SYNC)]).finding("trace", "cylinder 3")
    less = look(ORDER, cranking_trace=[{"date": DAY, "voltage": voltage(weakish), **SYNC}])
    assert 0.5 < less.finding("trace", "cylinder 3").verdicts[0].p_beyond < sure.verdicts[0].p_beyond


def test_voltage_beside_the_current_tells_how_far_the_battery_fell() -> None:
    both = look(ORDER, cranking_trace=[trace([1.0] * 4, voltage=voltage([1.0] * 4), **SYNC)])
    assert both.step("recorded", "trace") == "starter current"
    assert both.step("lowest battery voltage", "trace") == pytest.approx(12.6 - 0.010 * 181, abs=0.05)


@pytest.mark.parametrize(("every", "enough"), [(2, True), (3, False)])
def test_five_hundred_samples_a_second_are_enough(every: int, enough: bool) -> None:
    values = current([1.0, 0.6, 1.0, 1.0])["values"][::every]
    recorded = {"every": f"{every} ms", "unit": "A", "values": values}
    found = look(SPEC, cranking_trace=[{"date": DAY, "current": recorded}])
    assert (found.grade("trace") != "unknown") is enough


def test_too_few_samples_and_a_wrong_firing_order() -> None:
    values = current([1.0, 0.6, 1.0, 1.0])["values"][::4]
    slow = {"date": DAY, "current": {"every": "4 ms", "unit": "A", "values": values}}
    found = look(SPEC, cranking_trace=[slow])
    assert found.grade("trace") == "unknown"
    assert "500 samples" in found.finding("trace").unknown
    # An order that names a cylinder twice gives no identity.
    odd = look({**SPEC, "firing_order": [1, 3, 4, 4]}, cranking_trace=[trace([1.0, 0.6, 1.0, 1.0], **SYNC)])
    assert not odd.has("trace", "cylinder 3")
    assert any("firing order" in text for text in odd.advice())


@pytest.mark.parametrize(
    ("vehicle", "sheet"),
    [
        ({**SPEC, "uneven_firing": True}, trace([1.0, 0.6, 1.0, 1.0])),
        ({"fuel": "petrol_e10"}, trace([1.0, 0.6, 1.0, 1.0])),
        (SPEC, {"date": DAY, "current": {"every": "1 ms", "unit": "A", "values": [120.0] * 4000}}),
    ],
    ids=["uneven firing", "count unknown", "flat"],
)
def test_traces_that_cannot_be_judged(vehicle: dict[str, Any], sheet: dict[str, Any]) -> None:
    found = look(vehicle, cranking_trace=[sheet])
    assert found.grade("trace") == "unknown"
    assert found.symptoms() == set()
