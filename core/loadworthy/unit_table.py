"""The closed table of workshop units and the kinds of quantity that they measure: data only, read by `units`.

Factors: NIST SP 811 (2008), appendix B.8 and the exact definitions beneath it. Columns of mercury and water
are the conventional ones (13 595.1 and 1000 kg/m3 at standard gravity), Btu is the International Table one.
A year is 365.25 days and a month a twelfth of it.

Values are SI, with two exceptions that the trade and its formulas use throughout: rotation is in rev/s, angle
in degrees (accepted for use with the SI: BIPM SI brochure, table 8). Both keep pi out of most conversions.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING, Final

from loadworthy.record import NamedTuple

if TYPE_CHECKING:
    from collections.abc import Mapping

# Exact definitions, NIST SP 811.
_G0 = 9.80665
_LB = 0.45359237
_LBF = _LB * _G0
_IN = 0.0254
_FT = 0.3048
_MI = 1609.344
_US_GAL = 231 * _IN**3
_IMP_GAL = 4.54609e-3
_PS = 75 * _G0
_MECH_HP = 550 * _FT * _LBF
_BTU = 1055.05585262
_YEAR = 365.25 * 86400.0

# fmt: off
#: Table -> unit -> (SI units in one of it, other spellings). The first unit of a table is the SI unit itself.
#: Dots, hyphens and parentheses between parts, and the caret, need no spelling of their own (`units._plain`).
TABLES: Final[Mapping[str, Mapping[str, tuple[float, str]]]] = {
    "pressure": {
        "Pa": (1.0, "N/m2"), "hPa": (1e2, ""), "kPa": (1e3, "kN/m2"), "MPa": (1e6, "N/mm2"),
        "mbar": (1e2, ""), "bar": (1e5, "bars"), "psi": (_LBF / _IN**2, "lbf/in2,lb/in2"),
        "kgf/cm2": (_G0 * 1e4, "kg/cm2,kp/cm2,at"), "atm": (101325.0, ""),
        "mmHg": (13.5951 * _G0, "mm Hg"), "inHg": (13595.1 * _G0 * _IN, "in Hg"),
        "mmH2O": (_G0, "mm H2O,mmWC"), "inH2O": (1e3 * _G0 * _IN, "in H2O,inWC,in WC"),
    },
    # Scale only; the zero of each scale stands in ZEROS.
    "temperature": {
        "K": (1.0, "kelvin"), "degC": (1.0, "C,deg C,degrees C,celsius"),
        "degF": (5 / 9, "F,deg F,degrees F,fahrenheit"), "degR": (5 / 9, "deg R,rankine"),
    },
    "length": {
        "m": (1.0, "metre,metres,meter,meters"), "cm": (1e-2, ""), "mm": (1e-3, ""),
        "um": (1e-6, "micron,microns"),
        "km": (1e3, "kilometre,kilometres,kilometer,kilometers"), "in": (_IN, "inch,inches"),
        "ft": (_FT, "foot,feet"), "thou": (_IN * 1e-3, "mil"), "mi": (_MI, "mile,miles"),
    },
    "area": {
        "m2": (1.0, "sq m"), "cm2": (1e-4, "sq cm"), "mm2": (1e-6, "sq mm"), "in2": (_IN**2, "sq in"),
        "ft2": (_FT**2, "sq ft"),
    },
    "volume": {
        "m3": (1.0, ""), "L": (1e-3, "dm3,litre,litres,liter,liters"), "cL": (1e-5, ""),
        "mL": (1e-6, "cm3,ccm,cc"), "mm3": (1e-9, "uL"), "in3": (_IN**3, "cu in,cid"),
        "ft3": (_FT**3, "cu ft"),
        "US gal": (_US_GAL, "gal US"), "imp gal": (_IMP_GAL, "gal imp,UK gal,gal UK"),
        "US qt": (_US_GAL / 4, "qt US"), "imp qt": (_IMP_GAL / 4, "qt imp,UK qt"),
        "US pt": (_US_GAL / 8, "pt US"), "imp pt": (_IMP_GAL / 8, "pt imp,UK pt"),
        "US fl oz": (_US_GAL / 128, "fl oz US"), "imp fl oz": (_IMP_GAL / 160, "fl oz imp,UK fl oz"),
    },
    "mass": {
        "kg": (1.0, ""), "g": (1e-3, ""), "mg": (1e-6, ""), "t": (1e3, "tonne,tonnes,metric ton"),
        "lb": (_LB, "lbs,lbm"), "oz": (_LB / 16, ""), "short ton": (2000 * _LB, "US ton"),
        "long ton": (2240 * _LB, "imp ton,UK ton"),
    },
    "time": {
        "s": (1.0, "sec,second,seconds"), "ms": (1e-3, ""), "us": (1e-6, ""), "min": (60.0, "minute,minutes"),
        "h": (3600.0, "hr,hrs,hour,hours"), "d": (86400.0, "day,days"), "week": (604800.0, "weeks"),
        "month": (_YEAR / 12, "months"), "year": (_YEAR, "years,yr"),
    },
    "speed": {
        "m/s": (1.0, ""), "km/h": (1 / 3.6, "kmh,kph,km/hr"), "mph": (_MI / 3600, "mi/h,mi/hr"),
        "ft/s": (_FT, ""),
    },
    "rotation": {
        "rev/s": (1.0, "r/s,rps"), "rpm": (1 / 60, "rev/min,r/min,1/min,min-1,U/min"),
        "rad/s": (1 / 6.283185307179586, ""), "deg/s": (1 / 360, ""),
    },
    "rotation_change": {"rev/s2": (1.0, ""), "rpm/s": (1 / 60, "rev/min/s")},
    "frequency": {"Hz": (1.0, "1/s,s-1"), "kHz": (1e3, "")},
    "angle": {
        # "deg CA": the angle of a turning shaft, as log columns print it.
        "deg": (1.0, "degree,degrees,deg CA"), "rad": (180 / 3.141592653589793, ""), "arcmin": (1 / 60, ""),
    },
    "torque": {
        "N m": (1.0, ""), "N cm": (1e-2, ""), "daN m": (10.0, ""), "kN m": (1e3, ""),
        "lb ft": (_LBF * _FT, "lbf ft,ft lb,ft lbf,ft lbs,lbs ft"),
        "lb in": (_LBF * _IN, "lbf in,in lb,in lbf,in lbs"),
        "kgf m": (_G0, "kg m,m kg,kp m"), "kgf cm": (_G0 * 1e-2, "kg cm,kp cm"),
    },
    "power": {
        "W": (1.0, ""), "kW": (1e3, ""), "MW": (1e6, ""), "PS": (_PS, "metric hp,hp metric,CV,ch,pk,hk"),
        "mech hp": (_MECH_HP, "hp mech,mechanical hp,hp mechanical"),
        # One of the two horsepowers, nobody knows which: the middle, with the uncertainty of SPREADS.
        "hp?": ((_PS + _MECH_HP) / 2, "bhp?"),
    },
    "energy": {
        "J": (1.0, ""), "kJ": (1e3, ""), "MJ": (1e6, ""), "Wh": (3600.0, "W h"), "kWh": (3.6e6, "kW h"),
        "Btu": (_BTU, ""),
    },
    "force": {"N": (1.0, ""), "daN": (10.0, ""), "kN": (1e3, ""), "lbf": (_LBF, ""), "kgf": (_G0, "kp")},
    "stiffness": {
        "N/m": (1.0, ""), "N/mm": (1e3, "kN/m"), "lbf/in": (_LBF / _IN, "lb/in"),
        "kgf/mm": (_G0 * 1e3, "kg/mm"),
    },
    "inertia": {"kg m2": (1.0, ""), "kg cm2": (1e-4, ""), "lb ft2": (_LB * _FT**2, "")},
    "flow_mass": {
        "kg/s": (1.0, ""), "g/s": (1e-3, ""), "mg/s": (1e-6, ""), "kg/min": (1 / 60, ""),
        "g/min": (1e-3 / 60, ""),
        "kg/h": (1 / 3600, ""), "g/h": (1e-3 / 3600, ""), "lb/s": (_LB, ""), "lb/min": (_LB / 60, "lbs/min"),
        "lb/h": (_LB / 3600, "lb/hr,lbs/h,lbs/hr,pph"),
    },
    "flow_volume": {
        "m3/s": (1.0, ""), "L/s": (1e-3, ""), "L/min": (1e-3 / 60, "lpm"), "L/h": (1e-3 / 3600, ""),
        "mL/s": (1e-6, "cm3/s,cc/s"), "mL/min": (1e-6 / 60, "cm3/min,cc/min,ccm/min"), "mm3/s": (1e-9, ""),
        "m3/min": (1 / 60, ""), "m3/h": (1 / 3600, ""), "ft3/min": (_FT**3 / 60, "cfm,cu ft/min"),
        "ft3/h": (_FT**3 / 3600, "cfh,cu ft/h"), "US gal/min": (_US_GAL / 60, ""),
        "US gal/h": (_US_GAL / 3600, "US gal/hr"),
        "imp gal/min": (_IMP_GAL / 60, ""), "imp gal/h": (_IMP_GAL / 3600, "imp gal/hr"),
    },
    "flow_normal": {
        "m3/s normal": (1.0, ""), "NL/min": (1e-3 / 60, "L/min normal,Nl/min"), "NL/h": (1e-3 / 3600, ""),
        "Nm3/h": (1 / 3600, "m3/h normal"),
    },
    "flow_anr": {
        "m3/s ANR": (1.0, ""), "L/min ANR": (1e-3 / 60, "NL/min ANR"), "L/s ANR": (1e-3, ""),
        "m3/h ANR": (1 / 3600, ""),
    },
    "density": {
        "kg/m3": (1.0, "g/L"), "g/cm3": (1e3, "g/mL,g/cc,kg/L,kg/dm3,t/m3"), "mg/L": (1e-3, "g/m3"),
        "mg/m3": (1e-6, ""),
        "mg/100 mL": (1e-2, ""), "lb/ft3": (_LB / _FT**3, ""), "lb/US gal": (_LB / _US_GAL, ""),
    },
    "viscosity_dynamic": {"Pa s": (1.0, ""), "mPa s": (1e-3, "cP")},
    "viscosity_kinematic": {"m2/s": (1.0, ""), "mm2/s": (1e-6, "cSt")},
    "specific_energy": {
        "J/kg": (1.0, ""), "kJ/kg": (1e3, "J/g"), "MJ/kg": (1e6, "kJ/g"), "kWh/kg": (3.6e6, ""),
        "Btu/lb": (_BTU / _LB, ""),
    },
    "consumption_energy": {
        "kg/J": (1.0, ""), "kg/kWh": (1 / 3.6e6, "kg/kW h"), "g/kWh": (1e-3 / 3.6e6, "g/kW h"),
        "g/MJ": (1e-9, ""),
        "g/(PS h)": (1e-3 / (_PS * 3600), "g/PSh"), "lb/(PS h)": (_LB / (_PS * 3600), ""),
        "lb/(mech hp h)": (_LB / (_MECH_HP * 3600), ""),
    },
    "consumption_distance": {
        "m3/m": (1.0, ""), "L/100 km": (1e-8, ""), "L/1000 km": (1e-9, "L/1 000 km,mL/km"),
        "mL/1000 km": (1e-12, ""),
        "US qt/1000 mi": (_US_GAL / 4 / (1e3 * _MI), ""), "imp pt/1000 mi": (_IMP_GAL / 8 / (1e3 * _MI), ""),
        "US gal/100 mi": (_US_GAL / (1e2 * _MI), ""), "imp gal/100 mi": (_IMP_GAL / (1e2 * _MI), ""),
    },
    "mass_distance": {
        "kg/m": (1.0, ""), "g/km": (1e-6, ""), "mg/km": (1e-9, ""), "g/mi": (1e-3 / _MI, "g/mile"),
        "mg/mi": (1e-6 / _MI, ""),
    },
    "acceleration": {"m/s2": (1.0, ""), "ft/s2": (_FT, ""), "gn": (_G0, "g")},
    "voltage": {"V": (1.0, "volt,volts"), "mV": (1e-3, ""), "kV": (1e3, "")},
    "current": {"A": (1.0, "amp,amps"), "mA": (1e-3, "")},
    "resistance": {"ohm": (1.0, "ohms"), "mohm": (1e-3, ""), "kohm": (1e3, ""), "Mohm": (1e6, "")},
    "capacitance": {"F": (1.0, ""), "uF": (1e-6, ""), "nF": (1e-9, ""), "pF": (1e-12, "")},
    "inductance": {"H": (1.0, ""), "mH": (1e-3, ""), "uH": (1e-6, "")},
    "charge": {"C": (1.0, "A s"), "A h": (3600.0, ""), "mA h": (3.6, "")},
    "data_size": {
        "B": (1.0, "byte,bytes"), "kB": (1e3, ""), "MB": (1e6, ""), "KiB": (1024.0, ""),
        "MiB": (1048576.0, ""),
        "kbit": (125.0, ""), "Mbit": (1.25e5, ""),
    },
    "data_rate": {
        "B/s": (1.0, "byte/s,bytes/s"), "kB/s": (1e3, ""), "MB/s": (1e6, ""), "KiB/s": (1024.0, ""),
        "bit/s": (0.125, ""),
        "kbit/s": (125.0, ""), "Mbit/s": (1.25e5, ""),
    },
    "ratio": {"1": (1.0, ",:1,to 1"), "%": (1e-2, "percent")},
    "share_volume": {
        "m3/m3": (1.0, "L/L"), "%": (1e-2, "% vol,vol %,% v/v,percent"), "ppm": (1e-6, "ppm vol,ppmv"),
    },
    "share_mass": {
        "kg/kg": (1.0, "g/g"), "%": (1e-2, "% mass,mass %,wt %,% m/m,% w/w,percent"),
        "mg/kg": (1e-6, "ppm,ppm mass"), "g/kg": (1e-3, ""),
    },
    # Of gases, where share by volume and by amount are one.
    "share_mole": {
        "mol/mol": (1.0, ""), "%": (1e-2, "% mol,mol %,% vol,vol %,% v/v,percent"),
        "ppm": (1e-6, "ppm mol,ppm vol,ppmv"),
    },
    "share_mass_distance": {"1/m": (1.0, ""), "mg/kg/1000 km": (1e-12, "ppm/1000 km,ppm/1 000 km")},
    "acid_number": {"kg/kg": (1.0, ""), "mgKOH/g": (1e-3, "mg KOH/g")},
    "absorption": {"1/m": (1.0, "m-1")},
    "count_density": {"1/m3": (1.0, "m-3"), "1/cm3": (1e6, "#/cm3,cm-3")},
    "areal_density": {"1/m2": (1.0, "m-2"), "1/cm2": (1e4, "cm-2"), "1/in2": (1 / _IN**2, "cpsi")},
    "pressure_rotation": {
        "Pa/(rev/s)": (1.0, ""), "kPa/1000 rpm": (60.0, ""), "bar/1000 rpm": (6e3, ""),
        "psi/1000 rpm": (_LBF / _IN**2 * 0.06, ""),
    },
    "friction_gradient": {"s/m": (1.0, "")},
}

#: What is added to a written number before it is scaled.
ZEROS: Final = {"degC": 273.15, "degF": 459.67}
#: Relative standard uncertainty of a unit that is itself uncertain: the two horsepowers lie 1.4 % apart
#: (judgement: the whole distance, in quadrature with the stated uncertainty).
SPREADS: Final = {"hp?": 0.014}
#: Table -> spelling that has several meanings -> the ones to choose from.
AMBIGUOUS: Final[Mapping[str, Mapping[str, tuple[str, ...]]]] = {
    "volume": {
        "gal": ("US gal", "imp gal"), "gallon": ("US gal", "imp gal"), "gallons": ("US gal", "imp gal"),
        "qt": ("US qt", "imp qt"), "quart": ("US qt", "imp qt"), "quarts": ("US qt", "imp qt"),
        "pt": ("US pt", "imp pt"), "pint": ("US pt", "imp pt"), "pints": ("US pt", "imp pt"),
        "fl oz": ("US fl oz", "imp fl oz"), "oz": ("US fl oz", "imp fl oz"),
    },
    "mass": {"ton": ("t", "short ton", "long ton"), "tons": ("t", "short ton", "long ton")},
    "power": dict.fromkeys(("hp", "bhp", "whp", "shp", "horsepower"), ("PS", "mech hp", "hp?")),
    "flow_volume": {
        "gal/h": ("US gal/h", "imp gal/h"), "gal/hr": ("US gal/h", "imp gal/h"),
        "gph": ("US gal/h", "imp gal/h"),
        "gal/min": ("US gal/min", "imp gal/min"), "gpm": ("US gal/min", "imp gal/min"),
    },
    "density": {"lb/gal": ("lb/US gal", "kg/m3")},
    "consumption_energy": dict.fromkeys(
        ("lb/hp h", "lb/hp hr", "lb/bhp h", "lb/bhp hr"), ("lb/(PS h)", "lb/(mech hp h)")
    ),
    "consumption_distance": {
        "mpg": ("L/100 km", "US gal/100 mi", "imp gal/100 mi"), "qt/1000 mi": ("US qt/1000 mi", "L/1000 km"),
        "pt/1000 mi": ("imp pt/1000 mi", "L/1000 km"),
    },
    "data_size": {"kb": ("kB", "kbit"), "mb": ("MB", "Mbit")},
    "data_rate": {
        "kb/s": ("kB/s", "kbit/s"), "mb/s": ("MB/s", "Mbit/s"), "kbps": ("kB/s", "kbit/s"),
        "mbps": ("MB/s", "Mbit/s"),
    },
}
# fmt: on


class Kind(NamedTuple):
    """A kind of quantity: what it is called, its SI unit, and the units in which people are shown it."""

    id: str
    #: With its article: "a gauge pressure".
    name: str
    table: str
    si: str
    shown_si: str
    shown_us: str

    @property
    def difference(self) -> str:
        """Return the id of the kind that a difference, or an uncertainty, of two such quantities has."""
        return _DIFFERENCES.get(self.id, self.id)


_DIFFERENCES: Final = {
    "pressure_abs": "pressure_difference",
    "pressure_gauge": "pressure_difference",
    "temperature": "temperature_difference",
}

# fmt: off
#: Every kind by its id. Kinds that share a table differ in meaning (pressures) or in how they are shown.
KINDS: Final[Mapping[str, Kind]] = MappingProxyType({row[0]: Kind(*row) for row in (
    ("pressure_abs", "an absolute pressure", "pressure", "Pa absolute", "bar abs", "psi abs"),
    ("pressure_gauge", "a gauge pressure", "pressure", "Pa gauge", "bar gauge", "psi gauge"),
    ("pressure_difference", "a pressure difference", "pressure", "Pa", "kPa", "psi"),
    ("temperature", "a temperature", "temperature", "K", "degC", "degF"),
    ("temperature_difference", "a temperature difference", "temperature", "K", "K", "degF"),
    ("length", "a length", "length", "m", "mm", "in"),
    ("altitude", "an altitude", "length", "m", "m", "ft"),
    ("distance", "a distance", "length", "m", "km", "mi"),
    ("area", "an area", "area", "m2", "mm2", "in2"),
    ("volume", "a volume", "volume", "m3", "L", "US gal"),
    ("mass", "a mass", "mass", "kg", "kg", "lb"),
    ("time", "a time", "time", "s", "s", "s"),
    ("running_time", "a running time", "time", "s", "h", "h"),
    ("age", "an age", "time", "s", "month", "month"),
    ("speed", "a road speed", "speed", "m/s", "km/h", "mph"),
    ("rotation", "a speed of rotation", "rotation", "rev/s", "rpm", "rpm"),
    ("rotation_change", "a change of rotation", "rotation_change", "rev/s2", "rpm/s", "rpm/s"),
    ("frequency", "a frequency", "frequency", "Hz", "Hz", "Hz"),
    ("angle", "an angle", "angle", "deg", "deg", "deg"),
    ("torque", "a torque", "torque", "N m", "N m", "lb ft"),
    ("power", "a power", "power", "W", "kW", "mech hp"),
    ("energy", "an energy", "energy", "J", "kJ", "Btu"),
    ("force", "a force", "force", "N", "N", "lbf"),
    ("stiffness", "a stiffness", "stiffness", "N/m", "N/mm", "lbf/in"),
    ("inertia", "a moment of inertia", "inertia", "kg m2", "kg m2", "lb ft2"),
    ("flow_mass", "a mass flow", "flow_mass", "kg/s", "g/s", "lb/h"),
    ("flow_volume", "a volume flow", "flow_volume", "m3/s", "L/min", "ft3/min"),
    ("flow_normal", "a flow of normal volume (0 degC, 101.325 kPa)", "flow_normal", "m3/s normal", "NL/min",
     "NL/min"),
    ("flow_anr", "a flow of ANR volume (20 degC, 100 kPa, 65 %)", "flow_anr", "m3/s ANR", "L/min ANR",
     "L/min ANR"),
    ("density", "a density", "density", "kg/m3", "kg/m3", "lb/ft3"),
    ("viscosity_dynamic", "a dynamic viscosity", "viscosity_dynamic", "Pa s", "mPa s", "mPa s"),
    ("viscosity_kinematic", "a kinematic viscosity", "viscosity_kinematic", "m2/s", "mm2/s", "mm2/s"),
    ("specific_energy", "a specific energy", "specific_energy", "J/kg", "MJ/kg", "Btu/lb"),
    ("consumption_energy", "a specific consumption", "consumption_energy", "kg/J", "g/kWh", "lb/(mech hp h)"),
    ("consumption_distance", "a consumption per distance", "consumption_distance", "m3/m", "L/1000 km",
     "US qt/1000 mi"),
    ("mass_distance", "a mass per distance", "mass_distance", "kg/m", "g/km", "g/mi"),
    ("acceleration", "an acceleration", "acceleration", "m/s2", "m/s2", "ft/s2"),
    ("voltage", "a voltage", "voltage", "V", "V", "V"),
    ("current", "a current", "current", "A", "A", "A"),
    ("resistance", "a resistance", "resistance", "ohm", "ohm", "ohm"),
    ("capacitance", "a capacitance", "capacitance", "F", "pF", "pF"),
    ("inductance", "an inductance", "inductance", "H", "mH", "mH"),
    ("charge", "an electric charge", "charge", "C", "A h", "A h"),
    ("data_size", "an amount of data", "data_size", "B", "kB", "kB"),
    ("data_rate", "a data rate", "data_rate", "B/s", "kB/s", "kB/s"),
    ("ratio", "a ratio", "ratio", "1", "1", "1"),
    ("share_volume", "a share by volume", "share_volume", "m3/m3", "%", "%"),
    ("share_mass", "a share by mass", "share_mass", "kg/kg", "%", "%"),
    ("share_trace", "a trace by mass", "share_mass", "kg/kg", "mg/kg", "mg/kg"),
    ("share_mole", "a share by amount", "share_mole", "mol/mol", "%", "%"),
    ("share_ppm", "a trace by amount", "share_mole", "mol/mol", "ppm", "ppm"),
    ("trace_distance", "a trace per distance", "share_mass_distance", "1/m", "mg/kg/1000 km",
     "mg/kg/1000 km"),
    ("acid_number", "an acid or base number", "acid_number", "kg/kg", "mgKOH/g", "mgKOH/g"),
    ("absorption", "an absorption of light", "absorption", "1/m", "1/m", "1/m"),
    ("count_density", "a number per volume", "count_density", "1/m3", "1/cm3", "1/cm3"),
    ("areal_density", "a number per area", "areal_density", "1/m2", "1/in2", "1/in2"),
    ("pressure_rotation", "a pressure per speed of rotation", "pressure_rotation", "Pa/(rev/s)",
     "kPa/1000 rpm", "psi/1000 rpm"),
    ("friction_gradient", "a gradient of friction", "friction_gradient", "s/m", "s/m", "s/m"),
)})
# fmt: on

#: Ending of a written pressure -> the kind that it claims; longer endings first.
PRESSURE_ENDINGS: Final = (
    ("absolute", "pressure_abs"),
    ("gauge", "pressure_gauge"),
    ("gage", "pressure_gauge"),
    ("diff", "pressure_difference"),
    ("abs", "pressure_abs"),
    ("a", "pressure_abs"),
    ("g", "pressure_gauge"),
    ("d", "pressure_difference"),
)
