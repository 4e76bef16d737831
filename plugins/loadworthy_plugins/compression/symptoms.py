"""Symptoms of compression with P(candidate | symptom): judgement, all of it."""

from __future__ import annotations

from typing import Final

from loadworthy.sdk import SymptomSet

SYMPTOMS: Final = (
    SymptomSet(
        "compression-high-all",
        "compression high on all cylinders",
        (
            ("carbon-in-chamber", 0.3),
            ("raised-compression-ratio", 0.28),
            ("gauge-or-adaptor-error", 0.2),
            ("valve-timing-off", 0.07),
        ),
    ),
    SymptomSet(
        "compression-high-one-cylinder",
        "compression high on one cylinder",
        (
            ("carbon-in-chamber", 0.4),
            ("liquid-in-cylinder", 0.25),
            ("gauge-or-adaptor-error", 0.15),
            ("head-gasket-or-crack-to-coolant", 0.05),
        ),
    ),
    SymptomSet(
        "compression-low-adjacent-pair",
        "compression low on two neighbours of one bank",
        (
            ("head-gasket-between-cylinders", 0.6),
            ("exhaust-valve-seal", 0.08),
            ("ring-seal", 0.08),
            ("intake-valve-seal", 0.04),
        ),
    ),
    SymptomSet(
        "compression-low-all",
        "compression low on all cylinders",
        (
            ("slow-cranking", 0.25),
            ("throttle-shut", 0.18),
            ("gauge-or-adaptor-error", 0.12),
            ("general-wear", 0.1),
            ("altitude-not-corrected", 0.08),
            ("late-intake-closing-by-design", 0.08),
            ("valve-timing-off", 0.06),
            ("lowered-compression-ratio", 0.03),
            ("camshaft-changed", 0.02),
            ("intake-restricted", 0.02),
            ("unbedded-rings", 0.02),
        ),
    ),
    SymptomSet(
        "compression-low-bank",
        "compression low on one whole bank, equal depth",
        (
            ("valve-timing-off", 0.6),
            ("valve-not-opening", 0.08),
            ("general-wear", 0.06),
            ("intake-restricted", 0.05),
            ("gauge-or-adaptor-error", 0.05),
            ("camshaft-changed", 0.04),
        ),
        when="two banks",
    ),
    SymptomSet(
        "compression-low-one-cylinder",
        "compression low on one cylinder",
        (
            ("exhaust-valve-seal", 0.26),
            ("ring-seal", 0.2),
            ("intake-valve-seal", 0.1),
            ("tight-valve-clearance", 0.08),
            ("piston-or-ring-land-broken", 0.06),
            ("fuel-washed-bore", 0.05),
            ("gauge-or-adaptor-error", 0.05),
            ("head-gasket-between-cylinders", 0.05),
            ("head-gasket-or-crack-to-coolant", 0.04),
            ("valve-not-opening", 0.03),
            ("bent-connecting-rod", 0.02),
        ),
    ),
    SymptomSet(
        "compression-low-set",
        "compression low on exactly the cylinders of the cut-off set",
        (("valve-not-opening", 0.9),),
        when="cylinder cut-off",
    ),
)
