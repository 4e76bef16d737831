"""The tests that fill this check's sheets: minutes (judgement), set-up, order and cautions."""

from __future__ import annotations

from typing import Final

from loadworthy.sdk import WorkshopTest

TESTS: Final = (
    WorkshopTest(
        "borescope",
        "borescope of the cylinders",
        20,
        "plugs out",
        "Engine cannot be turned while the scope is inside.",
        before=("wet-compression",),
        after=("plugs-out-inspection",),
    ),
    WorkshopTest(
        "crankcase-pressure-test",
        "blow-by and crankcase pressure",
        20,
        "warm engine",
        "Hot oil mist; a loaded run only if nothing bars it.",
        after=("oil-level-and-look",),
        weak=True,
    ),
    WorkshopTest(
        "cranking-current-trace",
        "cranking current trace",
        10,
        "warm engine",
        "Fuel and spark disabled: may set codes, so after the memory reading; stay clear of belts and fans.",
        before=("dry-compression",),
        after=(
            "battery-load-test",
            "full-memory-reading",
        ),
        spoils=("full-memory-reading",),
        weak=True,
    ),
    WorkshopTest(
        "dry-compression",
        "dry compression, first cylinder repeated last",
        40,
        "plugs out",
        "Injection and ignition disabled; clear of plug holes and belts; plugs out before cranking if liquid "
        "is suspected.",
        before=(
            "leak-down",
            "piston-height-and-cam-lift",
            "running-compression",
            "wet-compression",
        ),
        after=(
            "battery-load-test",
            "cranking-current-trace",
            "plugs-out-inspection",
        ),
        weak=True,
    ),
    WorkshopTest(
        "leak-down",
        "leak-down with a known jet, escape heard for",
        60,
        "plugs out",
        "Compressed air turns the crank: no bar left on it, wheels chocked, never open a hot coolant cap.",
        before=(
            "chamber-volume",
            "piston-height-and-cam-lift",
            "wet-compression",
        ),
        after=("dry-compression",),
    ),
    WorkshopTest(
        "mechanical-timing-check",
        "valve timing marks and cam-crank correlation checked",
        60,
        "cold engine",
        "Ignition off; crank turned by hand only, with the locking tools for that engine.",
    ),
    WorkshopTest(
        "piston-height-and-cam-lift",
        "piston height at top centre, cam lift",
        30,
        "plugs out",
        "Crank turned by hand only, ignition off.",
        after=(
            "dry-compression",
            "leak-down",
        ),
    ),
    WorkshopTest(
        "running-compression",
        "running compression with a pressure transducer",
        30,
        "warm engine",
        "That cylinder's spark and fuel disabled; hot and rotating parts.",
        after=("dry-compression",),
    ),
    WorkshopTest(
        "valve-clearance-check",
        "valve clearances measured",
        60,
        "cold engine",
        "Engine cold, crank turned by hand only.",
    ),
    WorkshopTest(
        "wet-compression",
        "wet compression with a measured oil volume and a control cylinder",
        15,
        "plugs out",
        "Oil mist: shields; not on diesel, pre-chamber or horizontal cylinders; crank plugs-out to clear the oil.",
        after=(
            "borescope",
            "dry-compression",
            "leak-down",
        ),
        spoils=(
            "borescope",
            "dry-compression",
            "leak-down",
        ),
    ),
)
