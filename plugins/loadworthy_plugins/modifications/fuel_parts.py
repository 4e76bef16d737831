"""What injectors deliver: flow at other conditions, pulse, duty, size, largest flow. Floats in SI.

Speeds are rev/s of the crankshaft, flows kg/s of one injector, pressures Pa, times s. Four-stroke: one working cycle
in two revolutions. Names of flows and times follow SAE J1832 (a summary was read).
"""

from __future__ import annotations

from math import sqrt
from typing import Final

#: Densities of fluids that injectors are rated with, kg/m3 (n-heptane: 684; petrol as usual; others from memory).
FLUID_DENSITY: Final = {"n_heptane": 684.0, "petrol": 745.0, "diesel": 835.0, "calibration_oil": 825.0}
#: Mean cylinder pressure that a direct injector sprays against, Pa above ambient (judgement).
CYLINDER_PRESSURE: Final = 1e6


def flow_at(flow: float, rated_dp: float, dp: float, rated_density: float, density: float) -> float:
    """Return the mass flow at another pressure difference and density: q sqrt(dp2/dp1) sqrt(rho2/rho1).

    Orifice law; holds for differences, never for the ratio of absolute pressures. No flow against a higher pressure.

    440 cm3/min from 300 to 400 kPa, and 60 lb/h from 43.5 to 58 psi (published examples use this form):
    >>> round(flow_at(440.0, 300e3, 400e3, 1.0, 1.0), 1), round(flow_at(60.0, 43.5, 58.0, 1.0, 1.0), 2)
    (508.1, 69.28)

    Rated in n-heptane, used on petrol:
    >>> round(flow_at(1.0, 3e5, 3e5, 684.0, 745.0), 3)
    1.044
    """
    return flow * sqrt(max(0.0, dp) / rated_dp) * sqrt(density / rated_density)


def port_difference(rail: float, manifold: float, ambient: float, referenced: bool) -> float:
    """Return what a port injector works at: rail gauge less boost; a referenced rail keeps its set pressure.

    >>> port_difference(400e3, 221.3e3, 101.3e3, False), port_difference(300e3, 221.3e3, 101.3e3, True)
    (280000.0, 300000.0)
    """
    return rail if referenced else rail - (manifold - ambient)


def fuel_of_air(air: float, mixture: float, stoichiometric_air: float) -> float:
    """Return the fuel flow of an air flow at a mixture (lambda).

    >>> round(1e3 * fuel_of_air(0.265, 0.85, 13.987), 2)
    22.29
    """
    return air / (mixture * stoichiometric_air)


def cycle_fuel(fuel: float, cylinders: int, speed: float) -> float:
    """Return the fuel of one cylinder and working cycle, kg: m/n_cyl 2/n.

    >>> round(1e6 * cycle_fuel(0.022289, 4, 100.0), 1)
    111.4
    """
    return fuel / cylinders * 2.0 / speed


def pulse(mass: float, flow: float, dead_time: float, events: int = 1) -> float:
    """Return the commanded time per working cycle, s: effective time and one dead time for each event.

    >>> round(1e3 * pulse(111.446e-6, 6.875e-3, 0.9e-3), 2)
    17.11
    """
    return mass / flow + events * dead_time


def duty(pulse: float, speed: float) -> float:
    """Return the share of the time that the injector is commanded open: t n/2.

    >>> round(duty(17.11e-3, 100.0), 3)
    0.856
    """
    return pulse * speed / 2.0


def required_flow(mass: float, speed: float, dead_time: float, duty_max: float, events: int = 1) -> float:
    """Return the flow of an injector that gives a mass per cycle within a duty; infinite where dead time eats it all.

    >>> round(1e3 * required_flow(111.446e-6, 100.0, 0.9e-3, 0.85), 3)
    6.922
    """
    left = duty_max * 2.0 / speed - events * dead_time
    return mass / left if left > 0.0 else float("inf")


def largest_fuel(
    flow: float, cylinders: int, speed: float, dead_time: float, duty_max: float, events: int = 1
) -> float:
    """Return the largest fuel flow of all cylinders within a duty, never below nothing.

    n_cyl (n/2) q (d_max 2/n - t_dead). 4.75 g/s, 4 cylinders, 6 500 rpm, 1 ms, lambda 0.88, E10:
    >>> round(1e3 * 0.88 * 13.987 * largest_fuel(4.75e-3, 4, 6500 / 60, 1e-3, 0.85), 1)
    186.1
    """
    return cylinders * speed / 2.0 * flow * max(0.0, duty_max * 2.0 / speed - events * dead_time)


def window_time(window: float, speed: float) -> float:
    """Return the time that a crank angle (deg) takes: window/(360 n).

    >>> round(1e3 * window_time(250.0, 6500 / 60), 2)
    6.41
    """
    return window / (360.0 * speed)


def largest_fuel_direct(
    flow: float, cylinders: int, speed: float, dead_time: float, window: float, use_max: float
) -> float:
    """Return the largest fuel flow of direct injectors whose pulse takes a share of the window (deg crank).

    >>> round(1e3 * largest_fuel_direct(21.3e-3, 4, 6500 / 60, 0.3e-3, 250.0, 0.90), 1)
    25.2
    """
    return cylinders * speed / 2.0 * flow * max(0.0, use_max * window_time(window, speed) - dead_time)


def placeholder_dead_time(voltage: float, dp: float) -> float:
    """Return a dead time for plausibility only, s; the maker's is the only one to calibrate with.

    1.0 ms at 14 V and 300 kPa, 0.15 ms more for each volt down to 12 V, 0.3 ms below, 0.05 ms for 50 kPa (judgement).

    >>> [round(1e3 * placeholder_dead_time(v, p), 2) for v, p in ((14.0, 3e5), (12.0, 3e5), (11.0, 4e5))]
    [1.0, 1.3, 1.7]
    """
    lost = 14.0 - voltage
    by_voltage = 0.15e-3 * min(lost, 2.0) + 0.30e-3 * max(0.0, lost - 2.0)
    return max(0.2e-3, 1.0e-3 + by_voltage + 0.05e-3 * (dp - 300e3) / 50e3)


def idle_time(
    air: float, mixture: float, stoichiometric_air: float, cylinders: int, speed: float, flow: float
) -> float:
    """Return the effective injection time at idle, s: below the linear range metering is guesswork.

    >>> round(1e3 * idle_time(0.004, 1.0, 14.0, 4, 800 / 60, 6.875e-3), 2)
    1.56
    """
    return cycle_fuel(fuel_of_air(air, mixture, stoichiometric_air), cylinders, speed) / flow
