"""Torque, mean pressure, air and fuel: the algebra of the demand model. Floats in SI.

Speeds are rev/s, specific consumptions kg/J (1 kg/kWh = 1/3.6e6 kg/J), densities kg/m3, temperatures K, pressures
absolute Pa. Four-stroke engines only.
"""

from __future__ import annotations

from math import pi
from typing import Final

from loadworthy.sdk import NamedTuple
from loadworthy_plugins.physics.atmosphere import R_AIR

#: Joules in a kilowatt hour.
KWH: Final = 3.6e6
#: Full-load air-fuel ratios, relative, between which the work per kilogram of air is known for spark ignition.
LAMBDA_LOWEST: Final = 0.70
LAMBDA_HIGHEST: Final = 1.05

# Work per kg of air relative to lambda 1: fuel-air cycle at compression ratio 10 by Cantera, propane as surrogate.
_WORK: Final = (
    (0.70, 0.963),
    (0.75, 0.977),
    (0.80, 0.988),
    (0.85, 0.998),
    (0.88, 1.002),
    (0.90, 1.004),
    (0.95, 1.007),
    (1.00, 1.000),
    (1.10, 0.932),
)


class OutsideModelError(ValueError):
    """A value lies where the model knows nothing; the caller owes a gap, not a number."""


def linear(points: tuple[tuple[float, float], ...], x: float) -> float:
    """Value at x on a polyline with rising abscissae; beyond its ends the outer segments are continued.

    >>> linear(((0.0, 1.0), (2.0, 5.0)), 1.0)
    3.0
    """
    if len(points) == 1:
        return points[0][1]
    i = 1
    while i < len(points) - 1 and x > points[i][0]:
        i += 1
    (x0, y0), (x1, y1) = points[i - 1], points[i]
    return y0 + (x - x0) / (x1 - x0) * (y1 - y0)


def power_of(torque: float, speed: float) -> float:
    """Power, W, of a torque (N m) at a speed (rev/s): 2 pi n T.

    42 kg on a 0.54 m brake arm at 4 500 rpm: 104.846 kW (textbook-companion IC-engine set, problem 17.12).

    >>> round(power_of(42 * 9.81 * 0.54, 4500 / 60))
    104846
    """
    return 2.0 * pi * speed * torque


def torque_of(power: float, speed: float) -> float:
    """Torque, N m, of a power (W) at a speed (rev/s).

    >>> round(torque_of(180e3, 5500 / 60), 2)
    312.52
    """
    return power / (2.0 * pi * speed)


def mean_pressure(torque: float, displacement: float) -> float:
    """Brake mean effective pressure, Pa: 4 pi T/V_d (four-stroke), displacement m3.

    >>> round(mean_pressure(42 * 9.81 * 0.54, 8 * pi / 4 * 0.09**2 * 0.08) / 1e5, 3)
    6.867
    """
    return 4.0 * pi * torque / displacement


def torque_of_mean_pressure(pressure: float, displacement: float) -> float:
    """Torque, N m, from the brake mean effective pressure (Pa) and the displacement (m3).

    >>> round(torque_of_mean_pressure(925e3, 2.038e-3), 1)
    150.0
    """
    return pressure * displacement / (4.0 * pi)


def work_per_air(mixture: float) -> float:
    """Work per kilogram of air at a mixture (lambda), relative to lambda 1; OutsideModelError beyond 0.70 to 1.05.

    Source: fuel-air cycle computed with Cantera. It hardly depends on mixture: richening from 0.82 to 0.75 costs
    1.5 % more air, not 8.5 % less.

    >>> round(work_per_air(0.82) / work_per_air(0.75), 3)
    1.015
    """
    if not LAMBDA_LOWEST <= mixture <= LAMBDA_HIGHEST:
        raise OutsideModelError(f"lambda {mixture:g} lies outside {LAMBDA_LOWEST} to {LAMBDA_HIGHEST}")
    return linear(_WORK, mixture)


class Flows(NamedTuple):
    """Air and fuel through the engine, kg/s."""

    air: float
    fuel: float


def spark_flows(power: float, specific_air: float, mixture: float, stoichiometric_air: float) -> Flows:
    """Air first, then fuel: air from the specific air consumption (kg/J), fuel from the mixture.

    >>> flows = spark_flows(180e3, 3.85 / KWH, 0.82, 13.986)
    >>> round(1e3 * flows.air, 1), round(1e3 * flows.fuel, 3)
    (192.5, 16.785)
    """
    air = power * specific_air
    return Flows(air, air / (mixture * stoichiometric_air))


def diesel_flows(power: float, specific_fuel: float, mixture: float, stoichiometric_air: float) -> Flows:
    """Fuel first, then air: fuel from the specific fuel consumption (kg/J), air from lambda.

    >>> round(1e3 * diesel_flows(140e3, 0.225 / KWH, 1.28, 14.438).air, 2)
    161.71
    """
    fuel = power * specific_fuel
    return Flows(mixture * stoichiometric_air * fuel, fuel)


def charge_density(air: float, filling: float, displacement: float, speed: float) -> float:
    """Manifold density, kg/m3, that an air flow (kg/s) needs at a volumetric efficiency: m = VE rho V_d n/2.

    >>> round(charge_density(0.1925, 0.90, 1.998e-3, 5500 / 60), 4)
    2.3357
    """
    return 2.0 * air / (filling * displacement * speed)


def filling_needed(air: float, density: float, displacement: float, speed: float) -> float:
    """Volumetric efficiency, on manifold density, that an air flow (kg/s) needs.

    42 kg brake problem 17.12: 6 kg/min of air at 100 kPa and 300 K, R 287.

    >>> round(filling_needed(0.1, 100e3 / (287 * 300), 8 * pi / 4 * 0.09**2 * 0.08, 75.0), 4)
    0.5639
    """
    return 2.0 * air / (density * displacement * speed)


def work_density(filling: float, specific_air: float) -> float:
    """Work per kilogram of manifold charge, J/kg: kappa = VE/s_a, so that bmep = rho kappa.

    >>> round(work_density(0.90, 3.85 / KWH) / 1e6, 3)
    0.842
    """
    return filling / specific_air


def measured_work_density(bmep: float, temperature: float, pressure: float) -> float:
    """Kappa from this car's own full-load point: bmep R T_m/p_m.

    >>> p = mean_pressure(360.0, 2e-3) * R_AIR * 322.0
    >>> round(p / measured_work_density(mean_pressure(300.0, 2e-3), 315.0, 205e3) / 1e3, 2)
    251.47
    """
    return bmep * R_AIR * temperature / pressure


def crank_figure(wheel: float, loss: float) -> float:
    """Torque or power at the crank from the figure at the wheel and the share lost on the way.

    >>> round(crank_figure(132.0, 0.12), 6)
    150.0
    """
    if not 0.0 <= loss < 1.0:
        raise ValueError(f"a loss of {loss} is no share")
    return wheel / (1.0 - loss)


class PeakConflict(NamedTuple):
    """Two peaks that no engine can have: what they imply, as ratios that may not exceed 1."""

    torque_ratio: float
    power_ratio: float

    @property
    def worst(self) -> float:
        """The larger ratio; 1.02 is what rounding explains."""
        return max(self.torque_ratio, self.power_ratio)


def peak_conflict(power: float, power_speed: float, torque: float, torque_speed: float) -> PeakConflict:
    """Compare two peaks: torque at peak power over peak torque, and power at peak torque over peak power.

    >>> round(peak_conflict(150e3, 5000 / 60, 250.0, 2000 / 60).worst, 3)
    1.146
    """
    return PeakConflict(torque_of(power, power_speed) / torque, power_of(torque, torque_speed) / power)
