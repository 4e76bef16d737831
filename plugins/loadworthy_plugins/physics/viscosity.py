"""Viscosity of oils and fuels over temperature, density of oil, viscosity index. Floats in SI.

Sources: ASTM D341-20, section 5 (viscosity over temperature); ASTM D2270 (viscosity index); API MPMS 11.1 / ASTM D1250,
constant for lubricating oils (density, from memory).
"""

from __future__ import annotations

from math import exp, isfinite, log10

from loadworthy.sdk import NamedTuple

#: Temperatures at which oils are specified, K.
T40, T100 = 313.15, 373.15
#: Constant of the thermal expansion of lubricating oils, kg/m3 per K (API MPMS 11.1, from memory).
_EXPANSION = 0.6278
#: Below this viscosity at 100 degC (m2/s) the index is not defined; from here on formulas take the place of the table.
_LEAST, _TABLE_END = 2e-6, 70e-6


class ViscosityLine(NamedTuple):
    """Kinematic viscosity over temperature: log10 log10 Z = A - B log10 T, Z of the viscosity in mm2/s, T in K."""

    a: float
    b: float

    def at(self, temperature: float) -> float:
        """Return the kinematic viscosity, m2/s, at a temperature in K.

        Within 5 % (judgement) from 40 and 100 degC up to 150 degC; hydrocarbons only, between cloud point and boiling.
        Raises ValueError for a temperature that is not positive.

        >>> line = line_through(T40, 63.0e-6, T100, 10.80e-6)
        >>> [round(1e6 * line.at(t + 273.15), 3) for t in (90.0, 120.0, 150.0)]
        [13.481, 7.344, 4.604]
        """
        if not (isfinite(temperature) and temperature > 0.0):
            raise ValueError(f"temperature {temperature} K is not above absolute zero")
        return from_transform(self.a - self.b * log10(temperature))

    def through(self, temperature: float, viscosity: float) -> ViscosityLine:
        """Return the line of equal slope through one point, K and m2/s."""
        return ViscosityLine(transform(viscosity) + self.b * log10(temperature), self.b)


def transform(viscosity: float) -> float:
    """Return W = log10 log10 Z of a kinematic viscosity in m2/s.

    Z = nu + 0.7 + exp(-1.47 - 1.84 nu - 0.51 nu^2), nu in mm2/s (ASTM D341-20, section 5): the exponential matters
    below 2 mm2/s. Raises ValueError for a viscosity that is not positive.
    """
    nu = 1e6 * viscosity
    if not (isfinite(nu) and nu > 0.0):
        raise ValueError(f"kinematic viscosity {viscosity} m2/s is not positive")
    return log10(log10(nu + 0.7 + exp(-1.47 - 1.84 * nu - 0.51 * nu * nu)))


def from_transform(w: float) -> float:
    """Return the kinematic viscosity, m2/s, of W = log10 log10 Z (ASTM D341-20, section 5).

    x = Z - 0.7; nu = x - exp(-0.7487 - 3.295 x + 0.6119 x^2 - 0.3193 x^3), mm2/s.
    """
    x = float(10.0 ** (10.0**w)) - 0.7
    return 1e-6 * (x - exp(-0.7487 - 3.295 * x + 0.6119 * x * x - 0.3193 * x**3))


def line_through(t1: float, nu1: float, t2: float, nu2: float) -> ViscosityLine:
    """Return the line through two points, K and m2/s.

    Raises ValueError unless the viscosity falls with temperature. A worksheet of ASTM D341 gives 8.5 mm2/s at 80
    degC for an oil of 32 and 5.4 mm2/s (40 and 100 degC):

    >>> round(1e6 * line_through(T40, 32e-6, T100, 5.4e-6).at(353.15), 2)
    8.53
    """
    if t1 > t2:
        t1, nu1, t2, nu2 = t2, nu2, t1, nu1
    if t1 == t2 or nu1 <= nu2:
        raise ValueError("viscosity must fall with temperature: check which figure is which")
    w1, w2 = transform(nu1), transform(nu2)
    b = (w1 - w2) / (log10(t2) - log10(t1))
    return ViscosityLine(w1 + b * log10(t1), b)


def density(density15: float, temperature: float) -> float:
    """Return the density of a lubricating oil, kg/m3, from that at 15 degC and a temperature in K.

    rho = rho15 exp(-a dt (1 + 0.8 a dt)), a = 0.6278/rho15, dt = T - 288.15 (API MPMS 11.1, from memory).

    >>> round(density(855.0, 373.15), 1), round(density(855.0, 313.15), 1)
    (800.8, 839.2)
    """
    a, dt = _EXPANSION / density15, temperature - 288.15
    return density15 * exp(-a * dt * (1.0 + 0.8 * a * dt))


def dynamic_viscosity(kinematic: float, density: float) -> float:
    """Return the dynamic viscosity, Pa s, from the kinematic one (m2/s) and the density (kg/m3)."""
    return kinematic * density


def viscosity_index(kv40: float, kv100: float) -> float:
    """Return the viscosity index from the kinematic viscosities at 40 and 100 degC, m2/s (ASTM D2270).

    Raises ValueError below 2 mm2/s at 100 degC, where it is not defined, and above 400, which no oil reaches: a unit is
    wrong then. Worked examples 5.1.4 and 6.1.4 of the standard (92 and 156):

    >>> round(viscosity_index(73.30e-6, 8.86e-6), 2), round(viscosity_index(22.83e-6, 5.05e-6), 1)
    (92.43, 156.4)
    """
    if kv100 < _LEAST:
        raise ValueError("the viscosity index is not defined below 2 mm2/s at 100 degC")
    if kv40 <= kv100:
        raise ValueError("viscosity must fall with temperature: check which figure is which")
    low, high = index_bounds(kv100)
    u, y = 1e6 * kv40, 1e6 * kv100
    index = 100.0 * (low - u) / (low - high) if u >= high else _above_100(u, y, high)
    if index > 400.0:
        raise ValueError(f"a viscosity index of {index:.0f} is no oil's: check the units")
    return index


def _above_100(u: float, y: float, high: float) -> float:
    n = log10(high / u) / log10(y)
    return float((10.0**n - 1.0) / 0.00715 + 100.0)


def index_bounds(kv100: float) -> tuple[float, float]:
    """Return L and H of ASTM D2270, mm2/s: viscosities at 40 degC of oils of index 0 and 100, for one at 100 degC
    (m2/s).

    Table 1, linear between its rows, up to 70 mm2/s; the standard's formulas above.
    """
    y = 1e6 * kv100
    if kv100 >= _TABLE_END:
        return 0.8353 * y * y + 14.67 * y - 216.0, 0.1684 * y * y + 11.85 * y - 97.0
    from bisect import bisect_right

    from loadworthy_plugins.physics.viscosity_index_table import TABLE

    i = min(max(bisect_right(TABLE, (y, float("inf"), 0.0)), 1), len(TABLE) - 1)
    (y0, l0, h0), (y1, l1, h1) = TABLE[i - 1], TABLE[i]
    share = (y - y0) / (y1 - y0)
    return l0 + share * (l1 - l0), h0 + share * (h1 - h0)


def kv40_of_index(kv100: float, index: float) -> float:
    """Return the viscosity at 40 degC, m2/s, of an oil of a viscosity index and one at 100 degC (ASTM D2270 turned
    round).

    >>> round(viscosity_index(kv40_of_index(10.9e-6, 165.0), 10.9e-6), 6)
    165.0
    """
    low, high = index_bounds(kv100)
    if index <= 100.0:
        return 1e-6 * (low - index / 100.0 * (low - high))
    n = log10((index - 100.0) * 0.00715 + 1.0)
    return 1e-6 * high / float((1e6 * kv100) ** n)
