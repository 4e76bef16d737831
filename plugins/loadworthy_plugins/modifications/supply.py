"""What the fuel supply delivers: pump at pressure and voltage, line, high-pressure pump. Floats in SI."""

from __future__ import annotations

from itertools import pairwise
from math import log10, pi
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Sequence

#: Exponent of a pump's flow over voltage at equal pressure (one maker's curve, read in a public copy).
VOLTAGE_EXPONENT: Final = 1.13
#: Exponent of the loss of line and filter over flow (a turbulent pipe has 1.73 to 1.78, a filter 1 to 2; judgement).
LOSS_EXPONENT: Final = 1.8
#: Kinematic viscosity of petrol and of diesel, m2/s, and roughness of a drawn tube, m (common practice, no source).
PETROL_VISCOSITY, DIESEL_VISCOSITY, TUBE_ROUGHNESS = 0.6e-6, 3.0e-6, 1.5e-6


def at_voltage(flow: float, voltage: float, loaded: float) -> float:
    """Return a pump's flow at a lower voltage and equal pressure: Q (V2/V1)^1.13; a higher one adds nothing.

    One maker's curve at 310 kPa: 700 lb/h at 12 V and 800 at 13.5 V, 0.875.
    >>> round(at_voltage(1.0, 13.5, 12.0), 4), at_voltage(1.0, 12.0, 13.5)
    (0.8754, 1.0)
    """
    return flow * min(1.0, float((loaded / voltage) ** VOLTAGE_EXPONENT))


def pump_flow(points: Sequence[tuple[float, float]], pressure: float) -> float | None:
    """Return a pump's flow at a pressure from its curve, linear between points; None above the published pressure.

    Below the lowest published pressure the flow there: a curve is never continued.

    >>> curve = ((300e3, 60.0), (400e3, 50.0), (500e3, 35.0))
    >>> pump_flow(curve, 350e3), pump_flow(curve, 100e3), pump_flow(curve, 510e3)
    (55.0, 60.0, None)
    """
    curve = sorted(points)
    if not curve or pressure > curve[-1][0]:
        return None
    if pressure <= curve[0][0]:
        return curve[0][1]
    for (p0, q0), (p1, q1) in pairwise(curve):
        if pressure <= p1:
            return q0 + (q1 - q0) * (pressure - p0) / (p1 - p0)
    return None


def friction_factor(reynolds: float, roughness: float) -> float:
    """Return the Darcy friction factor of a pipe; roughness relative to the bore.

    Laminar 64/Re up to 2 040, else the explicit equation of Haaland (J. Fluids Eng. 105, 1983, from memory), within
    2 % of Colebrook's.

    >>> round(friction_factor(14737.0, 1.5e-3 / 6.0), 4), friction_factor(1000.0, 0.0)
    (0.0282, 0.064)
    """
    if reynolds <= 2040.0:
        return 64.0 / reynolds
    root = -1.8 * log10((roughness / 3.7) ** 1.11 + 6.9 / reynolds)
    return float(1.0 / root**2)


def line_loss(flow: float, bore: float, length: float, density: float, viscosity: float = PETROL_VISCOSITY) -> float:
    """Return the pressure lost in a smooth straight line, Pa: f (L/D) rho v^2/2.

    6 mm, 4 m, 745 kg/m3, 150 and 200 L/h; `fluids.friction_factor` gives 15.3 and 25.4 kPa.
    >>> [round(line_loss(q / 3.6e6, 6e-3, 4.0, 745.0) / 1e3, 1) for q in (150.0, 200.0)]
    [15.2, 25.2]
    """
    if flow <= 0.0:
        return 0.0
    speed = flow / (pi / 4.0 * bore**2)
    factor = friction_factor(speed * bore / viscosity, TUBE_ROUGHNESS / bore)
    return factor * length / bore * density * speed**2 / 2.0


def scaled_loss(loss: float, measured_flow: float, flow: float) -> float:
    """Return a measured loss of line and filter at another flow: (Q2/Q1)^1.8.

    >>> round(scaled_loss(20e3, 100.0, 150.0) / 1e3, 1)
    41.5
    """
    return float(loss * (max(0.0, flow) / measured_flow) ** LOSS_EXPONENT)


def pump_delivery(bore: float, stroke: float, lobes: int, speed: float, efficiency: float) -> float:
    """Return what a camshaft-driven high-pressure pump delivers, m3/s: eta pi/4 d^2 h n_lobe n/2, n rev/s of the crank.

    8 mm, 3.5 mm, 3 lobes at 6 000 rpm and 0.85: 80.8 L/h.
    >>> round(3.6e6 * pump_delivery(8e-3, 3.5e-3, 3, 100.0, 0.85), 1)
    80.8
    """
    return efficiency * pi / 4.0 * bore**2 * stroke * lobes * speed / 2.0


def pump_efficiency(speed: float, top: float) -> float:
    """Return the volumetric efficiency of a high-pressure pump: 0.85 up to half the top speed, 0.775 at it (judgement).

    >>> [round(pump_efficiency(n, 100.0), 4) for n in (30.0, 50.0, 75.0, 100.0)]
    [0.85, 0.85, 0.8125, 0.775]
    """
    share = min(1.0, max(0.0, (speed / top - 0.5) / 0.5)) if top > 0.0 else 1.0
    return 0.85 - 0.075 * share
