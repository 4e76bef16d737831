"""The tests that this check asks for: minutes (judgement), set-up, order and cautions."""

from __future__ import annotations

from typing import Final

from loadworthy.sdk import WorkshopTest

TESTS: Final = (
    WorkshopTest(
        "calibration-identifiers",
        "calibration identifiers, verification number and monitor state against the maker's list",
        10,
        "cold engine",
        "Key on, engine off, support supply; before anything is cleared.",
        after=("full-memory-reading",),
    ),
    WorkshopTest(
        "chamber-volume",
        "chamber volume or deck measured",
        60,
        "plugs out",
        "Crank locked; fluid cleared before cranking.",
        after=("leak-down",),
    ),
    WorkshopTest(
        "gear-ratio-check",
        "overall ratio in each gear from a log, tyre measured",
        10,
        "rollers",
        "Light load is enough; road law or rollers.",
        after=("tyre-and-plate-reading",),
    ),
    WorkshopTest(
        "injector-flow-bench",
        "injectors on the flow bench, three pulse widths",
        150,
        "cold engine",
        "Depressurise; single-use seals; fire risk.",
        after=(
            "fuel-pressure-under-load",
            "full-memory-reading",
        ),
        spoils=("full-memory-reading",),
    ),
    WorkshopTest(
        "inventory-interview",
        "inventory interview and papers, part by part",
        30,
        "paper",
        "Desk work: no special hazard.",
        weak=True,
    ),
    WorkshopTest(
        "look-for-undeclared-parts",
        "look: markings, added connectors, welds, sensor numbers",
        45,
        "lift",
        "Cold exhaust; stands, not the jack; hybrid: high-voltage isolation by qualified staff.",
        weak=True,
    ),
    WorkshopTest(
        "manifold-vacuum-reading",
        "manifold vacuum at idle",
        10,
        "warm engine",
        "Keep clear of belts and fans; exhaust extraction.",
        weak=True,
    ),
    WorkshopTest(
        "trim-map",
        "map of fuel trims over air flow",
        20,
        "warm engine",
        "Warm, closed loop; exhaust extraction.",
        after=(
            "ethanol-test",
            "full-memory-reading",
        ),
    ),
)
