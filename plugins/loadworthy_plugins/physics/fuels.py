"""Fuels: air need, heating value, density, and petrol-ethanol blends from the ethanol share.

One convention for air: 138.28 kg of dry air per kmol O2 (28.965/0.20946). The 3.76-nitrogen air gives 0.7 % less.
Blend constants: DOE Alternative Fuels Data Center (molar mass and heating value of petrol), NREL (latent heat of
petrol), CoolProp (ethanol density and latent heat), `chemicals` (ethanol heating value).
"""

from __future__ import annotations

from typing import Final, Literal

from loadworthy.sdk import NamedTuple

#: kg of dry air per kmol of oxygen.
AIR_PER_OXYGEN: Final = 138.28
_CARBON: Final = 12.011
_HYDROGEN: Final = 1.008
_OXYGEN: Final = 15.999

_PETROL_DENSITY: Final = 745.0
_PETROL_MOLAR_MASS: Final = 100.0
_PETROL_HYDROGEN_CARBON: Final = 1.85
_PETROL_LHV: Final = 43.40e6
_PETROL_LATENT: Final = 350e3
_ETHANOL_DENSITY: Final = 793.7
_ETHANOL_MOLAR_MASS: Final = 46.07
_ETHANOL_LHV: Final = 26.82e6
_ETHANOL_LATENT: Final = 921e3
_ETHANOL_OXYGEN: Final = 0.3473

Kind = Literal["petrol", "diesel", "gas", "alcohol"]


def stoichiometric_air(hydrogen_carbon: float, oxygen_carbon: float = 0.0) -> float:
    """Kilograms of dry air that burn one kilogram of a fuel CH_x O_y completely.

    (1 + x/4 - y/2) 138.28 / (12.011 + 1.008 x + 15.999 y); same value from Cantera within 0.001.

    >>> round(stoichiometric_air(1.85), 3), round(stoichiometric_air(4.0), 3)
    (14.575, 17.239)
    """
    mass = _CARBON + _HYDROGEN * hydrogen_carbon + _OXYGEN * oxygen_carbon
    return (1.0 + hydrogen_carbon / 4.0 - oxygen_carbon / 2.0) * AIR_PER_OXYGEN / mass


class PetrolBlend(NamedTuple):
    """Petrol with ethanol at 15 degC: shares of ethanol by mass and by mole, density (kg/m3), lower heating
    value and latent heat (J/kg), oxygen mass share, stoichiometric air (kg/kg).
    """

    ethanol_mass_share: float
    ethanol_mole_share: float
    density: float
    lower_heating_value: float
    latent_heat: float
    oxygen_mass_share: float
    stoichiometric_air: float


def petrol_blend(ethanol_fraction: float) -> PetrolBlend:
    """Properties of a petrol from its ethanol volume fraction (0 to 1 at 15 degC, volumes additive).

    E10 below: Cantera gives 13.987, 3.7 % oxygen with EN 228.

    >>> blend = petrol_blend(0.10)
    >>> round(blend.stoichiometric_air, 2), round(blend.density, 1), round(blend.lower_heating_value / 1e6, 2)
    (13.99, 749.9, 41.65)
    >>> round(blend.ethanol_mole_share, 4), round(100 * blend.oxygen_mass_share, 2)
    (0.2044, 3.68)
    """
    if not 0.0 <= ethanol_fraction <= 1.0:
        raise ValueError(f"ethanol fraction {ethanol_fraction} is not between 0 and 1")
    density = ethanol_fraction * _ETHANOL_DENSITY + (1.0 - ethanol_fraction) * _PETROL_DENSITY
    w = ethanol_fraction * _ETHANOL_DENSITY / density
    ethanol_moles = w / _ETHANOL_MOLAR_MASS
    x = ethanol_moles / (ethanol_moles + (1.0 - w) / _PETROL_MOLAR_MASS)
    # Air need adds by mass: each component needs its own.
    air = w * stoichiometric_air(3.0, 0.5) + (1.0 - w) * stoichiometric_air(_PETROL_HYDROGEN_CARBON)
    return PetrolBlend(
        ethanol_mass_share=w,
        ethanol_mole_share=x,
        density=density,
        lower_heating_value=w * _ETHANOL_LHV + (1.0 - w) * _PETROL_LHV,
        latent_heat=w * _ETHANOL_LATENT + (1.0 - w) * _PETROL_LATENT,
        oxygen_mass_share=_ETHANOL_OXYGEN * w,
        stoichiometric_air=air,
    )


class FuellingFactors(NamedTuple):
    """Need of a fuel against the one a calibration expects: fuel mass, injector open time, pumped volume."""

    mass: float
    open_time: float
    volume: float


def fuelling_factors(air: float, density: float, expected_air: float, expected_density: float) -> FuellingFactors:
    """Factors from stoichiometric air (kg/kg) and density (kg/m3) of the actual and the expected fuel.

    Orifice mass flow goes with sqrt(density), so the open time gains what the density gives.

    >>> e0, e85 = petrol_blend(0.0), petrol_blend(0.85)
    >>> k = fuelling_factors(e85.stoichiometric_air, e85.density, e0.stoichiometric_air, e0.density)
    >>> round(k.mass, 3), round(k.open_time, 3), round(k.volume, 3)
    (1.488, 1.448, 1.409)
    """
    mass = expected_air / air
    thinning = expected_density / density
    return FuellingFactors(mass, mass * thinning**0.5, mass * thinning)


def evaporation_cooling(latent_heat: float, air_fuel_ratio: float) -> float:
    """Cooling of the charge, K, if all fuel evaporates in it: (h/AFR)/(1.006 + 1.7/AFR), h in kJ/kg.

    70 % of it is what direct injection gains over port injection (SAE 2012-01-1275: 14 K on petrol).

    >>> round(0.7 * evaporation_cooling(350e3, 14.575), 1)
    15.0
    """
    return latent_heat / 1e3 / air_fuel_ratio / (1.006 + 1.7 / air_fuel_ratio)


class Fuel(NamedTuple):
    """A fuel as sold: kind, reference composition (atoms of H and O per C), stoichiometric air (kg/kg), lower
    heating value (J/kg), density at 15 degC (kg/m3, None for gases), ethanol volume fraction (petrol only).

    The composition is the certification reference fuel's (UN R83 / GTR 15) and serves exhaust-gas lambda; air
    need and heating value of petrol follow from the ethanol fraction.
    """

    kind: Kind
    hydrogen_carbon: float
    oxygen_carbon: float
    stoichiometric_air: float
    lower_heating_value: float
    density: float | None
    ethanol_fraction: float | None = None


def _petrol(ethanol_fraction: float, hydrogen_carbon: float, oxygen_carbon: float) -> Fuel:
    blend = petrol_blend(ethanol_fraction)
    return Fuel(
        "petrol",
        hydrogen_carbon,
        oxygen_carbon,
        blend.stoichiometric_air,
        blend.lower_heating_value,
        blend.density,
        ethanol_fraction,
    )


def _pure(kind: Kind, hydrogen_carbon: float, oxygen_carbon: float, lhv: float, density: float | None) -> Fuel:
    air = stoichiometric_air(hydrogen_carbon, oxygen_carbon)
    return Fuel(kind, hydrogen_carbon, oxygen_carbon, air, lhv, density)


# Heating values outside petrol are from memory, within 1 % of an elementary-analysis formula except CNG.
FUELS: Final[dict[str, Fuel]] = {
    "petrol_e0": _petrol(0.0, 1.85, 0.0),
    "petrol_e5": _petrol(0.05, 1.89, 0.016),
    "petrol_e10": _petrol(0.10, 1.93, 0.033),
    "petrol_e85": _petrol(0.85, 2.74, 0.385),
    "ethanol": _petrol(1.0, 3.0, 0.5)._replace(kind="alcohol"),
    "methanol": _pure("alcohol", 4.0, 1.0, 19.9e6, 796.0),
    "diesel_b0": _pure("diesel", 1.86, 0.0, 43.1e6, 835.0),
    "diesel_b7": _pure("diesel", 1.86, 0.007, 42.7e6, 835.0),
    "lpg": _pure("gas", 2.525, 0.0, 46.0e6, None),
    "cng": _pure("gas", 4.0, 0.0, 50.0e6, None),
}
