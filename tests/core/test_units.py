"""Workshop units: what is read, what is refused, how it is shown, and what always holds."""

from __future__ import annotations

import itertools
import math
import pickle
import subprocess
import sys
import time
from pathlib import Path

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy import constants as sc
from scipy.stats import uniform

from loadworthy import units
from loadworthy.unit_table import ZEROS
from loadworthy.units import (
    KINDS,
    Amount,
    UnitError,
    display_unit,
    format_value,
    from_unit,
    parse,
    to_unit,
    units_of,
)

QUICK = settings(max_examples=150, deadline=None)
ALL_UNITS = [(kind, unit) for kind in KINDS for unit in units_of(kind)]

LB, H, PSI, HP = sc.lb, sc.hour, sc.psi, sc.hp
PS, YEAR = 75 * sc.kgf, sc.Julian_year

# --- Reading

LIMIT = 1 / math.sqrt(3)


@pytest.mark.parametrize(
    ("text", "kind", "value", "u", "unit"),
    [
        ("178 psi", "pressure_gauge", 178 * PSI, None, "psi"),
        ("12,3 bar", "pressure_gauge", 12.3e5, None, "bar"),
        ("0,020 bar", "pressure_gauge", 2e3, None, "bar"),
        ("12,34 bar", "pressure_gauge", 12.34e5, None, "bar"),
        ("1.020 kPa", "pressure_gauge", 1020.0, None, "kPa"),
        (" .5  bar ", "pressure_gauge", 5e4, None, "bar"),
        ("12bar", "pressure_gauge", 12e5, None, "bar"),
        ("+1.2e5 Pa", "pressure_gauge", 1.2e5, None, "Pa"),
        ("12.1 bar +- 0.2", "pressure_gauge", 12.1e5, 0.2e5 * LIMIT, "bar"),
        ("12.1 +- 0.2 bar", "pressure_gauge", 12.1e5, 0.2e5 * LIMIT, "bar"),
        ("12.1 bar \u00b1 0.2 bar", "pressure_gauge", 12.1e5, 0.2e5 * LIMIT, "bar"),
        ("12.1 bar +/- 3 psi", "pressure_gauge", 12.1e5, 3 * PSI * LIMIT, "bar"),
        ("12,1 bar+-2%", "pressure_gauge", 12.1e5, 0.02 * 12.1e5 * LIMIT, "bar"),
        ("-12.1 bar +- 2 %", "pressure_gauge", -12.1e5, 0.02 * 12.1e5 * LIMIT, "bar"),
        ("1.8 bar abs +- 0.1 bar abs", "pressure_abs", 1.8e5, 0.1e5 * LIMIT, "bar"),
        ("1.8 +- 0.1 bara", "pressure_abs", 1.8e5, 0.1e5 * LIMIT, "bar"),
        ("90 degC +- 3 degF", "temperature", 363.15, 3 / 1.8 * LIMIT, "degC"),
        ("90 degC +- 2", "temperature", 363.15, 2 * LIMIT, "degC"),
        ("300 K +- 1 K", "temperature", 300.0, LIMIT, "K"),
        ("300 PS", "power", 300 * PS, None, "PS"),
        ("300 mech hp", "power", 300 * HP, None, "mech hp"),
        ("300 hp(mech)", "power", 300 * HP, None, "mech hp"),
        ("5500 rpm", "rotation", 5500 / 60, None, "rpm"),
        ("850 1/min", "rotation", 850 / 60, None, "rpm"),
        ("0.98", "ratio", 0.98, None, "1"),
        ("0.98 +- 0.01", "ratio", 0.98, 0.01 * LIMIT, "1"),
        ("10.5:1", "ratio", 10.5, None, "1"),
        ("98 %", "ratio", 0.98, None, "%"),
        ("98 % +- 2 %", "ratio", 0.98, 0.02 * LIMIT, "%"),
        ("12 +- 2 %", "share_volume", 0.12, 0.02 * LIMIT, "%"),
        ("12 % vol +- 2 %", "share_volume", 0.12, 0.02 * LIMIT, "%"),
        ("300 ppm +- 5 %", "share_ppm", 3e-4, 0.05 * 3e-4 * LIMIT, "ppm"),
        ("0.3 L/1 000 km", "consumption_distance", 3e-10, None, "L/1000 km"),
        ("69 kPa per 1000 rpm", "pressure_rotation", 4140.0, None, "kPa/1000 rpm"),
        ("0.5 lb/(mech hp h)", "consumption_energy", 0.5 * LB / (HP * H), None, "lb/(mech hp h)"),
        ("6 months", "age", YEAR / 2, None, "month"),
        ("4.5 mgKOH/g", "acid_number", 4.5e-3, None, "mgKOH/g"),
        ("0.5 1/m", "absorption", 0.5, None, "1/m"),
        ("-0 bar", "pressure_gauge", 0.0, None, "bar"),
    ],
)
def test_reads(text, kind, value, u, unit):
    amount = parse(text, kind)
    assert amount.value == pytest.approx(value, rel=1e-14)
    assert math.copysign(1.0, amount.value) == math.copysign(1.0, value)
    assert amount.u == (None if u is None else pytest.approx(u, rel=1e-12))
    assert amount.unit == unit
    assert amount.text == text


def test_limits_of_error_are_a_rectangular_distribution():
    # JCGM 100:2008, 4.3.7, example 1: 16.52e-6 within 0.40e-6 -> u = 0.23e-6
    amount = parse("16.52 um +- 0.40 um", "length")
    assert float(f"{amount.u:.1e}") == 0.23e-6
    assert amount.u == pytest.approx(uniform(-0.40e-6, 0.80e-6).std(), rel=1e-12)


def test_an_unknown_horsepower_is_the_middle_with_its_own_uncertainty():
    low, high = parse("300 PS", "power").value, parse("300 mech hp", "power").value
    unknown, stated = parse("300 hp?", "power"), parse("300 bhp? +- 2 %", "power")
    assert unknown.value == pytest.approx((low + high) / 2, rel=1e-14)
    assert (high - low) / low == pytest.approx(0.014, abs=2e-4)
    assert unknown.u == pytest.approx(0.014 * unknown.value, rel=1e-12)
    assert stated.u == pytest.approx(stated.value * math.hypot(0.014, 0.02 * LIMIT), rel=1e-12)
    assert parse("0 hp?", "power").u is None


@pytest.mark.parametrize(
    ("text", "kind", "plain"),
    [
        ("90 \u00b0C", "temperature", "90 degC"),
        ("90 \u2103", "temperature", "90 degC"),
        ("\u22125 \u00b0C", "temperature", "-5 degC"),
        ("5 \u212a", "temperature", "5 K"),
        ("12 \u00b0", "angle", "12 deg"),
        ("460 \u00b5m", "length", "460 um"),
        ("460 \u03bcm", "length", "460 um"),
        ("250\u00a0N\u00b7m", "torque", "250 N m"),
        ("250\u202fN\u22c5m", "torque", "250 N m"),
        ("1,2 mm\u00b2/s", "viscosity_kinematic", "1.2 mm2/s"),
        ("9.8 m/s\u00b2", "acceleration", "9.8 m/s2"),
        ("850 min\u207b\u00b9", "rotation", "850 rpm"),
        ("0.5 m\u207b\u00b9", "absorption", "0.5 1/m"),
        ("2 k\u03a9", "resistance", "2 kohm"),
        ("\uff11\uff12\uff0e\uff13\u3000\uff42\uff41\uff52", "pressure_gauge", "12.3 bar"),
        ("12\u200b bar\ufeff", "pressure_gauge", "12 bar"),
    ],
)
def test_reads_typography(text, kind, plain):
    assert parse(text, kind)[:3] == parse(plain, kind)[:3]


@pytest.mark.parametrize(
    ("kind", "spellings"),
    [
        ("torque", ["N m", "Nm", "N.m", "N*m", "N-m", "NM", "nm"]),
        ("torque", ["lb ft", "lb-ft", "ft-lb", "lbf.ft", "ft lbf", "LB FT", "lbft"]),
        ("pressure_gauge", ["bar", "BAR", "Bar", "bar g", "barg", "bar(g)", "bar_g", "bar gauge", "bar gage"]),
        ("pressure_gauge", ["inHg", "in Hg", "inHg gauge", "INHG"]),
        ("pressure_abs", ["psi", "psia", "psi abs", "PSIA", "psi_abs", "psi absolute", "lbf/in2 abs"]),
        ("pressure_abs", ["kgf/cm2", "at", "ata", "kg/cm^2 a"]),
        ("pressure_difference", ["psi", "psid", "psi diff"]),
        ("power", ["PS", "CV", "ch", "pk", "metric hp", "metric-hp", "hp (metric)"]),
        ("volume", ["US gal", "gal (US)", "USgal", "US-gal"]),
        ("volume", ["mL", "ml", "cm3", "cm^3", "cc", "ccm"]),
        ("speed", ["km/h", "km / h", "kph", "KM/H", "km per h"]),
        ("consumption_energy", ["g/kWh", "g/kW h", "g/(kW h)", "G/KWH"]),
    ],
)  # fmt: skip
def test_spellings_are_one_unit(kind, spellings):
    assert len({parse(f"2 {spelling}", kind)[:3] for spelling in spellings}) == 1


# --- Refusing


@pytest.mark.parametrize(
    ("text", "kind", "problem", "write"),
    [
        ("12.3", "pressure_gauge", '"12.3" has no unit', 'as in "12.3 bar gauge": one of Pa, hPa, kPa'),
        ("85", "share_volume", "has no unit", '"85 %"'),
        ("12.1 +- 2 %", "pressure_gauge", "has no unit", '"12.1 bar gauge"'),
        ("5 500 rpm", "rotation", "separators", 'write "5500 rpm"'),
        ("5\u202f500 rpm", "rotation", "separators", 'write "5500 rpm"'),
        ("1'020,5 kPa", "pressure_gauge", "separators", 'write "1020,5 kPa"'),
        ("1,234.5 kPa", "pressure_gauge", "separators", 'write "1234.5 kPa"'),
        ("1.234,5 kPa", "pressure_gauge", "separators", 'write "1234.5 kPa"'),
        ("1.234.567 Pa", "pressure_gauge", "separators", 'write "1234567 Pa"'),
        ("1,020 kPa", "pressure_abs", "two ways", 'write "1.020 kPa" or "1020 kPa"'),
        ("12 bar +- 1,500", "pressure_abs", "two ways", 'write "1.500" or "1500"'),
        ("3 1/8 in", "length", "fraction", 'write "3.125 in"'),
        ("-3-1/8 in", "length", "fraction", 'write "-3.125 in"'),
        ("1/8 in", "length", "fraction", 'write "0.125 in"'),
        ("3\u00bd in", "length", "fraction", 'write "3.5 in"'),
        ("1/0 in", "length", "no unit of a length", "write one of m"),
        ("2 1", "ratio", "two numbers", 'write "2"'),
        ("12 13 bar", "pressure_abs", "two numbers", 'write "12 bar abs"'),
        ("5-6 bar", "pressure_abs", "does not begin with a number", 'write "12.3 bar abs"'),
        ("about 5 bar", "pressure_abs", "does not begin with a number", "write"),
        ("- 5 degC", "temperature", "does not begin with a number", "write"),
        ("12\u00b2 bar", "pressure_abs", "no unit", "write"),
        ("1,2,3 bar", "pressure_abs", "does not begin with a number", "write"),
        ("12, bar", "pressure_abs", "does not begin with a number", "write"),
        ("nan bar", "pressure_abs", "does not begin with a number", "write"),
        ("-inf bar", "pressure_abs", "does not begin with a number", "write"),
        ("", "pressure_abs", "does not begin with a number", "write"),
        ("1e400 bar", "pressure_abs", "beyond all measure", "write"),
        ("1e98 bar", "pressure_abs", "beyond all measure", "write"),
        ("1e-400 bar", "pressure_abs", "beyond all measure", "write"),
        ("0 bar +- 1e-400", "pressure_abs", "beyond all measure", "write"),
        ("250 Nm", "pressure_gauge", '"Nm" is a torque, here a gauge pressure is needed', "write one of Pa"),
        ("12 psig", "torque", '"psig" is a pressure, here a torque is needed', "N m"),
        ("3 gal", "mass", '"gal" is a volume, here a mass is needed', "kg"),
        ("90 deg", "temperature", "is an angle", "degC"),
        ("5 m", "time", "is a length", "min"),
        ("300 lb", "force", "is a mass", "lbf"),
        ("85 % vol", "share_mass", "is a share by volume", "%"),
        ("12 NL/min", "flow_volume", "normal volume", "L/min"),
        ("12 L/min", "flow_normal", "is a volume flow", "NL/min"),
        ("1.8 bara", "pressure_gauge", "is an absolute pressure, here a gauge pressure is needed", '"1.8 bar gauge"'),
        ("178 psi g", "pressure_abs", "is a gauge pressure, here an absolute pressure is needed", '"178 psi abs"'),
        ("5 kPa_abs", "pressure_difference", '"kPa_abs" is an absolute pressure', '"5 kPa"'),
        ("3 gal", "volume", "more than one meaning", 'write "US gal" or "imp gal"'),
        ("3 Gallons", "volume", "more than one meaning", 'write "US gal" or "imp gal"'),
        ("300 hp", "power", "more than one meaning", 'write "PS" or "mech hp" or "hp?"'),
        ("300 BHP", "power", "more than one meaning", 'write "PS" or "mech hp" or "hp?"'),
        ("2 tons", "mass", "more than one meaning", 'write "t" or "short ton" or "long ton"'),
        ("30 gph", "flow_volume", "more than one meaning", 'write "US gal/h" or "imp gal/h"'),
        ("0.5 lb/(hp h)", "consumption_energy", "more than one meaning", '"lb/(PS h)" or "lb/(mech hp h)"'),
        ("0.5 lb/hph", "consumption_energy", "more than one meaning", '"lb/(PS h)" or "lb/(mech hp h)"'),
        ("500 kb/s", "data_rate", "more than one meaning", 'write "kB/s" or "kbit/s"'),
        ("12 barr", "pressure_gauge", '"barr" is no unit of a gauge pressure', 'write "bar"'),
        ("0.3 mpa", "pressure_gauge", '"mpa" is no unit', 'write "MPa"'),
        ("12 m m", "length", '"m m" is no unit', 'write "'),
        ("3 MW/x", "power", '"MW/x" is no unit', 'write "MW"'),
        ("12 \x1b[31mbar", "pressure_gauge", '"?[31mbar" is no unit', "write"),
        ("5 furlongs", "length", "no unit of a length", "write one of m, cm, mm"),
        ("12 bar +- 0", "pressure_gauge", "no uncertainty above zero", "leave"),
        ("12 bar +- -1", "pressure_gauge", "no uncertainty above zero", "leave"),
        ("0 bar +- 2 %", "pressure_gauge", "no uncertainty above zero", "leave"),
        ("12 bar +- 2 K", "pressure_gauge", '"K" is a temperature', "Pa"),
        ("12 bar +-", "pressure_gauge", "does not begin with a number", "write"),
        ("12 bar +- 1 +- 1", "pressure_gauge", '"+- 1" is no unit', "write"),
        ("90 degC +- 2 %", "temperature", "percentage of a temperature", '"90 degC +- 2 K"'),
        ("0.98 +- 2 %", "ratio", "two ways", '"0.98 % +- 2 %"'),
        ("-274 degC", "temperature", "below absolute zero", "write"),
        ("-0.1 bar", "pressure_abs", "below absolute zero", "write"),
        ("1" * 201, "ratio", "at most 200 characters", "write"),
    ],
)  # fmt: skip
def test_refuses(text, kind, problem, write):
    with pytest.raises(UnitError) as caught:
        parse(text, kind)
    error = caught.value
    assert problem in error.problem
    assert write in error.write
    assert str(error) == f"{error.problem}; {error.write}"
    assert str(error).isprintable()
    again = pickle.loads(pickle.dumps(error))
    assert (again.problem, again.write) == (error.problem, error.write)


@pytest.mark.parametrize(
    ("written", "kind"),
    [("mw", "power"), ("ma", "pressure_abs"), ("MA", "current"), ("MV", "voltage"), ("MM", "length"), ("Mg", "mass")],
)
def test_the_case_of_a_prefix_is_not_forgiven(written, kind):
    with pytest.raises(UnitError):
        parse(f"5 {written}", kind)


def test_conversion_refuses_foreign_units_and_systems():
    with pytest.raises(UnitError, match="is a torque"):
        to_unit(1.0, "N m", "power")
    with pytest.raises(UnitError, match="absolute pressure"):
        from_unit(1.0, "bar abs", "pressure_gauge")
    with pytest.raises(ValueError, match="unit system"):
        display_unit("power", "metric")
    with pytest.raises(ValueError, match="digits"):
        format_value(1.0, "power", digits=0)
    for bad in (math.nan, math.inf, -math.inf):
        with pytest.raises(UnitError, match="finite"):
            format_value(bad, "power")


# --- Showing


@pytest.mark.parametrize(
    ("value", "kind", "si", "us"),
    [
        (12.27e5, "pressure_gauge", "12.3 bar gauge", "178 psi gauge"),
        (1.8e5, "pressure_abs", "1.80 bar abs", "26.1 psi abs"),
        (-6200.0, "pressure_difference", "-6.20 kPa", "-0.899 psi"),
        (363.15, "temperature", "90.0 degC", "194 degF"),
        (273.15, "temperature", "0 degC", "32.0 degF"),
        (5.0, "temperature_difference", "5.00 K", "9.00 degF"),
        (91.75, "rotation", "5505 rpm", "5505 rpm"),
        (123456789.0, "distance", "123457 km", "76712 mi"),
        (0.0254, "length", "25.4 mm", "1.00 in"),
        (0.0045, "volume", "4.50 L", "1.19 US gal"),
        (1000.0, "power", "1.00 kW", "1.34 mech hp"),
        (440.0, "torque", "440 N m", "325 lb ft"),
        (9.996e5, "pressure_abs", "10.0 bar abs", "145 psi abs"),
        (0.98, "ratio", "0.980", "0.980"),
        (-0.0, "torque", "0 N m", "0 lb ft"),
        (1e-9, "torque", "1.00e-09 N m", "7.38e-10 lb ft"),
        (2.5e-5, "share_ppm", "25.0 ppm", "25.0 ppm"),
    ],
)
def test_shows(value, kind, si, us):
    assert format_value(value, kind) == si
    assert format_value(value, kind, system="us") == us


def test_shows_in_a_given_unit_and_more_digits():
    assert format_value(math.nextafter(273.15, 0.0), "temperature") == "0 degC"
    assert format_value(101325.0, "pressure_abs", unit="kPa", digits=6) == "101.325 kPa"
    assert format_value(101325.0, "pressure_abs", unit="inHg abs") == "29.9 inHg abs"


@QUICK
@given(
    st.sampled_from(sorted(KINDS)),
    st.floats(-1e12, 1e12),
    st.sampled_from(["si", "us"]),
    st.integers(1, 17),
)
def test_what_is_shown_is_read_again(kind, value, system, digits):
    if kind in ("pressure_abs", "temperature"):
        value = abs(value)
    assume(value == 0.0 or abs(value) > 1e-12)
    unit = display_unit(kind, system)
    text = format_value(value, kind, system=system, digits=digits)
    assert not text.startswith("-0 ")
    shown = float(text.partition(" ")[0])
    # Taking off the zero of a temperature scale leaves noise, which is rounded to 1e-9 of a degree.
    noise = 1e-9 if kind == "temperature" else 0.0
    half_a_digit = 0.500001 * 10.0 ** (1 - digits) + 1e-12
    assert shown == pytest.approx(to_unit(value, unit, kind), rel=half_a_digit, abs=noise)
    assert parse(text, kind).value == pytest.approx(from_unit(shown, unit, kind), rel=1e-15)
    assert format_value(value, kind, system=system, digits=digits) == text


# --- Properties

NUMBERS = st.floats(1e-9, 1e9) | st.floats(-1e9, -1e-9)


@QUICK
@given(st.sampled_from(ALL_UNITS), NUMBERS)
def test_round_trip_keeps_twelve_digits(kind_unit, number):
    kind, unit = kind_unit
    value = from_unit(number, unit, kind)
    back = to_unit(value, unit, kind)
    zero = ZEROS.get(unit, 0.0) if kind == "temperature" else 0.0
    assert back + zero == pytest.approx(number + zero, rel=1e-12, abs=1e-12 * zero)
    assert from_unit(back, unit, kind) == pytest.approx(value, rel=1e-12, abs=1e-12 * zero)


@QUICK
@given(st.sampled_from(ALL_UNITS), NUMBERS, NUMBERS)
def test_more_is_never_less(kind_unit, first, second):
    kind, unit = kind_unit
    low, high = sorted((first, second))
    assert from_unit(low, unit, kind) <= from_unit(high, unit, kind)
    assert to_unit(low, unit, kind) <= to_unit(high, unit, kind)


PAIRS = [(kind, *pair) for kind in KINDS for pair in itertools.permutations(units_of(kind), 2)]


@QUICK
@given(
    st.sampled_from(PAIRS),
    st.data(),
)
def test_one_quantity_in_two_units_is_one_value(case, data):
    kind, one, other = case
    number = data.draw(st.floats(1.0, 1e6))
    in_other = to_unit(from_unit(number, one, kind), other, kind)
    assume(in_other > 0.0)
    texts = [repr(n) if unit == "1" else f"{n!r} {unit}" for n, unit in ((number, one), (in_other, other))]
    first, second = (parse(text, kind).value for text in texts)
    assert first == pytest.approx(second, rel=1e-12)


PIECES = st.sampled_from(
    ["12.1", "1,020", "0", "-", "+-", "+/-", "\u00b1", " ", "%", "bar", "psi", "abs", "g", "/", "1/8", "e5", "E",
     ".", ",", "'", "^", "(", ")", "_", "*", "nan", "inf", "gal", "hp?", "\u00b2", "\u00bd", "\u0660", "\ufb00",
     "\ud800", "\x00"]
)  # fmt: skip


@settings(max_examples=400, deadline=None)
@given(st.text(max_size=220) | st.lists(PIECES, max_size=12).map("".join), st.sampled_from(sorted(KINDS)))
def test_any_text_is_read_or_refused(text, kind):
    read = outcome(text, kind)
    if isinstance(read, UnitError):
        assert read.problem
        assert read.write
        assert str(read).isprintable()
    else:
        assert math.isfinite(read.value)
        assert read.u is None or 0.0 < read.u < math.inf
        assert read.unit in units_of(kind)


def outcome(text: str, kind: str) -> Amount | UnitError:
    try:
        return parse(text, kind)
    except UnitError as error:
        return error


@pytest.mark.parametrize(
    "piece",
    ["1", "1,", "1.", "1 ", "1/", "1 1/", "+-", "e", "-", "(", "abs", "1 111 ", ",111", "bar g", "\u00bd"],
)
def test_the_longest_text_takes_no_time(piece):
    text = "1 " + piece * (198 // len(piece))
    outcome(text, "pressure_gauge")  # the first error imports difflib
    start = time.perf_counter()
    assert isinstance(outcome(text, "pressure_gauge"), UnitError)
    assert time.perf_counter() - start < 0.25


def test_import_is_light():
    code = (
        "import sys, typing, functools; before = set(sys.modules); import loadworthy.units;"
        "print(*sorted(set(sys.modules) - before))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=True,
        env={"PYTHONPATH": str(Path(units.__file__).parents[1])},
    )
    assert done.stdout.split() == [
        "__future__",
        "loadworthy",
        "loadworthy.record",
        "loadworthy.unit_table",
        "loadworthy.units",
    ]
