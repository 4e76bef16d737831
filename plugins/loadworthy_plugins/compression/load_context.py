"""What the planned manifold pressure means inside the cylinder, and what a raised compression ratio costs.

First estimates for a fired engine, to compare plan with base; a bolt's reserve against head lift cannot be computed
from them. Pressures Pa absolute unless named gauge.
"""

from __future__ import annotations

from math import exp, pi

from loadworthy.sdk import NamedTuple
from loadworthy_plugins.compression.geometry import READING_EXPONENT

#: Compression exponent of a fired engine (textbooks about 1.30 +- 0.05: from memory).
FIRED_EXPONENT = 1.30
#: Isentropic exponents of unburned petrol charge and of air at these temperatures (from property libraries).
PETROL_CHARGE_GAMMA = 1.33
DIESEL_CHARGE_GAMMA = 1.38
#: Ignition-delay correlation tau ~ p^-1.7 exp(3800/T): Douaud and Eyzat, SAE 780080, 1978 (constants from memory).
DELAY_PRESSURE_POWER = 1.7
DELAY_TEMPERATURE = 3800.0
#: Octane slopes: 5 ON per unit of compression ratio (SAE 960497), 35 ON per unit of ln p (extension, judgement).
OCTANE_PER_RATIO = 5.0
OCTANE_PER_LOG_PRESSURE = 35.0
#: Peak over end-of-compression pressure, low and high (single-zone heat release, 50 % burnt 8 to 28 degrees late).
PETROL_PEAK = (1.5, 2.6)
DIESEL_PEAK = (1.4, 1.6)
CLOSING_TEMPERATURE = 330.0


class EndOfCompression(NamedTuple):
    """State before combustion: pressure Pa absolute, core temperature K, and the range of peak pressure, Pa."""

    pressure: float
    temperature: float
    peak_low: float
    peak_high: float


def end_of_compression(
    manifold: float, ratio: float, *, diesel: bool, closing_temperature: float = CLOSING_TEMPERATURE
) -> EndOfCompression:
    """Return the state at the end of compression from manifold pressure (Pa abs) and effective compression ratio.

    ``p_c = MAP CR_eff^1.30``; core temperature ``T_ivc (p_c/MAP)^((g-1)/g)`` with g of the unburned charge.

    >>> found = end_of_compression(100e3, 8.0, diesel=False)
    >>> round(found.pressure / 1e3), round(found.temperature)
    (1493, 645)
    """
    pressure = manifold * ratio**FIRED_EXPONENT
    gamma = DIESEL_CHARGE_GAMMA if diesel else PETROL_CHARGE_GAMMA
    temperature = closing_temperature * (pressure / manifold) ** ((gamma - 1.0) / gamma)
    low, high = DIESEL_PEAK if diesel else PETROL_PEAK
    return EndOfCompression(pressure, temperature, low * pressure, high * pressure)


def peak_ratio(manifold_ratio: float, ratio_base: float = 1.0, ratio_plan: float = 1.0) -> float:
    """Return planned over present peak pressure (and gas force on the head) at equal timing and mixture.

    ``MAP_plan/MAP_base x (CR_eff,plan/CR_eff,base)^1.3``.

    >>> round(peak_ratio(1.25), 3), round(peak_ratio(1.0, 9.0, 9.9), 3)
    (1.25, 1.132)
    """
    return float(manifold_ratio * (ratio_plan / ratio_base) ** FIRED_EXPONENT)


def head_force(peak: float, diameter: float) -> float:
    """Return the gas force on the head of one cylinder, N: ``p_max pi/4 d^2``, d the gasket's bore (m).

    >>> round(head_force(8.0e6, 0.087))
    47557
    """
    return peak * pi / 4.0 * diameter**2


def estimated_ratio(ratio: float, reading: float, sound: float, ambient: float) -> float:
    """Return the compression ratio that a high reading points to: ``CR ((p_now+p_a)/(p_spec+p_a))^(1/1.25)``.

    ``reading`` and ``sound`` (maker's or own record) are gauge pressures at the same ``ambient`` (Pa).

    >>> round(estimated_ratio(8.795, 1.15 * 1433.3e3, 1433.3e3, 101325.0), 3)
    9.768
    """
    return float(ratio * ((reading + ambient) / (sound + ambient)) ** (1.0 / READING_EXPONENT))


def delay_factor(ratio: float, raised: float, closing_temperature: float = CLOSING_TEMPERATURE) -> float:
    """Return allowed over planned manifold pressure for equal autoignition delay at the end of compression, petrol.

    ``(CR0/CR1)^1.33 exp((3800/1.7)(1/T1 - 1/T0))``, ``T = T_ivc CR^0.33``; never above one.

    >>> round(delay_factor(8.7947, 9.768), 3)
    0.777
    """
    cold = closing_temperature * ratio**0.33
    hot = closing_temperature * raised**0.33
    time = exp(DELAY_TEMPERATURE / DELAY_PRESSURE_POWER * (1.0 / hot - 1.0 / cold))
    return float(min(1.0, (ratio / raised) ** 1.33 * time))


def peak_factor(ratio: float, raised: float) -> float:
    """Return allowed over planned manifold pressure for equal peak pressure, diesel: ``(CR0/CR1)^1.3``, at most one.

    >>> round(peak_factor(16.0, 17.6), 3)
    0.883
    """
    return float(min(1.0, (ratio / raised) ** FIRED_EXPONENT))


class PressurePair(NamedTuple):
    """Allowed over planned manifold pressure: by measured octane slopes, and by the ignition-delay bound."""

    centre: float
    pessimistic: float


def octane_pressure_pair(ratio: float, raised: float, charge_temperature: float) -> PressurePair:
    """Return both estimates of allowed over planned manifold pressure (petrol) for a raised static ratio.

    Centre: 5 ON per unit of ratio at 35 ON per unit of ln p. Bound: equal ignition delay of the end gas at
    ``(T_charge + 25 K)(45 (CR2/CR1)^1.32)^0.2424``, with ``(CR1/CR2)^1.32`` on pressure. Charge temperature in K.
    Neither exceeds one.

    >>> [round(f, 3) for f in octane_pressure_pair(10.0, 11.0, 310.0)]
    [0.867, 0.814]
    """
    centre = exp(-OCTANE_PER_RATIO * (raised - ratio) / OCTANE_PER_LOG_PRESSURE)
    cold = (charge_temperature + 25.0) * 45.0**0.2424
    hot = (charge_temperature + 25.0) * (45.0 * (raised / ratio) ** 1.32) ** 0.2424
    time = exp(DELAY_TEMPERATURE / DELAY_PRESSURE_POWER * (1.0 / hot - 1.0 / cold))
    bound = (ratio / raised) ** 1.32 * time
    return PressurePair(min(1.0, centre), min(1.0, bound))
