"""Air, fuel, gearing and ignition in plain formulas: pure functions, SI (speeds in rev/s), doctests from given figures.

Names of injector data follow SAE J1832: static flow, dead time (its time offset). Petrol blends are those of
``physics.fuels``.
"""

from __future__ import annotations

from math import isfinite, pi, pow, sqrt
from typing import TYPE_CHECKING, Final

from loadworthy.sdk import NamedTuple
from loadworthy_plugins.physics.fuels import fuelling_factors, petrol_blend

if TYPE_CHECKING:
    from collections.abc import Sequence

#: Gas constant of dry air, J/(kg K).
R_AIR: Final = 287.05
#: Mean pressure in the cylinder against which a direct injector sprays, Pa (judgement).
CYLINDER_PRESSURE: Final = 1e6
#: Polytropic exponent from the ratio of compression ratios to that of absolute cranking pressures (judgement).
CRANKING_EXPONENT: Final = 1.25


# Injectors ------------------------------------------------------------------------------------------------------------


def volume_flow(mass_flow: float, density: float) -> float:
    """Volume flow, m3/s, of a mass flow (kg/s) of a fluid: the trade's 10.5 cc/min per lb/h holds at 720 kg/m3 alone.

    One pound an hour at 745, 720 and 684 kg/m3 (petrol, the trade's constant, n-heptane) in cm3/min, by definition:

    >>> [round(volume_flow(0.45359237 / 3600, rho) * 60e6, 2) for rho in (745.0, 720.0, 684.0)]
    [10.15, 10.5, 11.05]
    """
    return mass_flow / density


def flow_at(
    flow: float,
    pressure_from: float,
    pressure_to: float,
    density_from: float = 1.0,
    density_to: float = 1.0,
) -> float:
    """Mass flow of an orifice at another differential pressure and density: q sqrt(dp2/dp1) sqrt(rho2/rho1).

    Square-root law of an orifice; for volume flows leave the densities out. 440 cm3/min at 300 kPa is 508.1 at 400 kPa;
    an injector rated in n-heptane passes 4.4 % more mass of a petrol of 745 kg/m3.

    >>> round(flow_at(440.0, 300e3, 400e3), 1), round(flow_at(1.0, 3e5, 3e5, 684.0, 745.0), 3)
    (508.1, 1.044)
    """
    return flow * sqrt(pressure_to / pressure_from) * sqrt(density_to / density_from)


def port_differential(rail: float, manifold: float, ambient: float) -> float:
    """Differential pressure over a port injector, Pa: rail gauge less manifold gauge. Both pressures are absolute.

    >>> port_differential(300e3, 40e3, 100e3), port_differential(400e3, 250e3, 100e3)
    (360000.0, 250000.0)
    """
    return rail - (manifold - ambient)


def fuel_injected(flow: float, open_time: float, speed: float, cylinders: int) -> float:
    """Fuel flow, kg/s, of one injection per cylinder and cycle of four strokes: q t n_cyl N/2.

    6.875 g/s, 16.21 ms effective at 6 000 rpm, four cylinders:

    >>> round(fuel_injected(6.875e-3, 16.21e-3, 100.0, 4) * 1e3, 2)
    22.29
    """
    return flow * open_time * cylinders * speed / 2.0


def typical_dead_time(voltage: float, pressure: float) -> float:
    """Dead time of a port injector, s, where its maker's figure is not known: for plausibility only (judgement).

    1.0 ms at 14 V and 300 kPa; 0.15 ms per volt lost down to 12 V, 0.3 ms below; 0.05 ms per 50 kPa.

    >>> [round(typical_dead_time(v, p) * 1e3, 3) for v, p in ((14.0, 300e3), (12.0, 300e3), (11.0, 350e3))]
    [1.0, 1.3, 1.65]
    """
    lost = 0.15e-3 * (14.0 - max(12.0, voltage)) + 0.3e-3 * max(0.0, 12.0 - voltage)
    return max(0.0, 1e-3 + lost + 0.05e-3 * (pressure - 300e3) / 50e3)


# One cause for a uniform trim -----------------------------------------------------------------------------------------


class SingleCause(NamedTuple):
    """What each candidate alone would have to be, as actual over configured; ethanol as a volume fraction.

    ``meter`` is what the air meter reads over the true flow. ``ethanol`` is None where no blend explains the trim.
    """

    injector: float
    pressure: float
    meter: float
    ethanol: float | None


def single_cause(trim: float, configured_ethanol: float | None = None) -> SingleCause:
    """Return what would explain a uniform ``trim`` alone: with s = 1 + trim, flow 1/s, pressure 1/s^2, meter 1/s.

    Ethanol is the share at which the fuel needs s times the open time of the fuel that the calibration expects (None:
    a fuel that is no petrol blend). Raises ValueError for a trim of -1 or below. +18 % on E5, -24 %:

    >>> found = single_cause(0.18, 0.05)
    >>> round(found.injector, 3), round(found.pressure, 3), round(found.meter, 3), round(found.ethanol, 3)
    (0.847, 0.718, 0.847, 0.457)
    >>> round(single_cause(-0.24).injector, 3)
    1.316
    """
    s = 1.0 + trim
    if not (isfinite(s) and s > 0.0):
        raise ValueError(f"a trim lies above -1, not at {trim}")
    ethanol = None if configured_ethanol is None else ethanol_of_trim(s, configured_ethanol)
    return SingleCause(1.0 / s, 1.0 / s**2, 1.0 / s, ethanol)


def open_time_factor(ethanol: float, configured: float) -> float:
    """Injector open time that a blend needs, over that of the configured blend (volume fractions of ethanol).

    >>> round(open_time_factor(0.85, 0.0), 3)
    1.448
    """
    actual, expected = petrol_blend(ethanol), petrol_blend(configured)
    return fuelling_factors(
        actual.stoichiometric_air, actual.density, expected.stoichiometric_air, expected.density
    ).open_time


def ethanol_of_trim(s: float, configured: float) -> float | None:
    """Return the ethanol fraction whose open-time factor is ``s``, by bisection; None outside 0 to 1.

    >>> round(ethanol_of_trim(1.08, 0.05), 3), ethanol_of_trim(0.9, 0.05)
    (0.246, None)
    """
    low, high = 0.0, 1.0
    if not open_time_factor(low, configured) <= s <= open_time_factor(high, configured):
        return None
    for _ in range(60):
        middle = 0.5 * (low + high)
        if open_time_factor(middle, configured) < s:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def air_fuel_balance(air: float, mixture: float, stoichiometric_air: float, fuel: float) -> float:
    """Cross-balance: metered air over the air that the injected fuel takes at the measured lambda; 1 where all fit.

    Larger injectors than stated: control shortens the pulse, the fuel computed from it is too little, above 1.

    >>> round(air_fuel_balance(0.265, 0.85, 13.987, 22.29e-3), 3)
    1.0
    """
    return air / (mixture * stoichiometric_air * fuel)


# Air ------------------------------------------------------------------------------------------------------------------


def sensor_ratio(ambient: float, reading: float) -> float:
    """Ratio of station pressure to a pressure sensor's reading with the engine at rest, both absolute.

    A sensor of 300 kPa read with the slope of one of 200 kPa shows 66.7 at 100 kPa; a log peak of 146.7 is then 220:

    >>> k = sensor_ratio(100.0, 66.7)
    >>> round(k, 2), round(k * 146.7)
    (1.5, 220)
    """
    return ambient / reading


def volumetric_efficiency(air: float, pressure: float, temperature: float, displacement: float, speed: float) -> float:
    """Volumetric efficiency of a four-stroke engine on manifold density: m/(rho V N/2), ideal gas.

    265 g/s at 6 000 rpm, 230 kPa, 320 K, with 1.984 and 1.798 litres:

    >>> [round(volumetric_efficiency(0.265, 230e3, 320.0, v * 1e-3, 100.0), 3) for v in (1.984, 1.798)]
    [1.067, 1.177]
    """
    return air / (pressure / (R_AIR * temperature) * displacement * speed / 2.0)


class Shape(NamedTuple):
    """A row of ratios over flow: the middle of them, how far the ends of the range lie apart, and last less first."""

    mean: float
    spread: float
    trend: float


def shape_of(points: Sequence[tuple[float, float]]) -> Shape:
    """Return the shape of (flow, ratio) pairs, in any order. Raises ValueError without any.

    Spread is relative to the mean: a constant factor has none. Trend is the ratio at the highest flow over that at the
    lowest, less 1: a falling tail is negative.

    >>> shape_of([(1.0, 1.25), (3.0, 1.25)])
    Shape(mean=1.25, spread=0.0, trend=0.0)
    >>> round(shape_of([(3.0, 0.8), (1.0, 1.0), (2.0, 0.9)]).trend, 3)
    -0.2
    """
    if not points:
        raise ValueError("a shape needs a point")
    ratios = [ratio for _, ratio in sorted(points)]
    mean = sum(ratios) / len(ratios)
    return Shape(mean, (max(ratios) - min(ratios)) / abs(mean), ratios[-1] / ratios[0] - 1.0)


# Gearing, compression, ignition ---------------------------------------------------------------------------------------


def road_speed(speed: float, circumference: float, gear_ratio: float, final_drive: float) -> float:
    """Road speed, m/s, at an engine speed (rev/s) in a locked gear.

    3 000 rpm, 0.82 x 3.45, 1.95 m, in km/h:

    >>> round(road_speed(50.0, 1.95, 0.82, 3.45) * 3.6, 1)
    124.1
    """
    return speed * circumference / (gear_ratio * final_drive)


def ratio_after_gasket(bore: float, stroke: float, compression_ratio: float, thicker: float) -> float:
    """Compression ratio after the head gasket became ``thicker`` (m; negative: thinner, or the head machined).

    Vc = Vd/(CR - 1); CR2 = 1 + Vd/(Vc + A t). Raises ValueError where no chamber would be left. 82.5 x 84.2 mm, 9.5:

    >>> [round(ratio_after_gasket(82.5e-3, 84.2e-3, 9.5, t), 2) for t in (0.5e-3, -0.3e-3)]
    [9.09, 9.77]
    """
    area = pi / 4.0 * bore**2
    swept = area * stroke
    chamber = swept / (compression_ratio - 1.0) + area * thicker
    if chamber <= 0.0:
        raise ValueError("no chamber would be left")
    return 1.0 + swept / chamber


def cranking_pressure_ratio(new_ratio: float, old_ratio: float, exponent: float = CRANKING_EXPONENT) -> float:
    """Absolute cranking pressure with the new compression ratio over that with the old one, at equal valve timing.

    >>> round(cranking_pressure_ratio(9.77, 9.5), 3)
    1.036
    """
    return pow(new_ratio / old_ratio, exponent)


def breakdown_voltage(pressure: float, temperature: float, gap: float) -> float:
    """Breakdown voltage at a spark gap, V: 4.3 + 136 p/T + 324 (p/T) d in kV, bar, K and mm.

    SAE 2000-01-0245, from memory: for comparisons only. What 29 % more pressure costs with 0.8 mm (computed here):

    >>> low, high = breakdown_voltage(1e6, 600.0, 8e-4), breakdown_voltage(3e6, 700.0, 8e-4)
    >>> round(breakdown_voltage(1.29e6, 600.0, 8e-4) / low, 3), round(breakdown_voltage(3.87e6, 700.0, 8e-4) / high, 3)
    (1.175, 1.231)
    """
    density = pressure / 1e5 / temperature
    return 1e3 * (4.3 + 136.0 * density + 324.0 * density * gap * 1e3)


# Belief ---------------------------------------------------------------------------------------------------------------


def posterior(prior: float, ratio: float) -> float:
    """Probability after evidence of one likelihood ratio: odds are multiplied by it.

    >>> round(posterior(0.05, 60.0), 2)
    0.76
    """
    odds = prior / (1.0 - prior) * ratio
    return odds / (1.0 + odds)
