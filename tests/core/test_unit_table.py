"""The unit table: every factor against published ones, every spelling with one meaning."""

from __future__ import annotations

import math

import pytest
from scipy import constants as sc

from loadworthy.unit_table import AMBIGUOUS, KINDS, TABLES
from loadworthy.units import display_unit, from_unit, parse, si_unit, to_unit, units_of

TABLE_UNITS = [(table, unit) for table, held in TABLES.items() for unit in held]

LB, OZ, IN, FT, MI, G0, H, MIN = sc.lb, sc.oz, sc.inch, sc.foot, sc.mile, sc.g, sc.hour, sc.minute
GAL, IMP_GAL, BTU, LBF, PSI = sc.gallon, sc.gallon_imp, sc.Btu, sc.lbf, sc.psi
PS, HP = 75 * sc.kgf, sc.hp
YEAR = sc.Julian_year

#: One unit in SI, put together from scipy.constants and SI prefixes; every unit of the table.
EXPECTED = {
    "pressure": {
        "Pa": 1, "hPa": sc.hecto, "kPa": sc.kilo, "MPa": sc.mega, "mbar": sc.milli * sc.bar, "bar": sc.bar,
        "psi": PSI,
        "kgf/cm2": sc.kgf / sc.centi**2, "atm": sc.atm, "mmHg": 13595.1 * G0 * sc.milli,
        "inHg": 13595.1 * G0 * IN,
        "mmH2O": 1000 * G0 * sc.milli, "inH2O": 1000 * G0 * IN,
    },
    "temperature": {"K": 1, "degC": 1, "degF": sc.degree_Fahrenheit, "degR": sc.degree_Fahrenheit},
    "length": {
        "m": 1, "cm": sc.centi, "mm": sc.milli, "um": sc.micron, "km": sc.kilo, "in": IN, "ft": FT,
        "thou": sc.mil, "mi": MI,
    },
    "area": {"m2": 1, "cm2": sc.centi**2, "mm2": sc.milli**2, "in2": IN**2, "ft2": FT**2},
    "volume": {
        "m3": 1, "L": sc.liter, "cL": sc.centi * sc.liter, "mL": sc.centi**3, "mm3": sc.milli**3,
        "in3": IN**3, "ft3": FT**3,
        "US gal": GAL, "imp gal": IMP_GAL, "US qt": GAL / 4, "imp qt": IMP_GAL / 4, "US pt": GAL / 8,
        "imp pt": IMP_GAL / 8,
        "US fl oz": sc.fluid_ounce, "imp fl oz": sc.fluid_ounce_imp,
    },
    "mass": {
        "kg": 1, "g": sc.gram, "mg": sc.milli * sc.gram, "t": sc.metric_ton, "lb": LB, "oz": OZ,
        "short ton": sc.short_ton,
        "long ton": sc.long_ton,
    },
    "time": {
        "s": 1, "ms": sc.milli, "us": sc.micro, "min": MIN, "h": H, "d": sc.day, "week": sc.week,
        "month": YEAR / 12, "year": YEAR,
    },
    "speed": {"m/s": 1, "km/h": sc.kmh, "mph": sc.mph, "ft/s": FT},
    "rotation": {"rev/s": 1, "rpm": 1 / MIN, "rad/s": 1 / (2 * sc.pi), "deg/s": 1 / 360},
    "rotation_change": {"rev/s2": 1, "rpm/s": 1 / MIN},
    "frequency": {"Hz": 1, "kHz": sc.kilo},
    "angle": {"deg": 1, "rad": 1 / sc.degree, "arcmin": sc.arcmin / sc.degree},
    "torque": {
        "N m": 1, "N cm": sc.centi, "daN m": sc.deka, "kN m": sc.kilo, "lb ft": LBF * FT, "lb in": LBF * IN,
        "kgf m": sc.kgf,
        "kgf cm": sc.kgf * sc.centi,
    },
    "power": {"W": 1, "kW": sc.kilo, "MW": sc.mega, "PS": PS, "mech hp": HP, "hp?": (PS + HP) / 2},
    "energy": {"J": 1, "kJ": sc.kilo, "MJ": sc.mega, "Wh": H, "kWh": sc.kilo * H, "Btu": BTU},
    "force": {"N": 1, "daN": sc.deka, "kN": sc.kilo, "lbf": LBF, "kgf": sc.kgf},
    "stiffness": {"N/m": 1, "N/mm": sc.kilo, "lbf/in": LBF / IN, "kgf/mm": sc.kgf / sc.milli},
    "inertia": {"kg m2": 1, "kg cm2": sc.centi**2, "lb ft2": LB * FT**2},
    "flow_mass": {
        "kg/s": 1, "g/s": sc.gram, "mg/s": sc.milli * sc.gram, "kg/min": 1 / MIN, "g/min": sc.gram / MIN,
        "kg/h": 1 / H,
        "g/h": sc.gram / H, "lb/s": LB, "lb/min": LB / MIN, "lb/h": LB / H,
    },
    "flow_volume": {
        "m3/s": 1, "L/s": sc.liter, "L/min": sc.liter / MIN, "L/h": sc.liter / H, "mL/s": sc.centi**3,
        "mL/min": sc.centi**3 / MIN,
        "mm3/s": sc.milli**3, "m3/min": 1 / MIN, "m3/h": 1 / H, "ft3/min": FT**3 / MIN, "ft3/h": FT**3 / H,
        "US gal/min": GAL / MIN, "US gal/h": GAL / H, "imp gal/min": IMP_GAL / MIN, "imp gal/h": IMP_GAL / H,
    },
    "flow_normal": {"m3/s normal": 1, "NL/min": sc.liter / MIN, "NL/h": sc.liter / H, "Nm3/h": 1 / H},
    "flow_anr": {"m3/s ANR": 1, "L/min ANR": sc.liter / MIN, "L/s ANR": sc.liter, "m3/h ANR": 1 / H},
    "density": {
        "kg/m3": 1, "g/cm3": sc.gram / sc.centi**3, "mg/L": sc.milli * sc.gram / sc.liter, "mg/m3": sc.micro,
        "mg/100 mL": sc.milli * sc.gram / (100 * sc.centi**3), "lb/ft3": LB / FT**3, "lb/US gal": LB / GAL,
    },
    "viscosity_dynamic": {"Pa s": 1, "mPa s": sc.milli},
    "viscosity_kinematic": {"m2/s": 1, "mm2/s": sc.milli**2},
    "specific_energy": {
        "J/kg": 1, "kJ/kg": sc.kilo, "MJ/kg": sc.mega, "kWh/kg": sc.kilo * H, "Btu/lb": BTU / LB,
    },
    "consumption_energy": {
        "kg/J": 1, "kg/kWh": 1 / (sc.kilo * H), "g/kWh": sc.gram / (sc.kilo * H), "g/MJ": sc.gram / sc.mega,
        "g/(PS h)": sc.gram / (PS * H), "lb/(PS h)": LB / (PS * H), "lb/(mech hp h)": LB / (HP * H),
    },
    "consumption_distance": {
        "m3/m": 1, "L/100 km": sc.liter / 1e5, "L/1000 km": sc.liter / 1e6, "mL/1000 km": sc.centi**3 / 1e6,
        "US qt/1000 mi": GAL / 4 / (1000 * MI), "imp pt/1000 mi": IMP_GAL / 8 / (1000 * MI),
        "US gal/100 mi": GAL / (100 * MI),
        "imp gal/100 mi": IMP_GAL / (100 * MI),
    },
    "mass_distance": {
        "kg/m": 1, "g/km": sc.gram / sc.kilo, "mg/km": sc.milli * sc.gram / sc.kilo, "g/mi": sc.gram / MI,
        "mg/mi": sc.milli * sc.gram / MI,
    },
    "acceleration": {"m/s2": 1, "ft/s2": FT, "gn": G0},
    "voltage": {"V": 1, "mV": sc.milli, "kV": sc.kilo},
    "current": {"A": 1, "mA": sc.milli},
    "resistance": {"ohm": 1, "mohm": sc.milli, "kohm": sc.kilo, "Mohm": sc.mega},
    "capacitance": {"F": 1, "uF": sc.micro, "nF": sc.nano, "pF": sc.pico},
    "inductance": {"H": 1, "mH": sc.milli, "uH": sc.micro},
    "charge": {"C": 1, "A h": H, "mA h": sc.milli * H},
    "data_size": {
        "B": 1, "kB": sc.kilo, "MB": sc.mega, "KiB": sc.kibi, "MiB": sc.mebi, "kbit": sc.kilo / 8,
        "Mbit": sc.mega / 8,
    },
    "data_rate": {
        "B/s": 1, "kB/s": sc.kilo, "MB/s": sc.mega, "KiB/s": sc.kibi, "bit/s": 1 / 8, "kbit/s": sc.kilo / 8,
        "Mbit/s": sc.mega / 8,
    },
    "ratio": {"1": 1, "%": sc.centi},
    "share_volume": {"m3/m3": 1, "%": sc.centi, "ppm": sc.micro},
    "share_mass": {"kg/kg": 1, "%": sc.centi, "mg/kg": sc.micro, "g/kg": sc.milli},
    "share_mole": {"mol/mol": 1, "%": sc.centi, "ppm": sc.micro},
    "share_mass_distance": {"1/m": 1, "mg/kg/1000 km": sc.micro / 1e6},
    "acid_number": {"kg/kg": 1, "mgKOH/g": sc.milli},
    "absorption": {"1/m": 1},
    "count_density": {"1/m3": 1, "1/cm3": 1 / sc.centi**3},
    "areal_density": {"1/m2": 1, "1/cm2": 1 / sc.centi**2, "1/in2": 1 / IN**2},
    "pressure_rotation": {
        "Pa/(rev/s)": 1, "kPa/1000 rpm": sc.kilo * MIN / 1000, "bar/1000 rpm": sc.bar * MIN / 1000,
        "psi/1000 rpm": PSI * MIN / 1000,
    },
    "friction_gradient": {"s/m": 1},
}  # fmt: skip


@pytest.mark.parametrize(("table", "unit"), TABLE_UNITS)
def test_factor_agrees_with_scipy_constants(table, unit):
    assert TABLES[table][unit][0] == pytest.approx(EXPECTED[table][unit], rel=4e-14)


# NIST SP 811 (2008), appendix B.8, figures as printed there (seven digits; exact ones shorter), from memory.
@pytest.mark.parametrize(
    ("kind", "unit", "printed"),
    [
        ("pressure_gauge", "psi", 6.894757e3),
        ("pressure_gauge", "kgf/cm2", 9.80665e4),
        ("pressure_gauge", "inHg", 3.386389e3),
        ("pressure_gauge", "mmHg", 1.333224e2),
        ("pressure_gauge", "inH2O", 2.490889e2),
        ("pressure_gauge", "mmH2O", 9.80665),
        ("torque", "lb ft", 1.355818),
        ("torque", "lb in", 1.129848e-1),
        ("power", "PS", 7.354988e2),
        ("power", "mech hp", 7.456999e2),
        ("energy", "Btu", 1.055056e3),
        ("force", "lbf", 4.448222),
        ("stiffness", "lbf/in", 1.751268e2),
        ("inertia", "lb ft2", 4.214011e-2),
        ("volume", "US gal", 3.785412e-3),
        ("volume", "imp gal", 4.54609e-3),
        ("volume", "US qt", 9.463529e-4),
        ("volume", "US pt", 4.731765e-4),
        ("volume", "US fl oz", 2.957353e-5),
        ("volume", "imp fl oz", 2.841306e-5),
        ("volume", "in3", 1.638706e-5),
        ("volume", "ft3", 2.831685e-2),
        ("mass", "oz", 2.834952e-2),
        ("mass", "short ton", 9.071847e2),
        ("mass", "long ton", 1.016047e3),
        ("speed", "mph", 4.4704e-1),
        ("flow_mass", "lb/h", 1.259979e-4),
        ("flow_mass", "lb/min", 7.559873e-3),
        ("flow_volume", "ft3/min", 4.719474e-4),
        ("flow_volume", "US gal/min", 6.309020e-5),
        ("density", "lb/ft3", 1.601846e1),
        ("density", "lb/US gal", 1.198264e2),
        ("specific_energy", "Btu/lb", 2.326e3),
        ("consumption_energy", "lb/(mech hp h)", 1.689659e-7),
        ("viscosity_dynamic", "mPa s", 1e-3),
    ],
)
def test_factor_agrees_with_sp_811(kind, unit, printed):
    last_digit = 10.0 ** (math.floor(math.log10(printed)) - 6)
    assert abs(from_unit(1.0, unit, kind) - printed) <= 0.500001 * last_digit


# 49 CFR 571.116 S5.1.1 and S5.1.2 print their boiling points in both scales; defining points: SI brochure.
@pytest.mark.parametrize(
    ("fahrenheit", "celsius"),
    [(401, 205), (446, 230), (500, 260), (284, 140), (311, 155), (356, 180), (32, 0), (212, 100), (-40, -40)],
)
def test_temperature_scales(fahrenheit, celsius):
    kelvin = parse(f"{fahrenheit} degF", "temperature").value
    assert kelvin == pytest.approx(celsius + 273.15, rel=1e-15)
    assert parse(f"{fahrenheit + 459.67} degR", "temperature").value == pytest.approx(kelvin, rel=1e-14)
    assert parse(f"{celsius} degC", "temperature").value == pytest.approx(kelvin, rel=1e-15)
    assert to_unit(kelvin, "degF", "temperature") == pytest.approx(fahrenheit, abs=1e-12)


def test_a_temperature_difference_has_no_zero():
    assert parse("9 degF", "temperature_difference").value == pytest.approx(5.0, rel=1e-15)
    assert parse("5 degC", "temperature_difference").value == 5.0
    assert parse("5 K", "temperature_difference").value == 5.0
    assert to_unit(5.0, "degF", "temperature_difference") == pytest.approx(9.0, rel=1e-15)


# --- The table is whole


@pytest.mark.parametrize("kind", KINDS)
def test_units_of_a_kind_can_be_written(kind):
    sample = "1" if si_unit(kind) == "1" else f"1 {si_unit(kind)}"
    assert parse(sample, kind).value == 1.0
    for system in ("si", "us"):
        assert from_unit(1.0, display_unit(kind, system), kind) > 0.0
    assert KINDS[kind].difference in KINDS
    assert KINDS[kind].id == kind
    assert KINDS[KINDS[kind].difference].table == KINDS[kind].table
    for unit in units_of(kind):
        if unit != "1":
            assert parse(f"500 {unit}", kind).unit == unit


@pytest.mark.parametrize("table", TABLES)
def test_every_spelling_has_one_meaning(table):
    kind = next(kind for kind, spec in KINDS.items() if spec.table == table)
    owner: dict[str, str] = {}
    for unit, (scale, others) in TABLES[table].items():
        assert scale > 0.0
        for spelling in (unit, *others.split(",")):
            if spelling == "" and not (table == "ratio" and unit == "1"):
                continue
            for written in {spelling, spelling.replace(" ", "")}:
                assert owner.setdefault(written, unit) == unit
                if written != "1":
                    assert parse(f"500 {written}", kind).unit == unit
    for spelling, choices in AMBIGUOUS.get(table, {}).items():
        assert spelling not in owner
        assert len(choices) > 1
        assert set(choices) <= set(TABLES[table])


def test_kinds_cannot_be_changed():
    with pytest.raises(TypeError):
        KINDS["length"] = KINDS["mass"]
    with pytest.raises(KeyError):
        parse("1 m", "lenght")
