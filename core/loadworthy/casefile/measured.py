"""How the readings of a sheet were taken: instruments, and the uncertainties that the sheet itself states."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from loadworthy.case import Instrument
from loadworthy.casefile.faults import plain, show
from loadworthy.casefile.uncertainty import Gauge, from_class
from loadworthy.casefile.values import BAD, Tool
from loadworthy.core_fields import INSTRUMENT
from loadworthy.record import NamedTuple
from loadworthy.units import KINDS

if TYPE_CHECKING:
    import datetime
    from collections.abc import Iterable, Sequence

    from loadworthy.casefile.values import Values
    from loadworthy.declarations import Field

_FIELDS = {field.name: field for field in INSTRUMENT}
_QUANTITIES = ("span", "resolution", "calibration_u")


class Means(NamedTuple):
    """What a sheet says on its readings: one instrument for all, instruments and stated uncertainties by field."""

    tool: Tool | None
    tools: dict[str, Tool]
    u: dict[str, Any]
    written: Any


class Instruments:
    """The instruments of a case by id, shared ones (of the house) behind the case's own."""

    __slots__ = ("_nameless", "_shared", "_tools", "_values", "by_id", "names")

    def __init__(self, values: Values, shared: Iterable[Instrument] = ()) -> None:
        self._values = values
        self._tools: dict[str, Tool] = {}
        self._shared = {instrument.id: instrument for instrument in shared}
        self.by_id: dict[str, Instrument] = {}
        #: Every id that is written, also of an instrument with faults: nobody needs to hear of those twice.
        self.names: set[str] = set()
        #: Under way, without an id so far.
        self._nameless: list[Instrument] = []

    def all(self) -> tuple[Instrument, ...]:
        """Return every instrument in order of id."""
        return (*(self.by_id[id] for id in sorted(self.by_id)), *sorted(self._nameless, key=repr))

    def read(self, raw: Mapping[Any, Any], place: str) -> None:
        """Read one ``[[instrument]]``."""
        values, faults = self._values, self._values.faults
        before = len(faults.faults)
        values.unfinished = unfinished = is_unfinished(raw)
        found = values.table(raw, _FIELDS, place, skip=_QUANTITIES)
        values.unfinished = False
        name, kind = found.get("id"), found.get("measures")
        if name is not None:
            if not is_name(name):
                faults.add("bad-value", f"{place}.id", f"{show(name)} is no usable name")
            elif name in self.names:
                faults.add("repeated-id", f"{place}.id", f"there is an instrument {show(name)} already", "rename one")
            self.names.add(name)
        for key in _QUANTITIES:
            if key in raw and kind is not None:
                found[key] = self._quantity(raw[key], kind, key, f"{place}.{key}")
        if "class" in found and "span" not in raw and not unfinished:
            faults.add("missing-key", place, "the class is in % of the span, which is missing", "write span = ...")
        first, due = found.get("calibrated"), found.get("due")
        if first is not None:
            values.days.past(first, f"{place}.calibrated")
            if due is not None and due < first:
                faults.add("end-before-start", f"{place}.due", "due before it was calibrated", "swap the two dates")
        if len(faults.faults) > before or ((name is None or kind is None) and not unfinished):
            return
        if unfinished:
            problem = f"instrument {name or 'without id'} is not finished, so no reading has its uncertainty from it"
            faults.note("unfinished", "", problem, go_on("instrument"))
        self._keep(
            Instrument(
                id=name or "",
                kind=kind or "",
                text=found.get("text", ""),
                accuracy_class=found.get("class"),
                span=found.get("span"),
                resolution=found.get("resolution"),
                calibration_u=found.get("calibration_u"),
                calibrated=first,
                due=due,
                unfinished=unfinished,
            )
        )

    def _keep(self, instrument: Instrument) -> None:
        if instrument.id:
            self.by_id[instrument.id] = instrument
        else:
            self._nameless.append(instrument)

    def take(self, name: Any, place: str) -> Tool | None:
        """Return the instrument that a sheet names, or None with a fault."""
        faults = self._values.faults
        if not isinstance(name, str):
            faults.add("wrong-type", place, f"{show(name)} names no instrument", 'write its id, "gauge-1"')
            return None
        if name not in self.by_id and name in self._shared:
            self.by_id[name] = self._shared[name]
        if name not in self.by_id:
            if name not in self.names:
                known = self.names | self._shared.keys()
                write = faults.one_of(name, known) or f'add [[instrument]] with id = "{plain(name)}"'
                faults.add("unknown-instrument", place, f"there is no instrument {show(name)}", write)
            return None
        if self.by_id[name].unfinished:
            return None
        if name not in self._tools:
            self._tools[name] = _tool(self.by_id[name])
        return self._tools[name]

    def means(self, raw: Mapping[Any, Any], fields: Mapping[str, Field], own: Sequence[str], place: str) -> Means:
        """Read the keys ``instrument`` and ``u`` of a sheet; ``own`` are the names of its section's fields."""
        measured = {name: fields[name] for name in own}
        tool, tools, written = None, {}, raw.get("instrument")
        if isinstance(written, Mapping):
            for name, id in written.items():
                field = self._named(name, measured, raw, f"{place}.instrument")
                found = self.take(id, f"{place}.instrument.{plain(str(name))}")
                if field is None or found is None:  # told, or under way
                    continue
                if not any(found.measures(kind) for kind in _kinds(field)):
                    self._values.faults.add(
                        "wrong-instrument",
                        f"{place}.instrument.{name}",
                        f"{show(id)} measures {KINDS[found.kind].name}, {name} is another kind of quantity",
                    )
                tools[name] = found
        elif written is not None:
            tool = self.take(written, f"{place}.instrument")
        stated: dict[str, Any] = {}
        u = raw.get("u", {})
        if not isinstance(u, Mapping):
            self._values.faults.add(
                "wrong-type", f"{place}.u", f"{show(u)} is no table", 'write u = {field = "0.1 ..."}'
            )
            u = {}
        for name, limit in u.items():
            field = self._named(name, measured, raw, f"{place}.u")
            if field is not None:
                value = self._stated(limit, field, f"{place}.u.{name}", raw[name])
                if value is not BAD:
                    stated[name] = value
        return Means(tool, tools, stated, written)

    def check_due(self, day: datetime.date, tools: Iterable[str], place: str) -> None:
        """Note instruments whose calibration was overdue on the day of the sheet."""
        for name in sorted(tools):
            due = self.by_id[name].due
            if due is not None and due < day:
                self._values.faults.note(
                    "calibration-overdue",
                    f"{place}.instrument",
                    f"the calibration of {name} was due on {due.isoformat()}",
                    "check the instrument against another",
                )

    def _named(self, name: Any, fields: Mapping[str, Field], raw: Mapping[Any, Any], place: str) -> Field | None:
        """Return the field of a key of ``instrument`` or ``u``, which must be one that the sheet gives."""
        field = fields.get(name)
        if field is None:
            self._values.faults.add(
                "unknown-key",
                f"{place}.{plain(str(name))}",
                "no such field in this section",
                self._values.faults.one_of(str(name), fields),
            )
        elif name not in raw and is_unfinished(raw):
            return None
        elif name not in raw:
            self._values.faults.add(
                "unused", f"{place}.{name}", f"the sheet has no {name}", f"write {name}, or take this out"
            )
            return None
        return field

    def _stated(self, raw: Any, field: Field, place: str, measured: Any) -> Any:
        """Return a stated standard uncertainty in SI: one, or a table of them by subject or by inner field."""
        faults = self._values.faults
        if field.type in ("rows", "record"):
            inner = self._values.fields_of(field)
            if not isinstance(raw, Mapping):
                faults.add("wrong-type", place, f"{show(raw)} is no table", "write one of field to uncertainty")
                return BAD
            found = {}
            for name, limit in raw.items():
                if name not in inner:
                    write = faults.one_of(str(name), inner)
                    faults.add("unknown-key", f"{place}.{plain(str(name))}", "no such field here", write)
                else:
                    found[name] = self._stated(limit, inner[name], f"{place}.{name}", None)
            return _good(found)
        if field.type != "quantity":
            faults.add("bad-value", place, f"{field.name} takes no uncertainty", "take this out")
            return BAD
        if isinstance(raw, Mapping) and field.per and isinstance(measured, Mapping):
            subjects = {str(key) for key in measured}
            found = {}
            for key, limit in raw.items():
                if str(key) not in subjects:
                    faults.add("unused", f"{place}.{plain(str(key))}", "the sheet gives no such reading")
                else:
                    found[str(key)] = self._quantity(limit, field.kind, "u", f"{place}.{key}")
            return _good(found)
        return self._quantity(raw, field.kind, "u", place)

    def _quantity(self, raw: Any, kind: str, key: str, place: str) -> Any:
        """Return a width (span, step, uncertainty) of quantities of the kind in SI, above zero."""
        faults = self._values.faults
        # The span of a gauge may be written as its dial shows it, "25 bar gauge".
        dial = key == "span" and KINDS[kind].table == "pressure"
        amount = self._values.amount(raw, kind if dial else KINDS[kind].difference, place)
        if amount is BAD:
            return BAD
        if amount.value <= 0.0:
            problem = f"{show(raw)}: an uncertainty of zero is no certainty" if key != "span" else "a span of zero"
            faults.add("bad-uncertainty", place, problem, "write what is known, above zero, or take this out")
            return BAD
        if amount.u is not None:
            faults.add("bad-uncertainty", place, "this takes no uncertainty of its own", 'leave out "+- ..."')
            return BAD
        return amount.value


def is_unfinished(raw: Mapping[Any, Any]) -> bool:
    """Whether a table says that it is still being written."""
    return raw.get("unfinished") is True


def go_on(section: str) -> str:
    """Return what finishes an entry."""
    return f"loadworthy record CASE {section} --resume goes on with it"


def is_name(text: str) -> bool:
    """Whether a text may name a sheet, a repair or an instrument: printable, not blank, without "@" and "#"."""
    return 0 < len(text) <= 100 and text.isprintable() and text.strip() == text and not set("@#") & set(text)


def _good(found: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in found.items() if value is not BAD}


def _tool(instrument: Instrument) -> Tool:
    limit = None
    if instrument.accuracy_class is not None and instrument.span is not None:
        limit = from_class(instrument.accuracy_class, instrument.span)
    return Tool(instrument.id, instrument.kind, Gauge(limit, instrument.calibration_u, instrument.resolution))


def _kinds(field: Field) -> list[str]:
    """Return the unit kinds of a field and of the fields inside it."""
    kinds = [field.kind] if field.type == "quantity" else []
    return kinds + [kind for inner in field.fields for kind in _kinds(inner)]
