"""Words and numbers as people read them. Units are chosen by kind; nothing here judges."""

from __future__ import annotations

from functools import cache
from math import floor, isfinite, log10
from typing import TYPE_CHECKING

from loadworthy.decide import is_named
from loadworthy.units import KINDS, display_unit, format_value, si_unit, to_unit

if TYPE_CHECKING:
    import re
    from collections.abc import Iterable, Mapping

    from loadworthy.declarations import Catalogue

#: Severity categories (MIL-STD-882E, table I, tailored).
SEVERITY: Mapping[int, str] = {
    1: "person hurt or vehicle out of control",
    2: "main unit lost",
    3: "component lost or stranded",
    4: "less than promised",
}
#: Distance (m) over which harm is reckoned (method, section 5; judgement).
HORIZON = 5e6
#: Bare temperatures above this (K) are read as a temperature, not as a difference.
_LEAST_TEMPERATURE = 200.0


def likelihood(p: float) -> str:
    """Return a probability in words: unlikely below 0.1, likely above 0.5, nearly certain above 0.95.

    >>> [likelihood(p) for p in (0.0999, 0.1, 0.5, 0.51, 0.95, 0.951)]
    ['unlikely', 'possible', 'possible', 'likely', 'likely', 'nearly certain']
    """
    if p < 0.1:
        return "unlikely"
    if p <= 0.5:
        return "possible"
    return "likely" if p <= 0.95 else "nearly certain"


def grade_word(grade: str | None) -> str:
    """Return a grade as it is said; none is ``unknown``."""
    return (grade or "unknown").replace("_", " ")


def at(subject: str | None, told: str = "") -> str:
    """Return a subject as it follows the thing that is there; nothing where the words before it name it already.

    >>> at("post 1"), at("wheel_nuts", "Wheel-nuts, front: loose"), at("wheel_nuts front"), at(None)
    (', post 1', '', ', wheel nuts front', '')
    """
    return f", {subject.replace('_', ' ')}" if subject and not is_named(subject, told) else ""


def percent(p: float) -> str:
    """Return a share in percent with two significant digits; certainty is never claimed by rounding.

    >>> percent(0.1056), percent(0.0042), percent(0.9996), percent(1.0), percent(0.0), percent(3e-9)
    ('11 %', '0.42 %', 'over 99 %', '100 %', '0 %', 'under 0.0001 %')
    """
    if p <= 0.0 or p >= 1.0:
        return f"{100.0 * p:.0f} %"
    if p < 1e-6:
        return "under 0.0001 %"
    if p > 0.99:
        return "over 99 %"
    share = 100.0 * p
    digits = 1 - floor(log10(float(f"{share:.1e}")))
    return f"{share:.{max(0, digits)}f} %"


def minutes(value: float | None) -> str:
    """Return working time as it stands behind a test, or nothing."""
    return f" ({value:g} min)" if value else ""


def figure(value: object, digits: int = 6) -> str:
    """Return a bare number with up to ``digits`` significant digits.

    >>> figure(0.1 + 0.2), figure(101325.0), figure(6.25e-08), figure(float("inf")), figure("stop")
    ('0.3', '101325', '6.25e-08', 'no end', 'stop')
    """
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return str(value)
    return f"{value + 0.0:.{digits}g}" if isfinite(value) else "no end"


def kind_of(unit: str) -> str:
    """Return the kind that an SI unit stands for, or an empty string. A unit of several kinds stands for the first.

    >>> kind_of("Pa gauge"), kind_of("N m"), kind_of("furlong")
    ('pressure_gauge', 'torque', '')
    """
    if unit in KINDS:
        return unit
    return next((kind.id for kind in KINDS.values() if kind.si == unit), "")


def shown(value: object, unit: str, system: str = "si", digits: int = 3) -> str:
    """Return a value in the asked system of units; ``unit`` is a unit kind, or an SI unit as plugins write it.

    What is in bare K may be a difference: it stays in K, with the temperature beside it where it can be one. So plugins
    had better name the kind, ``temperature`` or ``temperature_difference``.

    >>> shown(298.15, "K"), shown(15.0, "K"), shown(15.0, "K", "us"), shown(1.2e6, "Pa gauge", "us")
    ('298 K (25.0 degC)', '15.0 K', '27.0 degF', '174 psi gauge')
    """
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return str(value)
    if not isfinite(value):
        return "no end"
    if unit in ("", "1", "number", "ratio"):
        return figure(float(value), digits + 1)
    if unit == "K":
        if value < _LEAST_TEMPERATURE:
            return format_value(float(value), "temperature_difference", system=system, digits=digits)
        kelvin = format_value(float(value), "temperature_difference", digits=digits)
        return f"{kelvin} ({format_value(float(value), 'temperature', system=system, digits=digits)})"
    kind = kind_of(unit)
    if not kind:
        return f"{figure(float(value), digits + 1)} {unit}"
    return format_value(float(value), kind, system=system, digits=digits)


def measured(value: float, unit: str, system: str = "si", *, difference: bool = False) -> tuple[float, str]:
    """Return a number and its unit in the asked system; ``unit`` as for `shown`. No unit, and what is none, is empty.

    ``difference``: the value is a difference of two such values, say an uncertainty; it is given in the same unit.

    >>> measured(1.2e6, "Pa gauge"), measured(5e3, "Pa gauge", difference=True), measured(2.0, "temperature", "us")
    ((12.0, 'bar gauge'), (0.05, 'bar gauge'), (-456.07, 'degF'))
    """
    kind = kind_of(unit)
    if unit in ("", "1", "number"):
        return value, ""
    if not kind or unit == "K":
        return value, unit
    shown_in = display_unit(kind, system)
    number = to_unit(value, shown_in, kind) if isfinite(value) else value
    if difference:
        number -= to_unit(0.0, shown_in, kind)
    # Taking off the zero of a scale leaves noise.
    return round(number, 9) if kind == "temperature" else number, "" if shown_in == "1" else shown_in


def spread(u: float, unit: str, system: str = "si", digits: int = 3) -> str:
    """Return an uncertainty, which is a difference of its kind.

    >>> spread(5000.0, "pressure_gauge"), spread(2.0, "temperature", "us"), spread(2.0, "K")
    ('5.00 kPa', '3.60 degF', '2.00 K')
    """
    kind = kind_of(unit)
    return shown(u, KINDS[kind].difference if kind else unit, system, digits)


def unit_of(kind: str) -> str:
    """Return the SI unit of a kind for programs; what is no kind is a unit already.

    >>> unit_of("rotation"), unit_of("number"), unit_of("kg/J"), unit_of("text")
    ('rev/s', '1', 'kg/J', '')
    """
    if kind in KINDS:
        return si_unit(kind)
    return {"": "1", "number": "1", "text": ""}.get(kind, kind)


def in_prose(text: str, system: str) -> str:
    """Return free text with the quantities in it in US units; what stands in quotes was written so and stays.

    >>> in_prose('planned 21.3 bar at 60.0 degC, "16.9 bar" as written', "us")
    'planned 309 psi at 140 degF, "16.9 bar" as written'
    >>> in_prose("held at 390 N m", "si"), in_prose("70 to 100 degC", "us")
    ('held at 390 N m', '158 to 212 degF')
    """
    # Plugins word in metric units; nothing to convert without a number before a blank.
    if system == "si" or " " not in text:
        return text
    return _quantities().sub(_converted, text)


def source_text(text: str, mark: str, system: str) -> str:
    """Return the source of a number: what is published is quoted as it stands there, the rest is our own prose.

    >>> source_text("manual, table 3: 100 psi", "published", "si"), source_text("warm, 80 degC", "judgement", "us")
    ('manual, table 3: 100 psi', 'warm, 176 degF')
    """
    return text if mark == "published" else in_prose(text, system)


@cache
def _quantities() -> re.Pattern[str]:
    import re

    units = "|".join(re.escape(unit) for unit in sorted(_PROSE, key=len, reverse=True))
    number = r"-?\d+(?:\.\d+)?"
    return re.compile(rf'"[^"]*"|(?<![\w.,:/-])({number})(?: to ({number}))? ({units})(?![\w/^])')


#: Unit that people are shown -> kind, where only one kind of this unit is converted.
_PROSE = {
    "bar gauge": "pressure_gauge",
    "bar abs": "pressure_abs",
    "bar": "pressure_difference",
    "kPa": "pressure_difference",
    "N m": "torque",
    "kW": "power",
    "degC": "temperature",
    "km": "distance",
    "km/h": "speed",
    "g/kWh": "consumption_energy",
    "g/s": "flow_mass",
    "mm2": "area",
    "mm": "length",
    "cm3": "volume",
    "L": "volume",
    "kg": "mass",
    "kN": "force",
    "kJ": "energy",
    "MJ/kg": "specific_energy",
    "kg/m3": "density",
    "L/min": "flow_volume",
    "m/s2": "acceleration",
    "K": "temperature_difference",
}


#: Unit -> what the trade writes in its place, where that is not the unit in which the kind is shown.
_TRADE = {"cm3": "in3"}


def _converted(match: re.Match[str]) -> str:
    from loadworthy.units import from_unit

    number, upper, unit = match.group(1), match.group(2), match.group(3)
    if number is None:
        return match.group(0)
    kind = _PROSE[unit]
    shown_in = _TRADE.get(unit) or display_unit(kind, "us")
    both = [
        format_value(from_unit(float(one), unit, kind), kind, unit=shown_in, digits=_precise(one))
        for one in (number, upper)
        if one is not None
    ]
    return " to ".join((*(one.removesuffix(f" {shown_in}") for one in both[:-1]), both[-1]))


def _precise(number: str) -> int:
    return max(3, len(number.replace(".", "").lstrip("-0")))


def whole(value: float, kind: str, system: str) -> str:
    """Return a value as it stands in a table whose head names the unit: three digits, none after the point from 100 on.

    >>> (
    ...     whole(349.6, "torque", "si"),
    ...     whole(349.6, "torque", "us"),
    ...     whole(25.0, "rotation", "si"),
    ...     whole(0, "torque", "si"),
    ... )
    ('350', '258', '1500', '0')
    """
    spec = KINDS[kind]
    number = to_unit(value, spec.shown_us if system == "us" else spec.shown_si, kind)
    return f"{number + 0.0:.0f}" if abs(number) >= 99.5 or number == 0.0 else f"{number:.3g}"


def proofs(ids: Iterable[str], catalogue: Catalogue) -> str:
    """Return workshop tests in words, with the working time where it is declared."""
    known = catalogue.tests
    words = (f"{known[id].text}{minutes(known[id].minutes)}" if id in known else id for id in ids)
    return "; ".join(words)
