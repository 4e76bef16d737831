"""Rules that carry a measured power to a reference atmosphere: corrected = factor x observed.

They serve to compare printed figures, never to predict boost: a charged petrol engine that controls absolute
manifold pressure hardly loses power with the ambient, so a factor above 1 on its sheet is gain that does not exist.

Pressures are Pa, temperatures K of the intake air. The rules are written with t + 273 (J607 with t + 273.15); the
functions convert. The atmospheric exponents of ISO 1585 / UN R85 and the windows are from memory.
"""

from __future__ import annotations

from typing import Final

from loadworthy.sdk import NamedTuple

#: The rules write t + 273, not t + 273.15.
_RULE_OFFSET: Final = 0.15
_KPA_REFERENCE: Final = 99_000.0
_T_REFERENCE: Final = 298.0


class Correction(NamedTuple):
    """Factor of a rule, and by how much it lies outside the window in which the rule allows it (0 inside)."""

    factor: float
    excess: float

    @property
    def outside_rule(self) -> bool:
        """True if the rule does not allow a factor of this size."""
        return self.excess > 0.0


def _within(factor: float, low: float, high: float) -> Correction:
    return Correction(factor, max(0.0, low - factor, factor - high))


def iso_1585_spark(dry_pressure: float, temperature: float) -> Correction:
    """ISO 1585 / UN R85 Annex 5, spark ignition: (99/p_s)^1.2 (T/298)^0.6, window 0.93 to 1.07.

    >>> round(iso_1585_spark(95_000.0, 303.15).factor, 4)
    1.0613
    """
    kelvin = temperature - _RULE_OFFSET
    factor = (_KPA_REFERENCE / dry_pressure) ** 1.2 * (kelvin / _T_REFERENCE) ** 0.6
    return _within(factor, 0.93, 1.07)


def atmospheric_factor(
    dry_pressure: float, temperature: float, *, turbocharged: bool, temperature_exponent: float | None = None
) -> float:
    """Atmospheric factor f_a for compression ignition, ISO 1585 / UN R85.

    Naturally aspirated or mechanically charged: (99/p_s)(T/298)^0.7. Turbocharged: (99/p_s)^0.7 (T/298)^1.5;
    newer editions use 1.2 with an air-to-air cooler and 0.7 with a liquid one (`temperature_exponent`).

    >>> round(atmospheric_factor(95_000.0, 303.15, turbocharged=False), 4)
    1.0543
    >>> round(atmospheric_factor(95_000.0, 303.15, turbocharged=True), 4)
    1.0553
    """
    pressure_exponent, exponent = (0.7, 1.5) if turbocharged else (1.0, 0.7)
    if temperature_exponent is not None:
        exponent = temperature_exponent
    kelvin = temperature - _RULE_OFFSET
    return float((_KPA_REFERENCE / dry_pressure) ** pressure_exponent * (kelvin / _T_REFERENCE) ** exponent)


def corrected_fuel_per_cycle(
    fuel_flow: float, displacement: float, speed: float, charge_pressure_ratio: float
) -> float:
    """Corrected specific fuelling q_c, mg per litre and cycle: 120 000 F/(V_d rpm)/r (UN R85 Annex 5, 5.4.2.2).

    Fuel flow kg/s, displacement m3, speed rev/s; r = charge pressure over ambient pressure, both absolute.

    >>> round(corrected_fuel_per_cycle(0.008, 0.002, 4000 / 60, 2.2), 3)
    54.545
    """
    return 2.0 * fuel_flow / (displacement * speed) * 1e3 / charge_pressure_ratio


def engine_factor(fuel_per_cycle: float, *, newer_edition: bool = False) -> float:
    """Engine factor f_m from q_c: 0.036 q_c - 1.14 between 40 and 65 mg/(L cycle), 0.3 below, 1.2 above.

    Newer editions start the slope at 37.2 (0.2 below). Source: UN R85 Annex 5, 5.4.2.2.

    >>> round(engine_factor(54.545), 4), engine_factor(20.0), engine_factor(80.0)
    (0.8236, 0.3, 1.2)
    """
    lower, floor = (37.2, 0.2) if newer_edition else (40.0, 0.3)
    if fuel_per_cycle < lower:
        return floor
    return 1.2 if fuel_per_cycle > 65.0 else 0.036 * fuel_per_cycle - 1.14


def iso_1585_compression_ignition(atmospheric: float, engine: float) -> Correction:
    """ISO 1585 / UN R85, compression ignition: f_a^f_m, window 0.9 to 1.1.

    >>> round(iso_1585_compression_ignition(1.0553, 0.8236).factor, 4)
    1.0453
    """
    return _within(atmospheric**engine, 0.9, 1.1)


def sae_j1349(dry_pressure: float, temperature: float) -> Correction:
    """SAE J1349, spark ignition: 1.18 (990 hPa/p_s) sqrt(T/298) - 0.18, window 0.93 to 1.07.

    >>> round(sae_j1349(95_000.0, 303.15).factor, 4)
    1.06
    """
    kelvin = temperature - _RULE_OFFSET
    factor = 1.18 * (_KPA_REFERENCE / dry_pressure) * (kelvin / _T_REFERENCE) ** 0.5 - 0.18
    return _within(factor, 0.93, 1.07)


def din_70020(pressure: float, temperature: float) -> Correction:
    """DIN 70020 (old): (1013.25 hPa/p) sqrt(T/293); the pressure is the total one, not the dry one. No window.

    >>> round(din_70020(99_000.0, 298.15).factor, 4)
    1.0322
    """
    return Correction(101_325.0 / pressure * ((temperature - _RULE_OFFSET) / 293.0) ** 0.5, 0.0)


def j607_standard(dry_pressure: float, temperature: float) -> Correction:
    """J607 "STD" (withdrawn): (1013.25 hPa/p_s) sqrt(T/288.7). No window.

    >>> round(j607_standard(99_000.0, 298.15).factor, 4)
    1.0401
    """
    return Correction(101_325.0 / dry_pressure * (temperature / 288.7) ** 0.5, 0.0)
