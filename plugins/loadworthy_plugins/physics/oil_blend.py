"""Fuel in oil: what it does to viscosity, and what a loss of viscosity says about it. Floats in SI.

Sources: ASTM D7152-11(2016), clause 5 (blending of transformed viscosities by volume); its clause 1.3 warns that it
is not meant for oils with polymer: a share of fuel from viscosity is within 30 % at best (judgement).
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

from loadworthy_plugins.physics.viscosity import T40, T100, ViscosityLine, from_transform, line_through, transform

#: What of the fuel stays in a hot sump, viscosities at 40 and 100 degC (m2/s): between m-xylene and n-nonane for petrol
#: (CoolProp); judgement for diesel.
RESIDUE: dict[str, tuple[float, float]] = {"petrol": (0.70e-6, 0.45e-6), "diesel": (2.7e-6, 1.1e-6)}
#: Volume over mass share of fuel in oil, as the oil is denser (judgement).
VOLUME_PER_MASS: dict[str, float] = {"petrol": 1.13, "diesel": 1.03}
#: Quotients of the shares found at 40 and at 100 degC that speak for fuel, and for sheared polymer (computed for two
#: oils).
FUEL_QUOTIENT = (0.8, 1.25)
SHEAR_QUOTIENT = {"petrol": (0.42, 0.63), "diesel": (0.49, 0.73)}


def residue(fuel: str) -> ViscosityLine:
    """Return the viscosity line of what stays of ``petrol`` or ``diesel``."""
    at40, at100 = RESIDUE[fuel]
    return line_through(T40, at40, T100, at100)


def blend(parts: Iterable[tuple[float, float]]) -> float:
    """Return the viscosity of a blend, m2/s, of (volume share, viscosity in m2/s) at one temperature.

    W = sum f_i W_i with W = log10 log10 Z of ASTM D341 (ASTM D7152). Raises ValueError unless the shares sum to 1.
    An engine oil of 10.8 mm2/s with 5 % petrol: 8.00, a 30 grade becomes a 20.

    >>> round(1e6 * blend([(0.95, 10.8e-6), (0.05, 0.45e-6)]), 2)
    8.0
    """
    shares = list(parts)
    if any(share < 0.0 for share, _ in shares) or abs(sum(share for share, _ in shares) - 1.0) > 1e-9:
        raise ValueError("volume shares must not be negative and must sum to 1")
    return from_transform(sum(share * transform(viscosity) for share, viscosity in shares))


def share_from_loss(fresh: float, used: float, fuel: float) -> float:
    """Return the volume share of fuel that explains a loss of viscosity at one temperature, m2/s.

    f = (W_fresh - W_used)/(W_fresh - W_fuel): an upper bound where the oil holds polymer, which shear alone thins.
    Negative where the oil became thicker.

    >>> round(share_from_loss(10.8e-6, 8.0e-6, 0.45e-6), 4)
    0.05
    """
    return (transform(fresh) - transform(used)) / (transform(fresh) - transform(fuel))


def mass_share(volume_share: float, fuel: str) -> float:
    """Return the mass share, as laboratories report it, of a small volume share of ``petrol`` or ``diesel`` in oil."""
    return volume_share / VOLUME_PER_MASS[fuel]


def reason_of_loss(share40: float, share100: float, fuel: str) -> Literal["fuel", "shear", ""]:
    """Return what the shares of fuel found at 40 and at 100 degC say together: fuel, sheared polymer, or nothing.

    Fuel takes more at 40 degC and gives equal shares; shear takes about as much at both and gives fewer at 40.

    >>> (
    ...     reason_of_loss(0.05, 0.05, "petrol"),
    ...     reason_of_loss(0.02, 0.04, "petrol"),
    ...     reason_of_loss(0.0308, 0.04, "petrol"),
    ... )
    ('fuel', 'shear', '')
    """
    if share100 <= 0.0 or share40 <= 0.0:
        return ""
    quotient = share40 / share100
    if FUEL_QUOTIENT[0] <= quotient <= FUEL_QUOTIENT[1]:
        return "fuel"
    low, high = SHEAR_QUOTIENT[fuel]
    return "shear" if low <= quotient <= high else ""
