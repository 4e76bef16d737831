"""Oil temperature at the planned power, and the power that a temperature allows. K, W."""

from __future__ import annotations

#: Exponents of the rise over power, both ends (judgement).
STEEP, FLAT = 1.0, 0.6


def planned_temperature(
    oil: float, sink: float, sink_planned: float, power: float, power_planned: float
) -> tuple[float, float]:
    """Return (low, high) of the oil temperature at the planned power from one steady run.

    T = T_sink' + (T_oil - T_sink) (P'/P)^n with n = 0.6 and 1: the higher one is n = 1 where the plan asks for more,
    0.6 where it asks for less. Raises ValueError unless the oil is hotter than its sink and powers are positive.

    >>> [round(t - 273.15, 1) for t in planned_temperature(391.15, 365.15, 365.15, 150e3, 200e3)]
    [122.9, 126.7]
    """
    if oil <= sink:
        raise ValueError("the oil must be hotter than what it gives its heat to")
    if power <= 0.0 or power_planned < 0.0:
        raise ValueError("power must be positive")
    both = sorted(sink_planned + (oil - sink) * (power_planned / power) ** n for n in (STEEP, FLAT))
    return both[0], both[1]


def allowed_power(oil: float, sink: float, sink_planned: float, power: float, limit: float) -> float:
    """Return the power at which the oil reaches a limit, W; 0 where even none would do.

    P = P_0 q^(1/n), q = (T_lim - T_sink')/(T_oil - T_sink); n = 1 if q >= 1, 0.6 below: the cautious end of both.

    >>> round(allowed_power(394.15, 361.15, 361.15, 165e3, 393.15) / 1e3, 1)
    156.8
    """
    if oil <= sink:
        raise ValueError("the oil must be hotter than what it gives its heat to")
    q = (limit - sink_planned) / (oil - sink)
    if q <= 0.0:
        return 0.0
    return float(power * q ** (1.0 / (STEEP if q >= 1.0 else FLAT)))
