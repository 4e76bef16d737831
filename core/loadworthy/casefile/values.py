"""From what is written under a key to its value, as the key's `Field` declares it."""

from __future__ import annotations

from collections.abc import Mapping
from math import isfinite
from typing import TYPE_CHECKING, Any, Final

from loadworthy.case import Curve, Reading
from loadworthy.casefile.days import Days
from loadworthy.casefile.faults import plain, show
from loadworthy.casefile.uncertainty import Gauge, combine
from loadworthy.errors import DeclarationError
from loadworthy.record import NamedTuple, frozen_mapping
from loadworthy.unit_table import SPREADS
from loadworthy.units import KINDS, UnitError, display_unit, format_value, from_unit, parse, to_unit, units_of

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from loadworthy.casefile.faults import Faults
    from loadworthy.declarations import Field
    from loadworthy.units import Amount

#: Stands for a value that cannot be used; its fault has been added.
BAD: Final[Any] = object()

_LONGEST_SUBJECT = 40


class Tool(NamedTuple):
    """An instrument as readings see it."""

    id: str
    kind: str
    gauge: Gauge

    def measures(self, kind: str) -> bool:
        """Whether it reads quantities of the kind: its own, or any pressure where it reads pressures."""
        return kind == self.kind or (kind in KINDS and KINDS[kind].table == "pressure" == KINDS[self.kind].table)


class Values:
    """Reads tables by their fields and adds a fault for whatever is wrong.

    ``vehicle`` steers usual ranges that depend on the vehicle; ``used`` collects the instruments that were applied.
    While ``unfinished`` is true a table may lack what is required.
    """

    __slots__ = ("_by_name", "_readers", "days", "faults", "unfinished", "used", "vehicle")

    def __init__(self, faults: Faults, days: Days) -> None:
        self.faults = faults
        self.days = days
        self.vehicle: Mapping[str, Any] = {}
        self.used: set[str] = set()
        self.unfinished = False
        self._by_name: dict[int, dict[str, Field]] = {}
        self._readers: dict[str, Callable[..., Any]] = {
            "quantity": self._reading,
            "number": self._number,
            "count": self._count,
            "choice": self._choice,
            "text": self._text,
            "flag": self._flag,
            "date": self._date,
            "curve": self._curve,
            "series": self._series,
            "record": self._record,
        }

    def table(
        self,
        raw: Mapping[Any, Any],
        fields: Mapping[str, Field],
        place: str,
        *,
        skip: Sequence[str] = (),
        u: Mapping[str, Any] | None = None,
        tool: Tool | None = None,
        tools: Mapping[str, Tool] | None = None,
    ) -> dict[str, Any]:
        """Return the values of one table in order of the fields, whatever the order in the file.

        ``u`` holds stated uncertainties by field, ``tools`` instruments by field, ``tool`` the one for all others.
        Keys in ``skip`` are dealt with by the caller.
        """
        found: dict[str, Any] = {}
        for name, written in raw.items():
            if name in skip:
                continue
            field = fields.get(name)
            if field is None:
                self._unknown(name, fields, place)
            else:
                value = self._field(
                    written,
                    field,
                    f"{place}.{name}",
                    u.get(name) if u else None,
                    tools.get(name, tool) if tools else tool,
                )
                if value is not BAD:
                    found[name] = value
        for field in fields.values():
            if field.required and field.name not in raw and not self.unfinished:
                write = f"write {field.name} = ..." + (f" ({field.text})" if field.text else "")
                self.faults.add("missing-key", place, f"{field.name} is missing", write)
        return {name: found[name] for name in fields if name in found}

    def fields_of(self, field: Field) -> dict[str, Field]:
        """Return the fields of a record or of rows by name."""
        by_name = self._by_name.get(id(field))
        if by_name is None:
            by_name = self._by_name[id(field)] = {inner.name: inner for inner in field.fields}
        return by_name

    def amount(self, raw: Any, kind: str, place: str, usual: Sequence[float | None] = ()) -> Any:
        """Return a quantity as an `Amount`, or `BAD`. ``usual``, if closed, helps to guess a missing unit."""
        if isinstance(raw, str):
            text = raw
        elif isinstance(raw, (int, float)) and not isinstance(raw, bool):
            if isinstance(raw, float) and not isfinite(raw):
                self._wrong(raw, "a finite number", place, "leave it out if it was not read")
                return BAD
            endless = isinstance(raw, int) and raw.bit_length() > 200
            if "1" not in units_of(kind) or endless:
                units = [] if endless else self._fitting(raw, kind, usual)
                units = units or [display_unit(kind)]
                write = " or ".join(f'"{show(raw)} {unit}"' for unit in units)
                self.faults.add("unit-missing", place, f"{show(raw)} has no unit", f"write {write}")
                return BAD
            text = repr(raw)
        else:
            self._wrong(raw, f"text with {KINDS[kind].name}", place, f'write it as "12.3 {display_unit(kind)}"')
            return BAD
        try:
            return parse(text, kind)
        except UnitError as error:
            self.faults.add("bad-quantity", place, error.problem, error.write)
            return BAD

    def _unknown(self, name: Any, fields: Mapping[str, Field], place: str) -> None:
        if not isinstance(name, str):
            self.faults.add("wrong-type", place, f"{show(name)} is no key", "keys are text")
            return
        write = self.faults.one_of(name, fields)
        self.faults.add("unknown-key", f"{place}.{plain(name)}", "no such key here", write)

    def _wrong(self, raw: Any, needed: str, place: str, write: str = "") -> None:
        self.faults.add("wrong-type", place, f"{show(raw)} stands where {needed} is needed", write)

    def _field(self, raw: Any, field: Field, place: str, u: Any, tool: Tool | None) -> Any:
        if not field.per:
            return self._each(raw, field, place, u, tool)
        if not isinstance(raw, Mapping):
            self._wrong(raw, f"a value for each {field.per}", place, f"write {field.name} = {{1 = ..., 2 = ...}}")
            return BAD
        found: dict[str, Any] = {}
        for key, written in raw.items():
            subject = self._subject(key, field, place)
            if subject is BAD:
                continue
            own = u.get(subject) if isinstance(u, dict) and field.type == "quantity" else u
            value = self._each(written, field, f"{place}.{subject}", own, tool)
            if value is not BAD:
                found[subject] = value
        return frozen_mapping({key: found[key] for key in sorted(found, key=_natural)})

    def _subject(self, key: Any, field: Field, place: str) -> Any:
        text = str(key) if isinstance(key, int) and not isinstance(key, bool) else key
        if not isinstance(text, str) or not 0 < len(text) <= _LONGEST_SUBJECT or not text.isprintable():
            self.faults.add("bad-subject", place, f"{show(key)} names no {field.per}")
            return BAD
        short = text.removeprefix(field.per).strip()
        short = short.lstrip("0") or "0" if short.isdecimal() else short
        if short != text or not short or "@" in short or "#" in short:
            write = f"write {short}" if short and short != text else ""
            self.faults.add("bad-subject", f"{place}.{text}", f"this names no {field.per}", write)
            return BAD
        return text

    def _each(self, raw: Any, field: Field, place: str, u: Any, tool: Tool | None) -> Any:
        """Read one value, a list of them, or a list of lists, as the field says."""
        if field.type == "rows":
            return self._list(raw, field, place, lambda row, at: self._record(row, field, at, u, tool))
        reader = self._readers[field.type]
        if not field.nested and not field.many:
            return reader(raw, field, place, u, tool)

        def one(item: Any, at: str) -> Any:
            return reader(item, field, at, u, tool)

        if field.nested:
            return self._list(raw, field, place, lambda inner, at: self._list(inner, field, at, one))
        return self._list(raw, field, place, one)

    def _list(self, raw: Any, field: Field, place: str, one: Callable[[Any, str], Any]) -> Any:
        if not isinstance(raw, (list, tuple)):
            self._wrong(raw, "a list", place, f"write {field.name} = [...]")
            return BAD
        found = tuple(one(item, f"{place}[{at}]") for at, item in enumerate(raw, 1))
        return BAD if any(item is BAD for item in found) else found

    def _record(self, raw: Any, field: Field, place: str, u: Any, tool: Tool | None) -> Any:
        if not isinstance(raw, Mapping):
            self._wrong(raw, "a table", place, "write {key = value, ...}")
            return BAD
        stated = u if isinstance(u, dict) else None
        return frozen_mapping(self.table(raw, self.fields_of(field), place, u=stated, tool=tool))

    def _reading(self, raw: Any, field: Field, place: str, u: Any, tool: Tool | None) -> Any:
        usual = self._usual(field)
        kind = field.kind
        if kind not in KINDS:
            raise DeclarationError(f'field {field.name} is declared with the unknown unit kind "{kind}"')
        if isinstance(raw, (list, tuple)):
            if not raw:
                self.faults.add("bad-value", place, "an empty list of repeats", "write the readings, or no such key")
                return BAD
            amounts = [self.amount(item, kind, f"{place}[{at}]", usual) for at, item in enumerate(raw, 1)]
            if any(amount is BAD for amount in amounts):
                return BAD
            places = [f"{place}[{at}]" for at in range(1, len(raw) + 1)]
            if not all(self._possible(a, field, at) for a, at in zip(amounts, places, strict=True)):
                return BAD
        else:
            amount = self.amount(raw, kind, place, usual)
            if amount is BAD or not self._possible(amount, field, place):
                return BAD
            amounts = [amount]
        stated = spread = None
        for amount in amounts:
            if amount.u is None:
                continue
            if states_limits(amount):
                stated = max(amount.u, stated or 0.0)
            else:
                spread = max(amount.u, spread or 0.0)
        if stated is not None and u is not None:
            self.faults.add(
                "stated-twice", place, "its uncertainty is stated here and under u", "delete one of the two"
            )
            return BAD
        gauge = None
        if tool is not None and tool.measures(kind):
            gauge = tool.gauge
            self.used.add(tool.id)
        mean, total, parts = combine(
            [amount.value for amount in amounts],
            stated=stated if u is None else u,
            gauge=gauge,
            default=field.u,
            default_relative=field.u_relative,
            spread=spread,
        )
        first = amounts[0]
        if usual:
            self._note_unusual(mean, first, usual, kind, place)
        return Reading(
            mean,
            total,
            kind,
            first.unit,
            first.text if len(amounts) == 1 else "; ".join(amount.text for amount in amounts),
            tuple(amount.value for amount in amounts) if isinstance(raw, (list, tuple)) else (),
            parts,
            tool.id if gauge is not None and tool is not None else "",
        )

    def _usual(self, field: Field) -> tuple[float | None, float | None] | tuple[()]:
        return usual_range(field, self.vehicle)

    def _possible(self, amount: Amount, field: Field, place: str) -> bool:
        if field.possible is None or _within(amount.value, field.possible):
            return True
        number = to_unit(amount.value, amount.unit, field.kind)
        units = [
            unit
            for unit in self._fitting(number, field.kind, self._usual(field) or field.possible)
            if unit != amount.unit
        ]
        suggested = " or ".join(f'"{number:.12g} {unit}"' for unit in units)
        self.faults.add(
            "impossible",
            place,
            f'"{plain(amount.text)}" is impossible here, {_range(field.possible, field.kind)}',
            f"did you mean {suggested}?" if suggested else "read the instrument again",
        )
        return False

    def _note_unusual(
        self, mean: float, first: Amount, usual: tuple[float | None, float | None], kind: str, place: str
    ) -> None:
        if _within(mean, usual):
            return
        number = to_unit(mean, first.unit, kind)
        units = [unit for unit in self._fitting(number, kind, usual) if unit != first.unit]
        suggested = " or ".join(f'"{number:.6g} {unit}"' for unit in units)
        self.faults.note(
            "unusual",
            place,
            f'"{number:.6g} {first.unit}" is unusual, {_range(usual, kind)}',
            f"did you mean {suggested}?" if suggested else "",
        )

    def _fitting(self, number: float, kind: str, bounds: Sequence[float | None]) -> list[str]:
        """Return the units, two at most, in which the number would lie within closed bounds."""
        if len(bounds) != 2 or bounds[0] is None or bounds[1] is None:
            return []
        fits = [
            unit for unit in units_of(kind) if unit != "1" and bounds[0] <= from_unit(number, unit, kind) <= bounds[1]
        ]
        return fits[:2]

    def _number(self, raw: Any, field: Field, place: str, *_: Any) -> Any:
        if isinstance(raw, bool) or not isinstance(raw, (int, float)):
            self._wrong(raw, "a number", place, "write it without quotes and unit")
            return BAD
        number = float(raw) if isinstance(raw, float) or raw.bit_length() <= 200 else float("inf")
        if not isfinite(number):
            self.faults.add("bad-value", place, f"{show(raw)} is no usable number", "write a finite number")
            return BAD
        return number if self._in_range(number, field, place) else BAD

    def _count(self, raw: Any, field: Field, place: str, *_: Any) -> Any:
        if isinstance(raw, bool) or not isinstance(raw, int):
            whole = isinstance(raw, float) and isfinite(raw) and raw == int(raw)
            self._wrong(raw, "a whole number", place, f"write {int(raw)}" if whole else "write it without quotes")
            return BAD
        if raw.bit_length() > 63:
            self.faults.add("bad-value", place, f"{show(raw)} is no usable number")
            return BAD
        return raw if self._in_range(raw, field, place) else BAD

    def _in_range(self, number: float, field: Field, place: str) -> bool:
        if field.possible is not None and not _within(number, field.possible):
            self.faults.add("impossible", place, f"{number:.12g} is impossible here, {_range(field.possible)}")
            return False
        usual = self._usual(field)
        if usual and not _within(number, usual):
            self.faults.note("unusual", place, f"{number:.12g} is unusual, {_range(usual)}")
        return True

    def _choice(self, raw: Any, field: Field, place: str, *_: Any) -> Any:
        if isinstance(raw, str) and raw in field.choices:
            return raw
        if isinstance(raw, str):
            write = self.faults.one_of(raw, field.choices)
            self.faults.add("bad-choice", place, f"{show(raw)} is none of the choices", write)
        else:
            self._wrong(raw, f"one of {', '.join(field.choices[:12])}", place, "write it in quotes")
        return BAD

    def _text(self, raw: Any, field: Field, place: str, *_: Any) -> Any:
        if field.kind == "time":
            return self.days.time(raw, place) or BAD
        if not isinstance(raw, str):
            self._wrong(raw, "text", place, "write it in quotes")
            return BAD
        if not raw.isprintable() and any(_is_control(char) for char in raw):
            self.faults.add("bad-value", place, "the text holds a control character", "write it anew")
            return BAD
        return raw

    def _flag(self, raw: Any, field: Field, place: str, *_: Any) -> Any:
        if isinstance(raw, bool):
            return raw
        self._wrong(raw, "true or false", place, "write true or false, without quotes")
        return BAD

    def _date(self, raw: Any, field: Field, place: str, *_: Any) -> Any:
        return self.days.day(raw, place) or BAD

    def _curve(self, raw: Any, field: Field, place: str, *_: Any) -> Any:
        if not isinstance(raw, Mapping) or not raw:
            example = f'{{"2000 rpm" = "12.3 {display_unit(field.kind)}", ...}}'
            self._wrong(raw, "a table over speed", place, f"write {field.name} = {example}")
            return BAD
        points: dict[float, float] = {}
        good = True
        for key, written in raw.items():
            at = f"{place}.{plain(str(key))}"
            speed = self.amount(key, "rotation", at)
            value = self.amount(written, field.kind, at)
            if speed is BAD or value is BAD:
                good = False
            elif speed.u is not None or states_limits(value):
                good = False
                self.faults.add("bad-value", at, "points of a curve take no uncertainty", 'leave out "+- ..."')
            elif speed.value < 0.0 or speed.value in points:
                good = False
                problem = "this speed is negative" if speed.value < 0.0 else "this speed stands twice"
                self.faults.add("bad-value", at, problem, "write each speed once")
            elif not self._possible(value, field, at):
                good = False
            else:
                points[speed.value] = value.value
        if not good:
            return BAD
        speeds = sorted(points)
        return Curve(tuple(speeds), tuple(points[speed] for speed in speeds))

    def _series(self, raw: Any, field: Field, place: str, *_: Any) -> Any:
        """Read evenly spaced samples: a mapping of ``every`` (s), ``unit`` (as written) and ``values`` (SI)."""
        example = f'{field.name} = {{every = "1 ms", unit = "{display_unit(field.kind)}", values = [1.2, ...]}}'
        if not isinstance(raw, Mapping) or set(raw) != {"every", "unit", "values"}:
            self._wrong(raw, "a table of every, unit and values", place, f"write {example}")
            return BAD
        every = self.amount(raw["every"], "time", f"{place}.every")
        if every is not BAD and every.value <= 0.0:
            self.faults.add("bad-value", f"{place}.every", "the interval is not above zero")
            every = BAD
        unit, values = raw["unit"], raw["values"]
        if not isinstance(unit, str):
            self._wrong(unit, "a unit", f"{place}.unit", f'write unit = "{display_unit(field.kind)}"')
            return BAD
        one = self.amount(f"1 {unit}", field.kind, f"{place}.unit")
        if one is not BAD and one.u is not None:
            self.faults.add("bad-value", f"{place}.unit", "samples take no uncertainty", "write the unit alone")
            one = BAD
        if not isinstance(values, (list, tuple)):
            self._wrong(values, "a list of numbers", f"{place}.values", f"write {example}")
            return BAD
        for at, value in enumerate(values, 1):
            usable = isinstance(value, float) or (type(value) is int and value.bit_length() <= 200)
            if not usable or not isfinite(value):
                self._wrong(value, "a number", f"{place}.values[{at}]", "write bare numbers, the unit stands once")
                return BAD
        if every is BAD or one is BAD:
            return BAD
        zero = from_unit(0.0, one.unit, field.kind)
        scale = from_unit(1.0, one.unit, field.kind) - zero
        samples = tuple(value * scale + zero for value in values)
        bounds = field.possible or (None, None)
        for at, value in enumerate(samples, 1):
            if not isfinite(value) or not _within(value, bounds):
                if not isfinite(value):
                    self._wrong(value, "a finite number", f"{place}.values[{at}]")
                else:
                    shown = f"{values[at - 1]!r} {unit} is impossible here, {_range(bounds, field.kind)}"
                    self.faults.add("impossible", f"{place}.values[{at}]", shown)
                return BAD
        return frozen_mapping({"every": every.value, "unit": one.unit, "values": samples})


def usual_range(field: Field, vehicle: Mapping[str, Any]) -> tuple[float | None, float | None] | tuple[()]:
    """Return the usual range of a field on this vehicle in SI, None open, or nothing where none is declared."""
    if field.usual_by is not None:
        name, ranges = field.usual_by
        value = vehicle.get(name)
        if isinstance(value, str) and value in ranges:
            return ranges[value]
    return field.usual or ()


def _natural(key: str) -> tuple[int, int, str]:
    """Sort whole numbers by size, then other keys by name."""
    return (0, len(key), key) if key.isdecimal() else (1, 0, key)


def _within(value: float, bounds: Sequence[float | None]) -> bool:
    low, high = bounds
    return (low is None or value >= low) and (high is None or value <= high)


def _range(bounds: Sequence[float | None], kind: str = "") -> str:
    low, high = (None if end is None else format_value(end, kind) if kind else f"{end:.6g}" for end in bounds)
    if low is None:
        return f"it is at most {high}"
    return f"it is at least {low}" if high is None else f"it lies between {low} and {high}"


def states_limits(amount: Amount) -> bool:
    """Whether a quantity's text states limits of error; units that are uncertain themselves do not."""
    if amount.u is None:
        return False
    text = amount.text
    return amount.unit not in SPREADS or "+-" in text or "+/-" in text or "±" in text


def _is_control(char: str) -> bool:
    return (char < " " and char not in "\n\t\r") or "\x7f" <= char <= "\x9f" or "\ud800" <= char <= "\udfff"
