"""Undeclared parts, wrong data and parts too small: priors, severities, hazards and hours are judgement.

``events`` end what exonerated a cause.
"""

from __future__ import annotations

from typing import Final

from loadworthy.sdk import Broader, Cause

CAUSES: Final = (
    Cause(
        "air-meter-scaling-wrong",
        "air meter scaling in the calibration wrong",
        0.05,
        4,
        "none",
        located="engine",
        not_physical=True,
        repair_hours=2.0,
        cost_class=1,
        remedy=(
            "enter the transfer curve of the meter that is fitted; proven by air flow against the model and flat trims"
        ),
        retest=(
            "air-flow-against-model",
            "trim-map",
        ),
    ),
    Cause(
        "boost-creep",
        "boost creeps up with speed (wastegate passes too little)",
        0.03,
        2,
        "load",
        driver="manifold_pressure",
        located="bank",
        repair_hours=6.0,
        cost_class=3,
        remedy=(
            "port the wastegate or fit a larger one, free its path; proven by a base-pressure run that "
            "stays at the spring's pressure to full speed"
        ),
        retest=("base-pressure-run",),
    ),
    Cause(
        "camshaft-changed",
        "camshaft changed",
        0.05,
        3,
        "slow",
        driver="engine_speed",
        located="bank",
        repair_hours=2.0,
        cost_class=1,
        remedy=(
            "record it with its data and have the calibration made for it, or refit the standard part; "
            "proven by vacuum and trims as its data say"
        ),
        retest=(
            "look-for-undeclared-parts",
            "manifold-vacuum-reading",
        ),
        events=("rebuild",),
    ),
    Cause(
        "displacement-data-wrong",
        "displacement stated wrong",
        0.05,
        4,
        "none",
        located="engine",
        not_physical=True,
        repair_hours=0.3,
        cost_class=1,
        remedy="correct the stated displacement; proven by the shape of volumetric efficiency over speed",
        retest=(
            "inventory-interview",
            "air-flow-against-model",
        ),
        events=("rebuild",),
    ),
    Cause(
        "exhaust-changed",
        "exhaust changed",
        0.05,
        4,
        "slow",
        located="bank",
        repair_hours=1.0,
        cost_class=1,
        remedy=(
            "record it with its data and have the calibration made for it, or refit the standard part; "
            "proven by back pressure as its data say"
        ),
        retest=(
            "look-for-undeclared-parts",
            "exhaust-back-pressure",
        ),
    ),
    Cause(
        "fuel-pump-too-small",
        "fuel pump sound but too small for the plan",
        0.05,
        2,
        "load",
        driver="power",
        located="engine",
        capacity=True,
        repair_hours=2.0,
        cost_class=3,
        remedy=(
            "voltage and line first, then a larger pump with its curve; or lower the plan; proven by "
            "volume at pressure, voltage loaded, above the planned need"
        ),
        retest=(
            "fuel-pump-volume-test",
            "fuel-pressure-under-load",
        ),
    ),
    Cause(
        "gearbox-ratios-changed",
        "gearbox ratios changed",
        0.05,
        4,
        "slow",
        repair_hours=0.5,
        cost_class=1,
        remedy="correct the stated ratios; proven by the overall ratio, right to 0.01, in two gears",
        retest=("gear-ratio-check",),
    ),
    Cause(
        "injector-dead-time-wrong",
        "injector dead time in the calibration wrong",
        0.02,
        4,
        "none",
        located="engine",
        not_physical=True,
        repair_hours=1.0,
        cost_class=1,
        remedy=(
            "enter the dead time of the maker's data sheet over voltage and pressure; proven by trims "
            "alike at idle and load"
        ),
        retest=("trim-map",),
    ),
    Cause(
        "injector-size-changed",
        "injector size changed",
        0.05,
        2,
        "load",
        driver="power",
        located="engine",
        repair_hours=3.0,
        cost_class=3,
        remedy=(
            "enter flow and dead time in the calibration before the load is raised, or fit the standard "
            "part; proven by trims within 0.05 and air to fuel within 0.05"
        ),
        retest=(
            "injector-flow-bench",
            "trim-map",
        ),
    ),
    Cause(
        "injector-too-small",
        "injectors sound but too small for the plan",
        0.05,
        2,
        "load",
        driver="power",
        located="engine",
        capacity=True,
        repair_hours=3.0,
        cost_class=4,
        remedy=(
            "larger injectors, their linear range checked at idle, or lower the plan; proven by a duty of "
            "at most 0.80 at planned flow"
        ),
        retest=(
            "injector-flow-bench",
            "full-load-log",
        ),
    ),
    Cause(
        "intake-kit-fitted",
        "air filter or intake kit fitted",
        0.05,
        4,
        "slow",
        driver="power",
        located="engine",
        repair_hours=1.0,
        cost_class=1,
        remedy=(
            "record it with its data and have the calibration made for it, or refit the standard part; "
            "proven by trims flat with flow"
        ),
        retest=(
            "look-for-undeclared-parts",
            "trim-map",
        ),
    ),
    Cause(
        "lowered-compression-ratio",
        "compression ratio lowered",
        0.05,
        4,
        "slow",
        driver="power",
        located="engine",
        repair_hours=3.0,
        cost_class=1,
        remedy=(
            "measure chamber and deck, record the ratio and have the calibration made for it; proven by "
            "cranking pressures that fit the ratio"
        ),
        retest=(
            "chamber-volume",
            "dry-compression",
        ),
        excludes=("raised-compression-ratio",),
        events=("rebuild",),
    ),
    Cause(
        "part-changed-undeclared",
        "a part was changed and the calibration does not know it",
        0.15,
        3,
        "load",
        driver="torque",
        repair_hours=2.0,
        cost_class=1,
        remedy=(
            "find it, record it with its data, enter it in the calibration before the load is raised; "
            "proven by a look and uniform trims within 0.05"
        ),
        retest=(
            "look-for-undeclared-parts",
            "inventory-interview",
        ),
    ),
    Cause(
        "present-calibration-changed",
        "present calibration is not the maker's",
        0.05,
        3,
        "load",
        driver="torque",
        repair_hours=1.5,
        cost_class=1,
        remedy=(
            "the owner decides: back to the maker's, or recorded as the new base; proven by identifiers "
            "and verification number recorded and explained"
        ),
        retest=("calibration-identifiers",),
    ),
    Cause(
        "pressure-sensor-scaling-changed",
        "pressure sensor or its scaling changed",
        0.05,
        4,
        "none",
        located="engine",
        not_physical=True,
        repair_hours=1.0,
        cost_class=2,
        remedy="correct sensor and slope together; proven by key-on within 2 kPa and a span check",
        retest=(
            "key-on-readings",
            "pressure-sensor-span-check",
        ),
    ),
    Cause(
        "rail-sensor-scaling-wrong",
        "rail pressure sensor scaling wrong",
        0.05,
        4,
        "none",
        located="engine",
        not_physical=True,
        repair_hours=1.0,
        cost_class=2,
        remedy="correct sensor and slope together; proven by rail pressure against a second reading",
        retest=("fuel-pressure-under-load",),
    ),
    Cause(
        "raised-compression-ratio",
        "compression ratio raised",
        0.05,
        2,
        "load",
        driver="torque",
        located="engine",
        repair_hours=3.0,
        cost_class=1,
        remedy=(
            "measure chamber and deck, record the ratio and have the calibration made for it; proven by "
            "cranking pressures that fit the ratio"
        ),
        retest=(
            "chamber-volume",
            "dry-compression",
        ),
        excludes=("lowered-compression-ratio",),
        events=("rebuild",),
    ),
    Cause(
        "signal-converter-fitted",
        "signal converter fitted between sensor and control unit",
        0.05,
        2,
        "load",
        driver="torque",
        located="engine",
        repair_hours=1.0,
        cost_class=1,
        remedy=("remove it, read the fault memory again, repeat every log; proven by old and new logs compared"),
        retest=(
            "look-for-undeclared-parts",
            "full-load-log",
        ),
    ),
    Cause(
        "turbocharger-at-its-limit",
        "turbocharger sound but at its limit",
        0.1,
        3,
        "speed",
        driver="compressor_speed",
        located="bank",
        capacity=True,
        repair_hours=8.0,
        cost_class=4,
        remedy=(
            "lower the plan, or a turbocharger whose map holds the planned flow; proven by pressure ratio "
            "and flow inside the map"
        ),
        retest=(
            "pressure-ratio-against-map",
            "full-load-log",
        ),
    ),
    Cause(
        "turbocharger-changed",
        "turbocharger changed",
        0.05,
        3,
        "speed",
        driver="compressor_speed",
        located="bank",
        repair_hours=2.0,
        cost_class=1,
        remedy=(
            "record it with its map and have the calibration made for it, or refit the standard part; "
            "proven by a check against the map"
        ),
        retest=(
            "look-for-undeclared-parts",
            "pressure-ratio-against-map",
        ),
    ),
    Cause(
        "tyre-or-final-drive-data-wrong",
        "tyre or final drive data wrong",
        0.05,
        4,
        "none",
        not_physical=True,
        repair_hours=0.3,
        cost_class=1,
        remedy=(
            "correct the stated circumference or ratio, log an undelayed speed channel; proven by the "
            "overall ratio right to 0.01, in two gears"
        ),
        retest=("gear-ratio-check",),
    ),
    Cause(
        "wastegate-spring-or-actuator-changed",
        "wastegate spring or actuator changed",
        0.05,
        3,
        "load",
        driver="manifold_pressure",
        located="bank",
        repair_hours=1.5,
        cost_class=2,
        remedy=(
            "fit and set the right one, leak-test its lines; proven by boost at zero duty within "
            "tolerance of the spring"
        ),
        retest=(
            "actuator-pressure-test",
            "base-pressure-run",
        ),
    ),
)

BROADER: Final = (
    Broader(
        "air-meter-contaminated-or-housing-changed",
        "air meter contaminated or its housing changed",
        (
            "air-meter-reads-high",
            "air-meter-reads-low",
        ),
    ),
    Broader(
        "cam-or-exhaust-changed",
        "camshaft or exhaust changed",
        (
            "camshaft-changed",
            "exhaust-changed",
        ),
    ),
    Broader(
        "rail-sensor-scaling-or-converter",
        "rail sensor scaling wrong or signal converter fitted",
        (
            "rail-sensor-scaling-wrong",
            "signal-converter-fitted",
        ),
    ),
)
