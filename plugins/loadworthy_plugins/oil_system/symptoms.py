"""Symptoms of the oil system with P(candidate | symptom): judgement, all of it."""

from __future__ import annotations

from typing import Final

from loadworthy.sdk import SymptomSet

SYMPTOMS: Final = (
    SymptomSet(
        "crankcase-pressure-high",
        "crankcase pressure or blow-by high",
        (
            ("crankcase-ventilation-fault", 0.4),
            ("ring-seal", 0.25),
            ("general-wear", 0.1),
            ("piston-or-ring-land-broken", 0.05),
            ("turbo-oil-drain-restricted", 0.05),
            ("turbocharger-worn", 0.05),
        ),
    ),
    SymptomSet(
        "oil-level-rises",
        "oil level above full and rising",
        (
            ("fuel-dilution", 0.7),
            ("coolant-in-oil", 0.15),
        ),
    ),
    SymptomSet(
        "oil-pressure-low-hot",
        "oil pressure low when hot",
        (
            ("oil-too-thin", 0.25),
            ("crankshaft-bearing-clearance", 0.15),
            ("oil-pressure-sender-fault", 0.15),
            ("oil-level-low", 0.08),
            ("oil-pump-wear", 0.08),
            ("fuel-dilution", 0.06),
            ("oil-pick-up-restricted", 0.06),
            ("oil-relief-valve-stuck-open", 0.05),
            ("oil-overheated", 0.04),
            ("oil-pump-control-fault", 0.03),
        ),
    ),
)
