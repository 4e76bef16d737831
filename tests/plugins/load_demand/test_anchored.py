"""Demand that rests on this car's own log, and figures that were corrected to a reference atmosphere."""

from __future__ import annotations

from typing import Any

import pytest
from load_demand_cases import (
    ASPIRATED,
    DIESEL_TURBO,
    LOG_POINT,
    PETROL_TURBO,
    PLAN,
    assumed,
    at,
    curve,
    demand,
    q,
)

from loadworthy.findings import Demand
from loadworthy_plugins.load_demand.formulas import KWH, power_of, work_per_air

# This car's own log.


def anchored(plan: dict[str, Any], **more: Any) -> Demand:
    """Return the demand of the turbo petrol with its log point, fields of it by keyword."""
    point = {k: v for k, v in {**LOG_POINT, **more}.items() if v is not None}
    return demand({**PETROL_TURBO, "baseline_log_point": (point,)}, plan)


def test_anchored_demand_meets_the_log_and_scales_from_it() -> None:
    result = anchored({"torque": PLAN, "lambda": 0.85})
    assert result.basis == "anchored"
    assert at(result, "manifold_pressure", 4000, 300.0) == pytest.approx((190e3, 190e3, 190e3), rel=1e-7)
    assert at(result, "charge_temperature", 4000, 300.0)[1] == pytest.approx(318.0, rel=1e-7)
    assert at(result, "compressor_speed", 4000, 300.0)[1] == pytest.approx(1.0, rel=1e-6)
    _low, nominal, high = at(result, "manifold_pressure", 4000)
    hot = at(result, "charge_temperature", 4000)[1]
    assert nominal == pytest.approx(190e3 * 370 / 300 * hot / 318.0, rel=1e-6)
    assert high / nominal - 1 == pytest.approx(2 * 0.03905 * (370 / 300 - 1), rel=1e-3)
    assert at(result, "compressor_speed", 4000)[1] > 1.05
    # Out of the log's reach the defaults hold.
    _low, nominal, high = at(result, "manifold_pressure", 5500)
    assert high / nominal - 1 == pytest.approx(2 * 0.0844, abs=2e-4)


def test_a_stated_charge_temperature_anchors_the_published_way() -> None:
    # 205 kPa at 300 N m and 315 K; 360 N m at 322 K: 251.47 kPa.
    plan = {"torque": curve({2000: 360, 5500: 360}), "charge_temperature": q(322.0), "lambda": 0.85}
    result = anchored(plan, manifold_pressure=q(205e3), charge_temperature=q(315.0))
    assert at(result, "manifold_pressure", 4000)[1] == pytest.approx(251.47e3, rel=1e-4)
    assert at(result, "manifold_pressure", 4000, 300.0)[1] == pytest.approx(205e3, rel=1e-9)


def test_a_richer_plan_needs_a_little_more_pressure() -> None:
    plan = {"torque": PLAN, "charge_temperature": q(318.0)}
    same, rich = anchored({**plan, "lambda": 0.85}), anchored({**plan, "lambda": 0.75})
    ratio = at(rich, "manifold_pressure", 4000)[1] / at(same, "manifold_pressure", 4000)[1]
    assert ratio == pytest.approx(work_per_air(0.85) / work_per_air(0.75))
    # Without either lambda nothing is carried over, and the work per charge is known to 5 %.
    for unknown in (anchored(plan), anchored({**plan, "lambda": 0.75}, **{"lambda": None})):
        _low, nominal, high = at(unknown, "manifold_pressure", 4000)
        assert nominal == pytest.approx(at(same, "manifold_pressure", 4000)[1])
        u = (0.02**2 + 0.05**2 + 0.015**2) ** 0.5
        assert high / nominal - 1 == pytest.approx(2 * u * (370 / 300 - 1), rel=1e-3)
        assert "work per charge from the log" in assumed(unknown)


def test_diesel_anchor_goes_with_lambda() -> None:
    point = {**LOG_POINT, "speed": q(3000 / 60), "lambda": 1.3}
    vehicle = {**DIESEL_TURBO, "baseline_log_point": (point,)}
    plan = {"torque": curve({1500: 330, 4000: 330}), "charge_temperature": q(318.0)}
    same, lean = demand(vehicle, {**plan, "lambda": 1.3}), demand(vehicle, {**plan, "lambda": 1.43})
    ratio = at(lean, "manifold_pressure", 3000)[1] / at(same, "manifold_pressure", 3000)[1]
    assert ratio == pytest.approx(1.1)


def test_metered_air_replaces_the_default() -> None:
    power = power_of(300.0, 4000 / 60)
    result = anchored({"torque": PLAN, "lambda": 0.85}, air_flow=q(power * 3.5 / KWH))
    assert at(result, "air_flow", 4000, 300.0) == pytest.approx((power * 3.5 / KWH,) * 3)
    _low, nominal, high = at(result, "air_flow", 4000)
    assert nominal == pytest.approx(power_of(370.0, 4000 / 60) * 3.5 / KWH)
    assert high / nominal - 1 == pytest.approx(2 * (0.02**2 + 0.03**2) ** 0.5 * (370 / 300 - 1), rel=1e-6)


def test_between_two_log_points_and_beyond_their_reach() -> None:
    points = (
        {**LOG_POINT, "speed": q(3600 / 60), "manifold_pressure": q(180e3)},
        {**LOG_POINT, "speed": q(4400 / 60), "manifold_pressure": q(200e3)},
    )
    vehicle = {**PETROL_TURBO, "baseline_log_point": points}
    plan = {"torque": curve({2000: 300, 5500: 300}), "charge_temperature": q(318.0), "lambda": 0.85}
    result = demand(vehicle, plan)
    # kappa is inverse to the pressure: its mean over both points.
    mean = 2 / (1 / 180e3 + 1 / 200e3)
    assert at(result, "manifold_pressure", 4000)[1] == pytest.approx(mean, rel=1e-9)
    reversed_points = demand({**vehicle, "baseline_log_point": points[::-1]}, plan)
    assert reversed_points == result
    plain = demand(PETROL_TURBO, plan)
    for rpm, near in ((3000, False), (3250, True), (4750, True), (5000, False)):
        same = at(result, "manifold_pressure", rpm) == at(plain, "manifold_pressure", rpm)
        assert same is not near, rpm


def test_a_refused_or_partial_log_point_anchors_nothing() -> None:
    plain = demand(PETROL_TURBO, {"torque": PLAN})
    for more in (
        {"manifold_pressure": q(190e3, refused="another pressure sensor was fitted")},
        {"manifold_pressure": None},
        {"charge_temperature": None},
        {"torque": None},
    ):
        result = anchored({"torque": PLAN}, **more)
        assert result.basis == "default"
        assert result.quantities["manifold_pressure"] == plain.quantities["manifold_pressure"]
        assert "compressor_speed" not in result.quantities


def test_a_log_point_may_state_power() -> None:
    power = power_of(300.0, 4000 / 60)
    assert anchored({"torque": PLAN}, torque=None, power=q(power)) == anchored({"torque": PLAN})


def test_two_log_points_are_a_base_where_nothing_better_is_known() -> None:
    points = ({**LOG_POINT, "speed": q(2000 / 60), "torque": q(280.0)}, LOG_POINT)
    vehicle = {**PETROL_TURBO, "baseline_log_point": points}
    result = demand(vehicle, {"torque": PLAN}, base_torque_measured=None)
    assert result.base_source == "baseline_log_point"
    assert result.base is not None
    by_rpm = {round(60 * n): b for n, b in zip(result.speeds, result.base, strict=True)}
    assert by_rpm[3000] == pytest.approx(290.0)
    assert by_rpm[1500] == 0.0


# Figures corrected to a reference atmosphere.


def test_a_charged_petrol_engine_is_taken_as_observed() -> None:
    air = {
        "ambient_pressure": q(96e3),
        "ambient_pressure_kind": "station",
        "ambient_temperature": q(303.15),
        "relative_humidity": 0.0,
    }
    factor = 101.325 / 96.0 * (303.15 / 288.7) ** 0.5
    corrected = demand(PETROL_TURBO, {"torque": PLAN}, power_correction="j607_std", **air)
    observed = demand(PETROL_TURBO, {"torque": PLAN}, power_correction="none", **air)
    assert corrected.plan == pytest.approx([t / factor for t in observed.plan])
    assert corrected.base is not None
    assert observed.base is not None
    assert corrected.base == pytest.approx([t / factor for t in observed.base])
    # Diesels, bare engines, declared figures and unknown air: the figure stays.
    for vehicle, plan, more in (
        (DIESEL_TURBO, curve({1500: 330, 4000: 320}), air),
        (ASPIRATED, curve({1500: 130, 6000: 135}), air),
        (PETROL_TURBO, PLAN, {**air, "power_basis": "crank_declared"}),
        (PETROL_TURBO, PLAN, {}),
    ):
        stated = demand(vehicle, {"torque": plan}, **{**more, "power_correction": "j607_std"})
        assert max(stated.plan) == max(plan.values)


def test_a_factor_outside_its_rule_widens_the_figure() -> None:
    air = {"ambient_pressure": q(90e3), "ambient_pressure_kind": "station", "ambient_temperature": q(303.15)}
    stated = demand(PETROL_TURBO, {"torque": PLAN}, power_correction="iso_1585", relative_humidity=0.0, **air)
    excess = (99 / 90) ** 1.2 * (303 / 298) ** 0.6 - 1.07
    _low, nominal, high = at(stated, "torque", 5500)
    assert high / nominal - 1 == pytest.approx(2 * (0.02**2 + excess**2) ** 0.5, rel=1e-6)


def test_a_poor_log_reading_widens_the_anchor() -> None:
    plan = {"torque": PLAN, "lambda": 0.85}
    poor = anchored(plan, manifold_pressure=q(190e3, 0.06 * 190e3))
    _, nominal, high = at(poor, "manifold_pressure", 4000)
    u = (0.02**2 + 0.06**2 + 0.015**2) ** 0.5
    assert high / nominal - 1 == pytest.approx(2 * u * (370 / 300 - 1), rel=1e-6)
    # A better one than the model gains nothing.
    good = anchored(plan, manifold_pressure=q(190e3, 100.0))
    assert good.quantities == anchored(plan).quantities


def test_the_largest_logged_state_is_the_demonstrated_one() -> None:
    points = (
        LOG_POINT,
        {**LOG_POINT, "speed": q(3000 / 60), "manifold_pressure": q(205e3)},
    )
    result = demand({**PETROL_TURBO, "baseline_log_point": points}, {"torque": PLAN, "lambda": 0.85})
    assert at(result, "compressor_speed", 3000, 300.0)[1] == pytest.approx(1.0, rel=1e-6)
    assert at(result, "compressor_speed", 4000, 300.0)[1] < 1.0


def test_of_two_points_of_one_speed_the_lower_torque_is_the_base() -> None:
    points = (
        {**LOG_POINT, "speed": q(2000 / 60), "torque": q(280.0)},
        {**LOG_POINT, "speed": q(2000 / 60), "torque": q(260.0)},
        LOG_POINT,
    )
    for ordered in (points, points[::-1]):
        vehicle = {**PETROL_TURBO, "baseline_log_point": ordered}
        result = demand(vehicle, {"torque": PLAN}, base_torque_measured=None)
        assert result.base is not None
        assert result.base[result.speeds.index(2000 / 60)] == 260.0
