"""Symptoms that undeclared parts can be the reason of, with P(candidate | symptom): judgement, all of it."""

from __future__ import annotations

from typing import Final

from loadworthy.sdk import SymptomSet

SYMPTOMS: Final = (
    SymptomSet(
        "emissions-co-high",
        "fails emissions: carbon monoxide",
        (
            ("catalyst-aged", 0.35),
            ("lambda-sensor-fault", 0.12),
            ("exhaust-leak-before-lambda-sensor", 0.08),
            ("fuel-dilution", 0.06),
            ("injector-leaking", 0.06),
            ("analyser-or-fuel-setting-wrong", 0.05),
            ("catalyst-melted", 0.05),
            ("air-meter-reads-high", 0.04),
            ("tank-purge-valve-leaking", 0.04),
            ("catalyst-removed", 0.03),
            ("fuel-pressure-regulator-fault", 0.03),
        ),
    ),
    SymptomSet(
        "emissions-hc-high",
        "fails emissions: hydrocarbons",
        (
            ("catalyst-aged", 0.2),
            ("ignition-coil-or-lead-weak", 0.2),
            ("spark-gap-too-wide", 0.15),
            ("exhaust-valve-seal", 0.08),
            ("spark-plug-fouled", 0.08),
            ("analyser-or-fuel-setting-wrong", 0.05),
            ("injector-leaking", 0.04),
            ("oil-consumption-high", 0.04),
            ("intake-valve-seal", 0.03),
        ),
    ),
)
