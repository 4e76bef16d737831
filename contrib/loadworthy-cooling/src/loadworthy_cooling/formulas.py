"""Pure physics in SI: boiling of water and glycol, air pressure over altitude, rise of the coolant with heat."""

from __future__ import annotations

from math import exp, log, sqrt

#: g/mol: water and ethylene glycol.
WATER_MOLAR, GLYCOL_MOLAR = 18.015, 62.068
#: kg/m3 at 20 degC: water and ethylene glycol.
WATER_DENSITY, GLYCOL_DENSITY = 998.2, 1113.5
#: Below the logged load the air-side share of the heat transfer falls with the flow: Nu grows with Re^0.75 (from
#: memory, a mean of published finned tube banks), so the rise falls more slowly than the heat.
FALLING_EXPONENT = 0.75
#: Coolant is searched for between these.
_COLDEST, _HOTTEST = 273.16, 523.15

# IAPWS R7-97(2012), table 34: coefficients of the saturation line (region 4).
_N = (
    0.11670521452767e4,
    -0.72421316703206e6,
    -0.17073846940092e2,
    0.12020824702470e5,
    -0.32325550322333e7,
    0.14915108613530e2,
    -0.48232657361591e4,
    0.40511340542057e6,
    -0.23855557567849,
    0.65017534844798e3,
)


def water_pressure(temperature: float) -> float:
    """Return the saturation pressure of water in Pa at a temperature in K, 273.15 to 647 K.

    IAPWS R7-97(2012), equation 30; its table 35 prints 3.536 589 41 kPa at 300 K and 2.638 897 76 MPa at 500 K.

    >>> f"{water_pressure(300.0):.8e} {water_pressure(500.0):.8e} {water_pressure(600.0):.8e}"
    '3.53658941e+03 2.63889776e+06 1.23443146e+07'
    """
    n1, n2, n3, n4, n5, n6, n7, n8, n9, n10 = _N
    t = temperature + n9 / (temperature - n10)
    a = t * t + n1 * t + n2
    b = n3 * t * t + n4 * t + n5
    c = n6 * t * t + n7 * t + n8
    return float((2.0 * c / (sqrt(b * b - 4.0 * a * c) - b)) ** 4 * 1e6)


def glycol_pressure(temperature: float) -> float:
    """Return the vapour pressure of ethylene glycol in Pa at a temperature in K, 260 to 720 K.

    Perry's Chemical Engineers' Handbook, 8th edition, table 2-8. It boils at 197.3 degC at 101.325 kPa (CRC Handbook,
    from memory); the equation gives 0.7 % more there.

    >>> round(glycol_pressure(197.3 + 273.15) / 1e3, 1)
    102.0
    """
    return exp(84.09 - 10411.0 / temperature - 8.1976 * log(temperature) + 1.6536e-18 * temperature**6)


def glycol_moles(share: float) -> float:
    """Return the mole fraction of ethylene glycol from its share by volume, both at 20 degC.

    Half by volume: 8.970 kmol of glycol to 27.705 kmol of water in 1 m3 (computed by hand).

    >>> round(glycol_moles(0.5), 4)
    0.2446
    """
    glycol = GLYCOL_DENSITY * share / GLYCOL_MOLAR
    water = WATER_DENSITY * (1.0 - share) / WATER_MOLAR
    return glycol / (glycol + water)


def boiling_point(pressure: float, share: float = 0.0) -> float:
    """Return the temperature in K at which a coolant boils at an absolute pressure in Pa.

    Ideal mixture (Raoult): x_w p_w(T) + x_g p_g(T) = p, with ``share`` of ethylene glycol by volume. Public coolant
    tables print 107.8 degC for half and half at 101.325 kPa; activity models give less, 103 to 106 degC. Raises
    ValueError for a pressure outside 10 kPa to 1 MPa or a share outside 0 to 0.7.

    >>> round(boiling_point(101_325.0) - 273.15, 1), round(boiling_point(101_325.0, 0.5) - 273.15, 1)
    (100.0, 107.8)
    """
    if not 1e4 <= pressure <= 1e6:
        raise ValueError(f"no boiling point at {pressure} Pa")
    if not 0.0 <= share <= 0.7:
        raise ValueError(f"no coolant has a glycol share of {share}")
    glycol = glycol_moles(share)
    low, high = _COLDEST, _HOTTEST
    while high - low > 1e-6:
        middle = 0.5 * (low + high)
        if (1.0 - glycol) * water_pressure(middle) + glycol * glycol_pressure(middle) < pressure:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def air_pressure(altitude: float) -> float:
    """Return the standard pressure in Pa at an altitude in m, up to 11 km.

    ISO 2533:1975: p = 101 325 (1 - 2.25577e-5 h)^5.25588; the table prints 845.6 hPa at 1 500 m.

    >>> round(air_pressure(1500.0) / 1e2, 1)
    845.6
    """
    return float(101_325.0 * (1.0 - 2.25577e-5 * altitude) ** 5.25588)


def rise_factor(ratio: float) -> float:
    """Return how the rise over ambient grows with the heat to be carried away.

    In proportion above the logged load: heat = UA x rise with the same air and coolant flow (Incropera and DeWitt,
    heat exchangers, effectiveness at constant flow). Below it with the power 0.75. Of both laws the hotter one is used.

    >>> rise_factor(160 / 120), round(rise_factor(0.5), 3)
    (1.3333333333333333, 0.595)
    """
    return ratio if ratio >= 1.0 else float(ratio**FALLING_EXPONENT)


def settled_temperature(ambient: float, rise: float, ratio: float) -> float:
    """Return the temperature in K at which coolant settles: ambient + rise x factor of the heat ratio.

    98 degC at 120 kW and 20 degC; 160 kW at 35 degC settle at 139 degC (computed by hand).

    >>> round(settled_temperature(308.15, 78.0, 160 / 120) - 273.15, 1)
    139.0
    """
    return ambient + rise * rise_factor(ratio)


def sustained_load(load: float, rise: float, headroom: float) -> float:
    """Return the load that settles just ``headroom`` K above the ambient; the inverse of `settled_temperature`.

    The run of above with a limit of 115 degC on a day of 35 degC (computed by hand):

    >>> round(sustained_load(120e3, 78.0, 80.0) / 1e3, 1), sustained_load(120e3, 78.0, -5.0)
    (123.1, 0.0)
    """
    share = max(0.0, headroom) / rise
    return load * (share if share >= 1.0 else float(share ** (1.0 / FALLING_EXPONENT)))
