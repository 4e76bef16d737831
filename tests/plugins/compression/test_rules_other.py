"""Wet test, inspections, starter current, crankcase and what is known of the past."""

from __future__ import annotations

import datetime
import random
from math import cos, pi
from typing import Any

import pytest
from compression_cases import DAY, DIESEL, PETROL, belief, dry, leak, look, ratio, register

from loadworthy_plugins.compression.causes import CAUSES

SPEC = {**PETROL, "compression_spec_min": "9 bar"}
LOW_ONE = [12.2, 12.1, 12.2, 9.6]


# Wet ----------------------------------------------------------------------------------------------------------------


def wet(low: float, control: float | None = 13.4, **more: Any) -> dict[str, Any]:
    readings = {"4": f"{low} bar"}
    if control is not None:
        readings["1"] = f"{control} bar"
    return dry(LOW_ONE, wet_reading=readings, **more)


def test_oil_that_brings_it_back_points_at_the_rings() -> None:
    found = look(SPEC, compression=[wet(12.1)])
    assert found.step("recovered", "wet", "cylinder 4") == pytest.approx(0.545, abs=0.005)
    made = register(SPEC, compression=[wet(13.2)])
    assert ratio(made, "ring-seal", "cylinder 4", "wet") == pytest.approx(6.0, rel=0.05)
    assert ratio(made, "exhaust-valve-seal", "cylinder 4", "wet") == pytest.approx(0.3, rel=0.1)


def test_oil_that_does_not_points_at_the_valves() -> None:
    made = register(SPEC, compression=[wet(10.2)])
    assert ratio(made, "ring-seal", "cylinder 4", "wet") < 0.6
    assert ratio(made, "intake-valve-seal", "cylinder 4", "wet") > 2.0


def test_in_between_is_mixed_not_cut() -> None:
    made = register(SPEC, compression=[wet(11.3)])
    assert 0.5 < ratio(made, "ring-seal", "cylinder 4", "wet") < 4.0


def test_washed_bore() -> None:
    made = register(SPEC, compression=[wet(13.2, wet_plug_or_long_cranking=True)])
    assert ratio(made, "fuel-washed-bore", "cylinder 4", "wet") == pytest.approx(5.0, rel=0.05)


def test_without_a_control_the_volume_of_the_oil_is_taken_off_first() -> None:
    # 15 ml can raise a sound cylinder by 46 %: a rise of 26 % says nothing.
    assert look(SPEC, compression=[wet(12.1, None, oil_volume="15 mL")]).grade("wet", "cylinder 4") == "unknown"
    assert look(SPEC, compression=[wet(12.1, None)]).grade("wet", "cylinder 4") == "unknown"
    corrected = look(SPEC, compression=[wet(13.6, None, oil_volume="5 mL")])
    assert corrected.step("recovered", "wet", "cylinder 4") == pytest.approx(
        ((13.6 / 1.119) / 9.6 - 1) * 9.6 / (12.2 - 9.6), abs=0.02
    )


@pytest.mark.parametrize(
    "change",
    [{"fuel": "diesel_b7"}, {"pre_chamber": True}, {"cylinder_arrangement": "flat"}, {"cylinder_arrangement": "other"}],
    ids=str,
)
def test_engines_on_which_the_wet_test_says_nothing(change: dict[str, Any]) -> None:
    found = look({**SPEC, **change}, compression=[wet(13.2)])
    assert found.grade("wet", "cylinder 4") == "unknown"
    assert "no wet test" in found.finding("wet", "cylinder 4").unknown


def test_a_shallow_deficit_is_inconclusive() -> None:
    sheet = dry([12.2, 12.1, 12.2, 11.2], wet_reading={"1": "13.4 bar", "4": "13.0 bar"})
    assert look(SPEC, compression=[sheet]).grade("wet", "cylinder 4") == "unknown"


def test_air_at_the_filler_that_oil_does_not_stop() -> None:
    tables = {"compression": [wet(10.2)], "leak_down": [leak([5, 5, 5, 35], leak_escape={"4": ["oil_filler"]})]}
    made = register(SPEC, **tables)
    assert ratio(made, "piston-or-ring-land-broken", "cylinder 4", "wet_with_escape") == pytest.approx(3.0, rel=0.05)


def test_neighbours_that_oil_does_not_bring_back() -> None:
    sheet = dry([12.2, 12.1, 8.0, 8.1], wet_reading={"1": "13.4 bar", "3": "8.7 bar", "4": "8.8 bar"})
    made = register(SPEC, compression=[sheet])
    assert ratio(made, "head-gasket-between-cylinders", "cylinders 3+4", "wet_pair") == pytest.approx(2.0, rel=0.05)


# Inspection ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "grade", "cause", "expected"),
    [
        (["liquid"], "stop", "liquid-in-cylinder", 20.0),
        (["carbon"], "watch", "carbon-in-chamber", 20.0),
        (["land_broken"], "stop", "piston-or-ring-land-broken", 20.0),
        (["valve_burnt"], "fix_first", "exhaust-valve-seal", 20.0),
        (["clean"], "clean", "carbon-in-chamber", 0.05),
        (["clean"], "clean", "liquid-in-cylinder", 0.05),
        (["dry"], "clean", "liquid-in-cylinder", 0.05),
    ],
    ids=str,
)
def test_borescope(words: list[str], grade: str, cause: str, expected: float) -> None:
    sheet = {"date": DAY, "borescope": {"2": words}}
    assert look(SPEC, compression=[sheet]).grade("borescope", "cylinder 2") == grade
    assert ratio(register(SPEC, compression=[sheet]), cause, "cylinder 2", "borescope") == pytest.approx(expected)


def test_borescope_of_the_port_and_what_was_not_looked_at() -> None:
    for word, expected in (("port_coated", 8.0), ("port_clean", 0.1)):
        made = register(SPEC, compression=[{"date": DAY, "borescope": {"2": [word]}}])
        assert ratio(made, "carbon-on-intake-valves", "cylinder 2", "intake_port") == pytest.approx(expected)
    assert not look(SPEC, compression=[{"date": DAY, "borescope": {"2": ["not_checked"]}}]).has(
        "borescope", "cylinder 2"
    )


def test_piston_heights() -> None:
    heights = {"1": "0.50 mm", "2": "0.52 mm", "3": "1.60 mm", "4": "0.50 mm"}
    sheet = {"date": DAY, "piston_height": heights}
    found = look(SPEC, compression=[sheet])
    assert [found.grade("piston_height", f"cylinder {n}") for n in range(1, 5)] == [
        "clean",
        "clean",
        "fix_first",
        "clean",
    ]
    made = register(SPEC, compression=[sheet])
    assert ratio(made, "bent-connecting-rod", "cylinder 3", "piston_height") == pytest.approx(20.0, rel=0.01)
    assert ratio(made, "bent-connecting-rod", "cylinder 1", "piston_height") == pytest.approx(0.05, rel=0.01)


def heights(**millimetres: float) -> dict[str, str]:
    return {n.removeprefix("c"): f"{0.5 + mm} mm" for n, mm in {"c1": 0.0, "c2": 0.0, **millimetres}.items()}


def test_a_deficit_of_011_per_millimetre_speaks_for_the_rod() -> None:
    # 500 ml, ratio 10: a rod 1 mm short reads 0.889 of the others (crank-slider geometry); ratio 2, judgement.
    sheet = dry([13.0, 13.0, 13.0, round(13.0 * 0.889, 2)], piston_height=heights(c4=1.0))
    found = look(SPEC, compression=[sheet])
    assert found.step("deficit that this explains", "rod_depth", "cylinder 4") == pytest.approx(0.111, abs=0.002)
    made = register(SPEC, compression=[sheet])
    # Mixed by the probability that the cylinder is low at all.
    p_low = found.finding("balance", "cylinder 4").bands["low"]
    assert ratio(made, "bent-connecting-rod", "cylinder 4", "rod_depth") == pytest.approx(1 + p_low)
    assert p_low > 0.9


@pytest.mark.parametrize(
    ("reading", "short", "least", "most"),
    [
        (11.56, 1.0, 1.9, 2.0),
        # lower than the piston explains: it may leak as well
        (8.0, 1.0, 1.95, 2.0),
        # 3 mm would cost 0.29: something else, or a wrong height
        (11.56, 3.0, 1.0, 1.01),
        # an even cylinder, and a piston as high as the others
        (13.0, 1.0, 1.0, 1.0),
        (11.56, 0.05, 1.0, 1.01),
    ],
)
def test_depth_of_a_short_piston(reading: float, short: float, least: float, most: float) -> None:
    sheet = dry([13.0, 13.0, 13.0, reading], piston_height=heights(c4=short))
    made = register(SPEC, compression=[sheet])
    uses = [w for w in belief(made, "bent-connecting-rod", "cylinder 4").weights if "rod_depth" in w.finding]
    assert least - 1e-9 <= (10 ** (uses[0].raw_db / 10) if uses else 1.0) <= most + 1e-9


def test_a_lower_reading_takes_nothing_from_the_rod() -> None:
    weights = []
    for reading in (12.4, 12.0, 11.7, 11.4, 11.0, 9.0, 5.0):
        sheet = dry([13.0, 13.0, 13.0, reading], piston_height=heights(c4=1.0))
        found = belief(register(SPEC, compression=[sheet]), "bent-connecting-rod", "cylinder 4")
        weights.append(sum(w.raw_db for w in found.weights if "rod_depth" in w.finding))
    assert weights == sorted(weights)


def test_without_geometry_or_heights_nothing_is_said_of_the_rod() -> None:
    sheet = dry([13.0, 13.0, 13.0, 11.5], piston_height=heights(c4=1.0))
    bare = {key: value for key, value in SPEC.items() if key != "bore"}
    assert not look(bare, compression=[sheet]).has("rod_depth", "cylinder 4")
    assert not look(SPEC, compression=[dry([13.0, 13.0, 13.0, 11.5])]).has("rod_depth", "cylinder 4")


@pytest.mark.parametrize(
    ("field", "value", "rule", "subject", "grade", "cause", "expected"),
    [
        ("cam_lift", {"3": "low"}, "cam_lift", "cylinder 3", "fix_first", "valve-not-opening", 20.0),
        (
            "running_compression",
            {"3": "low"},
            "running_compression",
            "cylinder 3",
            "fix_first",
            "valve-not-opening",
            3.0,
        ),
        (
            "valve_clearance",
            {"3": "tight"},
            "valve_clearance",
            "cylinder 3",
            "fix_first",
            "tight-valve-clearance",
            20.0,
        ),
        ("valve_clearance", {"3": "in_range"}, "valve_clearance", "cylinder 3", "clean", "tight-valve-clearance", 0.1),
        ("timing_marks", "off", "timing_marks", None, "fix_first", "valve-timing-off", 20.0),
        ("timing_marks", "verified", "timing_marks", None, "clean", "valve-timing-off", 0.05),
    ],
)
def test_other_inspections(
    field: str, value: Any, rule: str, subject: str | None, grade: str, cause: str, expected: float
) -> None:
    sheet = {"date": DAY, field: value}
    assert look(SPEC, compression=[sheet]).grade(rule, subject) == grade
    assert ratio(register(SPEC, compression=[sheet]), cause, subject, rule) == pytest.approx(expected)


def test_a_full_lift_speaks_against_a_valve_that_does_not_open() -> None:
    made = register(SPEC, compression=[{"date": DAY, "cam_lift": {"3": "full"}}])
    assert belief(made, "valve-not-opening", "cylinder 3").net == pytest.approx(-10.0)
    equal = register(SPEC, compression=[{"date": DAY, "running_compression": {"3": "equal"}}])
    assert ratio(equal, "valve-not-opening", "cylinder 3", "running_compression") == pytest.approx(0.3)


# Starter current ----------------------------------------------------------------------------------------------------


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


# Crankcase ----------------------------------------------------------------------------------------------------------

FLOW_SPEC = {"flow": "60 L/min", "pressure": "1.37 kPa", "speed": "3000 rpm", "load": "full", "restrictor": "r5"}


def crankcase(flow: str | None = None, pressure: str | None = None, *, day: int = 0, **more: Any) -> dict[str, Any]:
    values = {
        "date": dry([], day=day)["date"],
        "blowby_flow": flow,
        "crankcase_pressure": pressure,
        "blowby_engine_speed": "3000 rpm",
        "blowby_load": "full",
        "breather_restriction": "r5",
        **more,
    }
    return {key: value for key, value in values.items() if value is not None}


def test_blow_by_against_the_maker() -> None:
    vehicle = {**SPEC, "blowby_spec": FLOW_SPEC}
    assert look(vehicle, crankcase=[crankcase("40 L/min")]).grade("blowby") == "clean"
    high = look(vehicle, crankcase=[crankcase("90 L/min")])
    assert high.grade("blowby") == "fix_first"
    assert ("crankcase-pressure-high", None) in high.symptoms()
    made = register(vehicle, crankcase=[crankcase("90 L/min")])
    assert ratio(made, "ring-seal", "cylinder 2", "blowby") == pytest.approx(4.0, rel=0.01)


@pytest.mark.parametrize(
    "change", [{"blowby_engine_speed": "4500 rpm"}, {"blowby_load": "idle"}, {"blowby_load": None}]
)
def test_other_conditions_are_not_compared(change: dict[str, Any]) -> None:
    vehicle = {**SPEC, "blowby_spec": FLOW_SPEC}
    assert look(vehicle, crankcase=[crankcase("90 L/min", **change)]).grade("blowby") == "unknown"


def test_blow_by_against_own_record() -> None:
    first = crankcase("30 L/min")
    assert look(SPEC, crankcase=[first]).grade("blowby") == "unknown"
    assert look(SPEC, crankcase=[first, crankcase("40 L/min", day=60)]).grade("blowby") == "clean"
    assert look(SPEC, crankcase=[first, crankcase("55 L/min", day=60)]).grade("blowby") == "fix_first"


def test_pressure_with_normal_flow_is_the_breather() -> None:
    vehicle = {**SPEC, "blowby_spec": FLOW_SPEC}
    made = register(vehicle, crankcase=[crankcase("40 L/min", "3 kPa")])
    assert ratio(made, "crankcase-ventilation-fault", None, "crankcase_pressure") == pytest.approx(8.0, rel=0.01)
    both = register(vehicle, crankcase=[crankcase("90 L/min", "3 kPa")])
    assert not any("crankcase_pressure" in w.finding for w in belief(both, "crankcase-ventilation-fault").weights)
    quiet = crankcase("40 L/min", "0.5 kPa", crankcase_pressure_in_boost="0.6 kPa")
    assert ratio(register(vehicle, crankcase=[quiet]), "crankcase-ventilation-fault", None, "crankcase_pressure") == (
        pytest.approx(0.1, rel=0.01)
    )
    other = look(vehicle, crankcase=[crankcase(None, "3 kPa", breather_restriction="open")])
    assert other.grade("crankcase_pressure") == "unknown"


# History ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("flag", "cause", "subject", "expected"),
    [
        ("knock_history", "piston-or-ring-land-broken", "cylinder 2", 4.0),
        ("water_ingress", "bent-connecting-rod", "cylinder 2", 6.0),
        ("timing_drive_work", "valve-timing-off", None, 3.0),
        ("coolant_loss", "head-gasket-or-crack-to-coolant", "cylinder 2", 3.0),
        ("short_trips", "carbon-in-chamber", "cylinder 2", 2.0),
        ("oil_use_high", "carbon-in-chamber", "cylinder 2", 2.0),
    ],
)
def test_history(flag: str, cause: str, subject: str | None, expected: float) -> None:
    rules = {
        "knock_history": "history_knock",
        "water_ingress": "history_water",
        "coolant_loss": "history_coolant_loss",
        "short_trips": "history_carbon",
        "oil_use_high": "history_carbon",
    }
    rule = rules.get(flag, "history_timing_drive")
    assert ratio(register({**SPEC, flag: True}), cause, subject, rule) == pytest.approx(expected)
    denied = register({**SPEC, flag: False})
    assert belief(denied, cause, subject).net == 0.0


def event(kind: str, day: int = 0) -> dict[str, Any]:
    return {"kind": kind, "date": DAY + datetime.timedelta(days=day)}


@pytest.mark.parametrize(
    ("kind", "rule", "cause", "subject", "expected"),
    [
        ("knock", "history_knock", "piston-or-ring-land-broken", "cylinder 2", 4.0),
        ("hydrolock", "history_water", "bent-connecting-rod", "cylinder 2", 6.0),
        ("over_speed", "history_over_speed", "over-speed-event", None, 12.0),
    ],
)
def test_events_speak_as_the_flags_do(kind: str, rule: str, cause: str, subject: str | None, expected: float) -> None:
    made = register(SPEC, days=3, event=[event(kind)])
    assert ratio(made, cause, subject, rule) == pytest.approx(expected)
    # The event is on record: that somebody denies it does not take it away; another event says nothing of it.
    denied = {"knock": "knock_history", "hydrolock": "water_ingress"}.get(kind)
    if denied:
        assert ratio(register({**SPEC, denied: False}, days=3, event=[event(kind)]), cause, subject, rule) == (
            pytest.approx(expected)
        )
    assert not look(SPEC, event=[event("collision")]).has(rule)


def test_a_repair_after_the_event_ends_what_it_says_of_that_cylinder() -> None:
    repair = {"id": "r1", "what": "rod replaced", "treats": ["bent-connecting-rod@cylinder 2"]}
    after = {**repair, "date": DAY + datetime.timedelta(days=5)}
    made = register(SPEC, days=9, event=[event("hydrolock")], repair=[after])
    weights = {n: belief(made, "bent-connecting-rod", f"cylinder {n}").weights for n in (1, 2)}
    assert any("history_water" in w.finding for w in weights[1])
    assert not weights[2]
    whole = {**after, "treats": ["bent-connecting-rod"]}
    assert not look(SPEC, event=[event("hydrolock")], repair=[whole]).has("history_water")
    # What the papers say has no date and counts as before the repair: it is not weighed twice.
    papers = register({**SPEC, "water_ingress": True}, days=9, repair=[after])
    assert not belief(papers, "bent-connecting-rod", "cylinder 2").weights
    assert belief(papers, "bent-connecting-rod", "cylinder 1").weights
    assert belief(papers, "bent-connecting-rod", "cylinder 2").p <= (
        belief(register({**SPEC, "water_ingress": True}, days=9), "bent-connecting-rod", "cylinder 2").p
    )
    # A repair may be named by a broader word.
    gasket = {**after, "treats": ["head-gasket"]}
    assert not look({**SPEC, "coolant_loss": True}, repair=[gasket]).has("history_coolant_loss")
    # Rods that were replaced before it went wrong are no answer.
    earlier = {**repair, "date": DAY - datetime.timedelta(days=5)}
    assert look(SPEC, event=[event("hydrolock")], repair=[earlier]).has("history_water")


def test_speed_beyond_the_makers_limit() -> None:
    # "Logged speed over the limit": ratio 12, judgement; a logged speed is known to 25 rpm.
    def made(speed: str) -> float:
        found = register({**SPEC, "engine_speed_limit": "6500 rpm", "highest_logged_speed": speed})
        uses = [w for b in found.beliefs if b.cause == "over-speed-event" for w in b.weights]
        return float(10 ** (uses[0].raw_db / 10)) if uses else 1.0

    assert made("7100 rpm") == pytest.approx(12.0, rel=1e-6)
    assert made("6500 rpm") == pytest.approx(0.5 * 12 + 0.5, rel=1e-6)
    assert made("6000 rpm") == pytest.approx(1.0, rel=1e-6)
    assert not look({**SPEC, "highest_logged_speed": "7100 rpm"}).has("history_over_speed")


@pytest.mark.parametrize(
    ("cause", "kind"),
    [
        ("head-gasket-between-cylinders", "overheating"),
        ("head-gasket-or-crack-to-coolant", "overheating"),
        ("piston-or-ring-land-broken", "knock"),
        ("bent-connecting-rod", "hydrolock"),
        ("ring-seal", "rebuild"),
    ],
)
def test_causes_name_the_events_that_make_old_evidence_worthless(cause: str, kind: str) -> None:
    # Overheating, knock, hydrolock and rebuild end evidence; also that of other checks on these causes.
    assert kind in next(one for one in CAUSES if one.id == cause).events


def test_diesel_speed_floor_is_its_own() -> None:
    vehicle = {**DIESEL, "compression_spec_min": "24 bar"}
    sheet = dry([30.0, 30.4, 29.8, 30.1], throttle_state="none", cranking_speed="140 rpm")
    assert look(vehicle, compression=[sheet]).grades("balance") == ["clean"] * 4
    assert (
        look(SPEC, compression=[dry([13.0, 13.1, 12.9, 13.0], cranking_speed="140 rpm")]).grades("balance")
        == ["unknown"] * 4
    )
