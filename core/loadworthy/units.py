"""Workshop units: reading a quantity as written, showing it, and the way to SI and back.

A quantity is text with its unit, ``"12.3 bar"``, with limits of error if known, ``"12.1 bar +- 0.2"``. What
kind of quantity a text must hold is said by its reader (`KINDS`): gauge and absolute pressure are different
kinds, so are a temperature and a temperature difference. Nothing is guessed: a bare number, a unit with two
meanings ("gal", "hp", "ton") or a number with two readings ("1,020") is a `UnitError` with what to write.

Reading uses string methods alone, on at most 200 characters, in linear time; regular expressions and difflib
only word an error. Units and kinds are data in `unit_table`.
"""

from __future__ import annotations

from functools import cache

from loadworthy.record import NamedTuple
from loadworthy.unit_table import AMBIGUOUS, KINDS, PRESSURE_ENDINGS, SPREADS, TABLES, ZEROS, Kind

__all__ = [
    "KINDS",
    "Amount",
    "Kind",
    "UnitError",
    "display_unit",
    "format_value",
    "from_unit",
    "parse",
    "si_unit",
    "to_unit",
    "units_of",
]

_MAX_TEXT = 200
#: Magnitudes beyond these are slips of the pen; between them no conversion overflows or loses digits.
_LEAST, _MOST = 1e-100, 1e100
_PRESSURE_NAMES = {"pressure_abs": "abs", "pressure_gauge": "gauge", "pressure_difference": ""}


class UnitError(ValueError):
    """A text is not the quantity that is needed: `problem` says why, `write` says what to write instead."""

    def __init__(self, problem: str, write: str) -> None:
        super().__init__(problem, write)
        self.problem = problem
        self.write = write

    def __str__(self) -> str:
        """Return both in one sentence."""
        return f"{self.problem}; {self.write}"


class Amount(NamedTuple):
    """A quantity as read.

    `value` is SI. `u` is its standard uncertainty in SI where the text states one: "+- x" states limits of
    error, taken as a rectangular distribution, u = x/sqrt(3) (JCGM 100:2008, 4.3.7); the unit "hp?" adds
    one of its own. `unit` is the written unit in its canonical spelling, `text` is what was read.
    """

    value: float
    u: float | None
    unit: str
    text: str


def parse(text: str, kind: str) -> Amount:
    """Read a quantity of a kind (an id of `KINDS`) and return it in SI; raise `UnitError` on any other text.

    After "+-" stands a number in the unit of the value, a number with a unit of its own, or a percentage of
    the value (points where the value itself is in %).

    >>> parse("12.1 bar +- 2 %", "pressure_gauge").value
    1210000.0
    >>> parse("1,8 bar(a)", "pressure_abs")
    Amount(value=180000.0, u=None, unit='bar', text='1,8 bar(a)')
    """
    spec = KINDS[kind]
    if len(text) > _MAX_TEXT:
        raise UnitError(f"a quantity has at most {_MAX_TEXT} characters", f"write {_example('12.3', spec)}")
    plain = text if text.isascii() else text.translate(_typography())
    first, mark, second = " ".join(plain.replace("+/-", "+-").split()).partition("+-")
    number, unit = _split(first.rstrip(), spec)
    if mark:
        limit, limit_unit = _split(second.lstrip(), spec)
        canonical, per_one = _limit_scale(first.rstrip(), number, unit, second.lstrip(), limit_unit, spec)
        half = _within(limit * per_one, text)
        if half <= 0.0:
            raise UnitError(
                f"{_quote(text)} states no uncertainty above zero",
                'write the limits of error after "+-", or leave them out',
            )
    else:
        canonical = _resolve(unit, spec, first)
        half = 0.0
    value = _within(_to_si(number, canonical, spec), text)
    if value < 0.0 and kind in ("pressure_abs", "temperature"):
        raise UnitError(f"{_quote(text)} is below absolute zero", "write the unit in which it was read")
    spread = SPREADS.get(canonical, 0.0) * abs(value)
    u = (half * half / 3.0 + spread * spread) ** 0.5
    return Amount(value, u or None, canonical, text)


def from_unit(value: float, unit: str, kind: str) -> float:
    """Return in SI what is ``value`` in a unit of the kind; raise `UnitError` if the unit is not one."""
    spec = KINDS[kind]
    return _to_si(value, _named(unit, spec), spec)


def to_unit(value: float, unit: str, kind: str) -> float:
    """Return in a unit of the kind what is ``value`` in SI; raise `UnitError` if the unit is not one.

    >>> to_unit(300.0, "degC", "temperature")
    26.850000000000023
    """
    spec = KINDS[kind]
    canonical = _named(unit, spec)
    scaled = value / TABLES[spec.table][canonical][0]
    return scaled - ZEROS.get(canonical, 0.0) if spec.id == "temperature" else scaled


def display_unit(kind: str, system: str = "si") -> str:
    """Return the unit in which people are shown the kind: ``"si"`` (workshop metric) or ``"us"``."""
    if system not in ("si", "us"):
        raise ValueError(f'unit system is "si" or "us", not {system!r}')
    spec = KINDS[kind]
    return spec.shown_us if system == "us" else spec.shown_si


def si_unit(kind: str) -> str:
    """Return the unit of stored values of the kind, as it stands beside numbers in JSON."""
    return KINDS[kind].si


def units_of(kind: str) -> tuple[str, ...]:
    """Return what may be written for the kind, in canonical spelling, SI first; "1" stands for no unit."""
    return tuple(TABLES[KINDS[kind].table])


def format_value(value: float, kind: str, *, system: str = "si", digits: int = 3, unit: str | None = None) -> str:
    """Return an SI value for people, in the display unit of the system or in a given unit of the kind.

    It has at least ``digits`` significant digits; digits before the decimal point are never rounded away.
    Values below 1e-4 or from 1e9 on are written with an exponent. `parse` reads every result.

    >>> format_value(1.231e6, "pressure_gauge"), format_value(91.75, "rotation"), format_value(-0.0, "torque")
    ('12.3 bar gauge', '5505 rpm', '0 N m')
    """
    if not 1 <= digits <= 17:
        raise ValueError(f"digits are 1 to 17, not {digits}")
    if not abs(value) <= _MOST:
        raise UnitError(f"{value!r} is not a finite quantity", "give a finite number in SI")
    shown = display_unit(kind, system) if unit is None else unit
    number = to_unit(value, shown, kind)
    if kind == "temperature":
        # Taking off the zero of a scale leaves noise of 1e-13 where 0 is meant.
        number = round(number, 9)
    text = _digits(number, digits)
    return text if shown == "1" else f"{text} {shown}"


def _digits(number: float, digits: int) -> str:
    if number == 0.0:
        return "0"
    scientific = f"{number:.{digits - 1}e}"
    exponent = int(scientific.partition("e")[2])
    if not -4 <= exponent < 9:
        return scientific
    return f"{number:.{max(0, digits - 1 - exponent)}f}"


def _to_si(number: float, canonical: str, spec: Kind) -> float:
    if spec.id == "temperature":
        number += ZEROS.get(canonical, 0.0)
    return number * TABLES[spec.table][canonical][0]


def _within(value: float, text: str) -> float:
    """Return a value of sane magnitude, a negative zero as zero."""
    if value != 0.0 and not _LEAST <= abs(value) <= _MOST:
        raise UnitError(f"{_quote(text)} is beyond all measure", "write a number that can be measured")
    return value + 0.0


def _split(part: str, spec: Kind) -> tuple[float, str]:
    """Return the number that a text begins with and the unit text behind it."""
    rest = part.lstrip("+-.,0123456789eE")
    run = part[: len(part) - len(rest)]
    decimal = run
    if "," in run:
        head, _, tail = run.partition(",")
        group = tail.lower().partition("e")[0]
        if len(group) == 3 and group.isdigit() and head.strip("+-0").isdigit():
            raise UnitError(
                f'"{run}" can be read in two ways',
                f'write "{_join(head + "." + tail, rest)}" or "{_join(head + tail, rest)}"',
            )
        decimal = f"{head}.{tail}" if group.isdigit() and "." not in head else ""
    try:
        number = float(decimal)
    except ValueError:
        raise _misread(part) or UnitError(
            f"{_quote(part)} does not begin with a number", f"write {_example('12.3', spec)}"
        ) from None
    if number == 0.0 and decimal.lower().partition("e")[0].strip("+-.0"):
        raise UnitError(f"{_quote(run)} is beyond all measure", "write a number that can be measured")
    unit = rest.lstrip()
    if unit[:1].isdigit() and "/" not in unit:
        raise _misread(part) or UnitError(f"{_quote(part)} holds two numbers", f"write {_example(run, spec)}")
    return _within(number, part), unit


def _limit_scale(first: str, number: float, unit: str, second: str, limit_unit: str, spec: Kind) -> tuple[str, float]:
    """Return the canonical unit of a value and what one of its limits of error is in SI."""
    table = TABLES[spec.table]
    if not unit and limit_unit:  # "12.1 +- 0.2 bar": one unit behind both
        if limit_unit == "%" and "1" in table:
            raise UnitError(
                f'"{first} +- {second}" can be read in two ways',
                f'write "{first} % +- {second}" or two bare numbers',
            )
        if limit_unit == "%" and "%" not in table:
            raise _unit_error("", spec, first)
        canonical = _resolve(limit_unit, spec, second)
        return canonical, table[canonical][0]
    canonical = _resolve(unit, spec, first)
    if limit_unit == "%" and canonical != "%":
        if spec.id == "temperature":
            raise UnitError(
                "a percentage of a temperature depends on its scale",
                f'write the limits in K, as in "{first} +- 2 K"',
            )
        return canonical, abs(number) / 100.0 * table[canonical][0]
    if limit_unit in ("", unit):
        return canonical, table[canonical][0]
    return canonical, table[_resolve(limit_unit, KINDS[spec.difference], second)][0]


def _named(unit: str, spec: Kind) -> str:
    return unit if unit in TABLES[spec.table] else _resolve(unit, spec, f"1 {unit}")


def _resolve(unit: str, spec: Kind, part: str) -> str:
    """Return the canonical spelling of a written unit; ``part`` is the text around it, for the error."""
    canonical = _spellings(spec.table)[0].get(unit) or _find(unit, spec.table)
    if canonical is None and spec.table == "pressure":
        canonical, claimed = _ending(unit)
        if canonical is not None and claimed != spec.id:
            meant = f"{_run(part)} {canonical} {_PRESSURE_NAMES[spec.id]}".rstrip()
            raise UnitError(
                f"{_quote(unit)} is {KINDS[claimed].name}, here {spec.name} is needed",
                f'write "{meant}" if that was read, else convert it first',
            )
    if canonical is None:
        raise _unit_error(unit, spec, part)
    return canonical


def _find(unit: str, table: str) -> str | None:
    """Return the canonical spelling of a unit of a table, forgiving its separators and its case."""
    exact, folded = _spellings(table)
    plain = _plain(unit)
    found = exact.get(plain)
    if found is not None or _choices(plain, table):
        return found
    spelling = folded.get(plain.casefold())
    if spelling is None or (
        # Milli is not mega: where the letter is a prefix its case must be right.
        plain[0] != spelling[0] and plain[0] in "mM" and spelling[1:] in exact
    ):
        return None
    return exact[spelling]


@cache
def _spellings(table: str) -> tuple[dict[str, str], dict[str, str]]:
    """Return spelling -> canonical, and case-folded spelling -> spelling where that is unambiguous."""
    exact: dict[str, str] = {}
    for canonical, (_, others) in TABLES[table].items():
        for spelling in (canonical, _plain(canonical), *(others.split(",") if others else ())):
            if spelling != "1":  # the SI unit of a ratio, written as nothing
                exact[spelling] = exact[spelling.replace(" ", "")] = canonical
    folded: dict[str, str] = {}
    clashes = set()
    for spelling, canonical in exact.items():
        if exact[folded.setdefault(spelling.casefold(), spelling)] != canonical:
            clashes.add(spelling.casefold())
    return exact, {key: spelling for key, spelling in folded.items() if key not in clashes}


def _plain(unit: str) -> str:
    """Return a unit with its separators as single spaces: "N·m", "lb-ft", "bar(a)", "m/s^2"."""
    text = unit.replace("^", "").replace(" per ", "/")
    text = "".join(
        " " if char in "._*()" or (char == "-" and not text[at + 1 : at + 2].isdigit()) else char
        for at, char in enumerate(text)
    )
    return " ".join(text.split()).replace(" /", "/").replace("/ ", "/")


def _ending(unit: str) -> tuple[str | None, str]:
    """Return the unit of a pressure written with "abs", "gauge" or the like, and the kind so claimed."""
    plain = _plain(unit)
    for ending, kind in PRESSURE_ENDINGS:
        if plain.casefold().endswith(ending):
            found = _find(plain[: -len(ending)].rstrip(), "pressure")
            if found is not None:
                return found, kind
    return None, ""


def _choices(plain: str, table: str) -> tuple[str, ...]:
    """Return the units that an ambiguous spelling could mean."""
    key = plain.casefold()
    for spelling, meanings in AMBIGUOUS.get(table, {}).items():
        if key in (spelling, spelling.replace(" ", "")):
            return meanings
    return ()


@cache
def _typography() -> dict[int, str]:
    """Return what stands for each character that phones, word processors and keyboards put in its place."""
    pairs = (
        ("\u2010\u2011\u2012\u2013\u2014\u2212", "-"),  # hyphens, dashes, minus
        ("\u00b7\u22c5\u2219\u00d7", "*"),  # centred dots, times
        ("\u2044\u2215", "/"),
        ("\u00b0\u00ba\u02da", "deg"),
        ("\u00b5\u03bc", "u"),
        ("\u03a9\u2126", "ohm"),
        ("\u2019\u2032", "'"),
        ("\u200b\u200c\u200d\u2060\ufeff", ""),  # of no width
        ("\u00b1", "+-"),
        ("\u2103", "degC"),
        ("\u2109", "degF"),
        # A raised digit behind a number stays apart from it, and is refused there.
        ("\u00b9", "^1"),
        ("\u00b2", "^2"),
        ("\u00b3", "^3"),
        ("\u207b", "^-"),
        ("\u00bd", " 1/2"),
        ("\u00bc", " 1/4"),
        ("\u00be", " 3/4"),
        ("\u215b", " 1/8"),
        ("\u215c", " 3/8"),
        ("\u215d", " 5/8"),
        ("\u215e", " 7/8"),
    )
    table = {0xFF01 + at: chr(0x21 + at) for at in range(94)}  # full-width forms of ASCII
    table.update((ord(char), plain) for characters, plain in pairs for char in characters)
    return table


def _unit_error(unit: str, spec: Kind, part: str) -> UnitError:
    """Word why a text is no unit of the kind."""
    misread = _misread(part)
    if misread is not None:
        return misread
    taken = ", ".join("no unit" if name == "1" else name for name in units_of(spec.id))
    if not unit:
        example = _example(_run(part), spec)
        return UnitError(f"{_quote(part)} has no unit", f"write it, as in {example}: one of {taken}")
    plain = _plain(unit)
    choices = _choices(plain, spec.table)
    if choices:
        named = " or ".join(f'"{choice}"' for choice in choices)
        return UnitError(f"{_quote(unit)} has more than one meaning", f"write {named}")
    other = _other_kind(plain, spec)
    if other:
        return UnitError(f"{_quote(unit)} is {other}, here {spec.name} is needed", f"write one of {taken}")
    near = _nearest(plain, spec.table)
    return UnitError(
        f"{_quote(unit)} is no unit of {spec.name}", f'write "{near}"' if near else f"write one of {taken}"
    )


def _other_kind(plain: str, spec: Kind) -> str:
    """Return what else a unit measures, with its article, or nothing."""
    if spec.table != "pressure" and (_find(plain, "pressure") or _ending(plain)[0]):
        return "a pressure"
    for other in KINDS.values():
        if other.table != spec.table and (_find(plain, other.table) or _choices(plain, other.table)):
            return other.name
    return ""


def _nearest(plain: str, table: str) -> str | None:
    if len(plain) > 30:
        return None
    from difflib import get_close_matches

    exact, folded = _spellings(table)
    close = get_close_matches(plain, exact, n=1, cutoff=0.6)
    spelling = close[0] if close else folded.get(plain.casefold())
    return exact[spelling] if spelling is not None else None


def _misread(part: str) -> UnitError | None:
    """Word why a text that looks like a number is not read as one, if that is known."""
    import re

    whole = re.match(r"([+-]?)(?:([0-9]{1,9})[ -])?([0-9]{1,9}) ?/ ?([0-9]{1,9})(?![0-9])(.*)", part)
    if whole and int(whole[4]):
        decimal = f"{whole[1]}{int(whole[2] or 0) + int(whole[3]) / int(whole[4]):.6g}"
        return UnitError(f"{_quote(part)} is a fraction", f'write "{_join(decimal, whole[5])}"')
    spaced = re.match(r"([+-]?[0-9]{1,3}(?:[ '_][0-9]{3})+(?:[.,][0-9]+)?)(?![0-9])(.*)", part)
    if spaced:
        digits = re.sub("[ '_]", "", spaced[1])
        return UnitError(f"{_quote(spaced[1])} has separators inside", f'write "{_join(digits, spaced[2])}"')
    # Groups of three behind one sign, perhaps a decimal behind the other: 1,234.5 or 1.234.567
    grouped = re.match(r"([+-]?[0-9]{1,3})([.,])([0-9]{3}(?:\2[0-9]{3})*)(?:(?!\2)[.,]([0-9]+))?(?![0-9.,])(.*)", part)
    if grouped:
        digits = grouped[1] + re.sub("[.,]", "", grouped[3]) + (f".{grouped[4]}" if grouped[4] else "")
        return UnitError(f"{_quote(part)} has separators inside", f'write "{_join(digits, grouped[5])}"')
    return None


def _run(part: str) -> str:
    """Return the number that a text begins with, as written, or a sample."""
    return part[: len(part) - len(part.lstrip("+-.,0123456789eE"))] or "12.3"


def _example(number: str, spec: Kind) -> str:
    return _quote(number if spec.shown_si == "1" else f"{number} {spec.shown_si}")


def _join(number: str, rest: str) -> str:
    unit = "".join(char if char.isprintable() else "?" for char in rest.strip())
    return f"{number} {unit}".rstrip()


def _quote(text: str) -> str:
    """Return a text in quotes, fit to be printed: short, and without control characters."""
    short = text if len(text) <= 40 else f"{text[:37]}..."
    return '"' + "".join(char if char.isprintable() else "?" for char in short) + '"'
