"""What trouble codes point to and no other check owns: priors, severities, hazards and hours are judgement.

``events`` end what exonerated a cause.
"""

from __future__ import annotations

from typing import Final

from loadworthy.sdk import Broader, Cause

CAUSES: Final = (
    Cause(
        "air-in-fuel",
        "air in the fuel (suction leak)",
        0.02,
        3,
        "load",
        driver="power",
        repair_hours=2.0,
        cost_class=1,
        remedy=(
            "find the suction leak, seal it and bleed; never run the engine with fuel spilt; proven by a "
            "steady pressure under load"
        ),
        retest=("fuel-pressure-under-load",),
        events=("misfuelling",),
    ),
    Cause(
        "cam-phaser-sticking",
        "cam phaser or its oil-control valve sticking",
        0.02,
        3,
        "load",
        driver="torque",
        located="bank",
        repair_hours=4.0,
        cost_class=3,
        remedy=(
            "oil service first; clean or renew valve, then phaser; proven by: commanded and actual cam "
            "angle agree, step response normal"
        ),
        retest=("phaser-actuation-test",),
        events=("oil_starvation",),
    ),
    Cause(
        "carbon-on-intake-valves",
        "carbon deposits on the intake valves",
        0.02,
        4,
        "slow",
        driver="power",
        located="cylinder",
        repair_hours=5.0,
        cost_class=2,
        remedy="clean the ports mechanically; proven by start-up misfire counts that are gone and by a look",
        retest=(
            "misfire-log",
            "borescope",
        ),
    ),
    Cause(
        "control-unit-fault",
        "control unit faulty or mismatched",
        0.03,
        2,
        "slow",
        repair_hours=2.0,
        cost_class=4,
        remedy=(
            "check supplies and grounds first; correct or renew the unit; proven by: identification and "
            "verification number as expected; code stays away"
        ),
        retest=(
            "calibration-identifiers",
            "full-memory-reading",
        ),
    ),
    Cause(
        "exhaust-gas-too-hot",
        "exhaust gas too hot",
        0.02,
        3,
        "heat",
        driver="heat_load",
        located="bank",
        repair_hours=3.0,
        cost_class=3,
        remedy=(
            "correct what heats it: mixture, ignition timing, restriction, boost; proven by: steady-load "
            "temperature below the agreed limit"
        ),
        retest=("exhaust-temperature-log",),
        events=(
            "track_day",
            "overheating",
        ),
    ),
    Cause(
        "fuel-cap-or-vapour-line-leak",
        "fuel cap or vapour line leaking",
        0.02,
        4,
        "slow",
        repair_hours=1.0,
        cost_class=1,
        remedy="reseal; proven by: vapour monitor passes",
        retest=(
            "vapour-system-smoke-test",
            "drive-until-monitors-complete",
        ),
    ),
    Cause(
        "fuel-leak",
        "fuel leak",
        0.003,
        1,
        "sudden",
        person=True,
        repair_hours=1.5,
        cost_class=2,
        remedy=(
            "repair before any running: no ignition source, fire extinguisher at hand; proven by no "
            "pressure loss, no smell, dry"
        ),
        retest=(
            "fuel-leak-look",
            "fuel-hold-down-test",
        ),
        events=("collision",),
    ),
    Cause(
        "fuel-return-blocked",
        "fuel return blocked",
        0.02,
        3,
        "slow",
        driver="power",
        located="engine",
        repair_hours=1.0,
        cost_class=1,
        remedy="clear; proven by: pressure as commanded",
        retest=("fuel-pressure-under-load",),
    ),
    Cause(
        "fuel-return-cooling-lost",
        "fuel return cooling lost",
        0.02,
        3,
        "heat",
        driver="heat_load",
        located="engine",
        repair_hours=1.5,
        cost_class=2,
        remedy="restore cooler or level; proven by: fuel temperature steady at load",
        retest=("steady-load-log",),
    ),
    Cause(
        "injector-electrical-fault",
        "injector electrical fault",
        0.02,
        3,
        "sudden",
        driver="torque",
        located="cylinder",
        repair_hours=1.5,
        cost_class=3,
        remedy="repair wiring or renew injector; proven by: drive signal normal",
        retest=("injector-electrical-check",),
    ),
    Cause(
        "injector-leaking",
        "injector leaking",
        0.02,
        2,
        "load",
        driver="torque",
        located="cylinder",
        repair_hours=2.0,
        cost_class=3,
        remedy=(
            "depressurise, renew injector or its seal, change the oil; proven by the hold-down test and a "
            "look for leaks"
        ),
        retest=(
            "fuel-hold-down-test",
            "oil-sample",
        ),
        events=("misfuelling",),
    ),
    Cause(
        "injector-restricted",
        "injector restricted",
        0.02,
        2,
        "load",
        driver="torque",
        located="cylinder",
        repair_hours=2.0,
        cost_class=3,
        remedy="clean or renew; check filter basket; proven by: flow balance within band",
        retest=("injector-balance-test",),
        events=("misfuelling",),
    ),
    Cause(
        "intake-flap-worn",
        "intake flap or linkage worn",
        0.02,
        2,
        "sudden",
        located="engine",
        repair_hours=4.0,
        cost_class=3,
        remedy="renew linkage or manifold; proven by: position follows command",
        retest=("flap-command-test",),
    ),
    Cause(
        "mechanical-noise",
        "mechanical noise in the engine",
        0.02,
        2,
        "load",
        driver="torque",
        located="engine",
        repair_hours=4.0,
        cost_class=3,
        remedy=(
            "repair what knocks: bracket, mount, tensioner, valve drive, piston or bearing; proven by a "
            "normal noise floor"
        ),
        retest=("knock-noise-log",),
        events=(
            "over_speed",
            "overheating",
            "oil_starvation",
        ),
    ),
    Cause(
        "over-speed-event",
        "engine has been over-speeded",
        0.01,
        2,
        "slow",
        driver="engine_speed",
        located="engine",
        repair_hours=4.0,
        cost_class=1,
        remedy="inspect valves, rods and turbocharger; proven by compression, leak-down and a look inside",
        retest=(
            "dry-compression",
            "leak-down",
            "borescope",
            "valve-clearance-check",
        ),
        events=("over_speed",),
    ),
    Cause(
        "rail-pressure-control-valve-fault",
        "rail pressure control valve fault",
        0.02,
        2,
        "load",
        driver="power",
        located="engine",
        repair_hours=2.0,
        cost_class=3,
        remedy="renew, learn; proven by: pressure follows command",
        retest=("fuel-pressure-under-load",),
        events=("misfuelling",),
    ),
    Cause(
        "tank-purge-valve-leaking",
        "tank purge valve leaking",
        0.02,
        4,
        "slow",
        driver="manifold_pressure",
        located="engine",
        repair_hours=0.7,
        cost_class=2,
        remedy="renew; proven by: holds vacuum shut; trims steady with the line pinched",
        retest=("purge-valve-shut-test",),
    ),
    Cause(
        "throttle-body-sticking",
        "throttle body dirty or sticking",
        0.02,
        1,
        "slow",
        located="engine",
        person=True,
        repair_hours=1.0,
        cost_class=2,
        remedy="clean, learn, or renew; proven by: position follows command",
        retest=("sensor-sweep",),
    ),
    Cause(
        "wiring-or-ground-fault",
        "wiring or ground of one circuit faulty",
        0.03,
        3,
        "sudden",
        repair_hours=2.0,
        cost_class=1,
        remedy=("repair; proven by: voltage drop under load within band; code stays away through a wiggle test"),
        retest=(
            "circuit-wiggle-test",
            "supply-and-ground-check",
        ),
        events=("collision",),
    ),
)

BROADER: Final = (
    Broader(
        "air-or-water-in-fuel",
        "air or water in the fuel",
        (
            "air-in-fuel",
            "water-in-fuel",
        ),
    ),
    Broader(
        "compression-low",
        "compression low",
        (
            "bent-connecting-rod",
            "exhaust-valve-seal",
            "fuel-washed-bore",
            "head-gasket-between-cylinders",
            "head-gasket-or-crack-to-coolant",
            "intake-valve-seal",
            "piston-or-ring-land-broken",
            "ring-seal",
            "tight-valve-clearance",
            "valve-not-opening",
        ),
        symptom="compression-low-one-cylinder",
    ),
    Broader(
        "fuel-pressure-too-high",
        "fuel pressure too high",
        (
            "fuel-pressure-regulator-fault",
            "fuel-return-blocked",
            "rail-pressure-control-valve-fault",
        ),
    ),
    Broader(
        "hardware-or-calibration-changed-before",
        "previous hardware or calibration change",
        (
            "part-changed-undeclared",
            "present-calibration-changed",
        ),
    ),
    Broader(
        "ignition-weak",
        "ignition weak",
        (
            "ignition-coil-or-lead-weak",
            "spark-plug-fouled",
        ),
    ),
    Broader(
        "low-pressure-fuel-supply-weak",
        "low-pressure fuel supply weak",
        (
            "fuel-filter-restricted",
            "fuel-pressure-regulator-fault",
            "fuel-pump-supply-voltage-low",
            "fuel-pump-weak",
        ),
        symptom="fuel-pressure-falls-under-load",
    ),
    Broader(
        "wrong-oil-or-plug-grade",
        "wrong oil or plug grade",
        (
            "oil-wrong-grade",
            "spark-plug-too-hot",
        ),
    ),
)
