"""Rules for undeclared parts and wrong data with their likelihood ratios, all judgement.

A change of compression ratio is judged by the compression check, a catalyst or filter that is absent by the check of
emissions: same sheets, same groups. Groups here: pressure sensors at key-on; whatever comes from the air meter;
whatever the lambda sensors report; one record of fuel pressure; one log. Clean bands count only where the test was
made with valid data and came out clean. A ratio of 1 says that a test is silent on a cause which it otherwise proves.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from loadworthy.sdk import Group, Rule

if TYPE_CHECKING:
    from collections.abc import Mapping

    Ratios = Mapping[str, float]

KEY_ON, AIR_METER, LAMBDA_SENSOR = "key-on", "air meter", "lambda sensor"
FUEL_PRESSURE, LOG = "fuel pressure", "log"
GROUPS: Final = (
    Group(KEY_ON, "pressure sensors against station pressure, key on, engine off"),
    Group(
        AIR_METER,
        "everything computed from the metered air flow: air balance, volumetric efficiency, trims that follow it, "
        "air-metering codes",
    ),
    Group(
        LAMBDA_SENSOR,
        "everything that the vehicle's lambda sensors report or control: trims, mixture codes, sensor traces, lambda "
        "from the exhaust gas",
    ),
    Group(FUEL_PRESSURE, "one record of rail, feed or filter pressure against flow", per_sheet=True),
    Group(LOG, "one logged run, every channel not in a group above", per_sheet=True),
)

READ, MAP, AIR, RUN = "key-on-readings", "trim-map", "air-flow-against-model", "full-load-log"
BASE, VACUUM, GEAR, NUMBERS = (
    "base-pressure-run",
    "manifold-vacuum-reading",
    "gear-ratio-check",
    "calibration-identifiers",
)
LOOK, BENCH, ETHANOL_TEST, FUEL_TEST = (
    "look-for-undeclared-parts",
    "injector-flow-bench",
    "ethanol-test",
    "fuel-pressure-under-load",
)

SCALING, SENSOR, CONVERTER = (
    "pressure-sensor-scaling-changed",
    "pressure-sensor-wrong-or-saturated",
    "signal-converter-fitted",
)
DISPLACEMENT, METER_SCALE, METER, KIT = (
    "displacement-data-wrong",
    "air-meter-scaling-wrong",
    "air-meter-contaminated-or-housing-changed",
    "intake-kit-fitted",
)
INJECTOR, DEAD_TIME, REGULATOR, RAIL = (
    "injector-size-changed",
    "injector-dead-time-wrong",
    "fuel-pressure-regulator-fault",
    "rail-sensor-scaling-or-converter",
)
SPRING, CREEP, TURBO, AT_LIMIT = (
    "wastegate-spring-or-actuator-changed",
    "boost-creep",
    "turbocharger-changed",
    "turbocharger-at-its-limit",
)
CAMSHAFT, TIMING, CAM_OR_EXHAUST = "camshaft-changed", "valve-timing-off", "cam-or-exhaust-changed"
TYRE, GEARS, CALIBRATION = (
    "tyre-or-final-drive-data-wrong",
    "gearbox-ratios-changed",
    "present-calibration-changed",
)
#: Undeclared changes and wrong data: what these rules can infer. Faults that the same readings show are not among them.
UNDECLARED: Final = (
    SCALING,
    CONVERTER,
    DISPLACEMENT,
    METER_SCALE,
    METER,
    KIT,
    INJECTOR,
    RAIL,
    SPRING,
    TURBO,
    CAMSHAFT,
    TYRE,
    GEARS,
    CALIBRATION,
)
#: Probability of one undeclared change of one kind before anything was measured (judgement).
PRIOR: Final = 0.05


def _run(name: str, text: str, test: str, group: str, **bands: Ratios) -> Rule:
    return Rule(name, "mixture_run", text, test, group, bands, "judgement")


_SCALED: Final = {SENSOR: 5.0, CONVERTER: 5.0}
#: Documented data are worth 0.05 in all. The key-on reading that they rest on has cleared the sensor's scaling by 0.1
#: already, and where the rail's flow is judged its balance injectors and rail sensor by 0.3: only the rest counts here.
_DOCUMENTED: Final = {
    SCALING: 0.05 / 0.1,
    **dict.fromkeys((DISPLACEMENT, METER_SCALE, METER, INJECTOR, DEAD_TIME, "rail-sensor-scaling-wrong"), 0.05),
}

RULES: Final = (
    _run(
        "key_on",
        "pressure sensors against station pressure, engine at rest: a ratio, not an offset",
        READ,
        KEY_ON,
        changed={SCALING: 25.0, **_SCALED},
        typical_ratio={SCALING: 60.0, **_SCALED},
        clean={
            SCALING: 0.1,
            CONVERTER: 0.1,
            SENSOR: 1.0,
            "barometer-sensor-fault": 1.0,
            "rail-pressure-sensor-fault": 1.0,
        },
    ),
    _run("connectors", "sensors looked at for added connectors", "", "connectors", original={CONVERTER: 0.1}),
    _run("ve", "volumetric efficiency at full load against what an engine can have", AIR, AIR_METER),
    _run(
        "ve_constant",
        "volumetric efficiency off by one factor over speed and load",
        AIR,
        AIR_METER,
        constant={DISPLACEMENT: 6.0, METER_SCALE: 10.0},
        clean={DISPLACEMENT: 0.2, METER_SCALE: 0.2, METER: 1.0, "air-meter-electrical-fault": 1.0},
    ),
    _run(
        "meter_trend",
        "fuel trim that grows or falls with flow, volumetric efficiency that follows",
        MAP,
        AIR_METER,
        trend={METER: 10.0, KIT: 3.0},
        clean={METER: 0.3, KIT: 0.3},
    ),
    _run("trim", "fuel trims of one bank, worst region", MAP, LAMBDA_SENSOR),
    _run(
        "uniform_trim",
        "trim alike everywhere while fuel pressure, ethanol and volumetric efficiency are right",
        MAP,
        LAMBDA_SENSOR,
        uniform={INJECTOR: 20.0},
        clean={
            INJECTOR: 0.1,
            METER_SCALE: 1.0,
            "ethanol-above-plan": 1.0,
            "intake-leak-after-throttle": 1.0,
        },
    ),
    _run("dead_time", "trims at idle and load, and at two voltages", MAP, LAMBDA_SENSOR, alike={DEAD_TIME: 0.1}),
    _run("balance", "metered air against injected fuel at the measured lambda", AIR, AIR_METER),
    _run(
        "rail_flow",
        "direct injection: rail on target, but fuel off everywhere",
        AIR,
        FUEL_PRESSURE,
        off={RAIL: 10.0, INJECTOR: 5.0},
        off_size_counted={RAIL: 10.0},
        clean={RAIL: 0.3, INJECTOR: 0.3},
        clean_size_counted={RAIL: 0.3},
    ),
    _run(
        "data_documented",
        "data sheets against the parts, with balance, key-on readings and volumetric efficiency as they say",
        "",
        AIR_METER,
        stands=_DOCUMENTED,
        stands_rail_counted={**_DOCUMENTED, INJECTOR: 0.05 / 0.3, "rail-sensor-scaling-wrong": 0.05 / 0.3},
    ),
    _run(
        "fuel_set",
        "fuel pressure at idle, where flow is low, against its set point",
        "",
        FUEL_PRESSURE,
        off={REGULATOR: 15.0},
        clean={REGULATOR: 0.1},
    ),
    _run(
        "spring",
        "boost at zero duty against the stated spring, and whether it grows with speed",
        BASE,
        LOG,
        off={SPRING: 12.0},
        creep={CREEP: 5.0},
        both={SPRING: 12.0, CREEP: 5.0},
        clean={SPRING: 0.2, CREEP: 0.2},
    ),
    _run(
        "compressor",
        "air flow against the declared compressor's choke, and where boost begins",
        "",
        AIR_METER,
        beyond={TURBO: 10.0, CAM_OR_EXHAUST: 3.0},
        clean={TURBO: 0.3, CAM_OR_EXHAUST: 0.3},
    ),
    _run(
        "idle_vacuum",
        "vacuum low and unsteady, compression even and somewhat low, hydrocarbons high, clean at speed",
        VACUUM,
        LOG,
        cam={CAMSHAFT: 8.0, TIMING: 6.0},
        clean={CAMSHAFT: 0.2, TIMING: 0.2},
    ),
    _run("ratio_fit", "cranking pressure against the declared compression ratio", "", "compression"),
    _run(
        "gearing",
        "road speed against engine speed in locked gears",
        GEAR,
        LOG,
        all_of_three={TYRE: 30.0},
        all_of_two={TYRE: 15.0},
        one_gear={GEARS: 15.0},
        clean={TYRE: 0.05, GEARS: 0.05},
    ),
    _run(
        "boost_short", "boost short at full duty, tight, air flow at its standard peak", "", LOG, short={AT_LIMIT: 5.0}
    ),
    _run(
        "limits_above",
        "limits of torque, boost or speed in the log above the standard calibration's",
        "",
        LOG,
        above={CALIBRATION: 10.0},
    ),
    _run("undeclared", "an undeclared change or wrong data, from these rules together", "", "inference"),
    Rule(
        "calibration_number",
        "calibration",
        "calibration identifier and verification number against the maker's list",
        NUMBERS,
        "calibration number",
        {"mismatch": {CALIBRATION: 30.0}, "clean": {CALIBRATION: 0.1}},
        "judgement",
    ),
)
