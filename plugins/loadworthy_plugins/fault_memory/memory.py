"""One sheet of the fault memory as evidence: which codes are present and how sure, what was not asked, how old it is.

Raw replies and typed entries are read alike. Silence, refusal and an empty list stay three things.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from loadworthy.sdk import NamedTuple
from loadworthy_plugins.fault_memory.answers import (
    BY_STATUS,
    PENDING,
    PERMANENT,
    PERMANENT_BY_STATUS,
    STORED,
    Outcome,
    sort,
)
from loadworthy_plugins.fault_memory.code_table import CODES
from loadworthy_plugins.fault_memory.codes import (
    EXPONENTS,
    Code,
    at_best_pending,
    distinct,
    from_lists,
    is_contradictory,
    is_intermittent,
    is_stored,
    spelling_fault,
    status_name,
    stronger,
)
from loadworthy_plugins.fault_memory.readiness import (
    COUNTERS,
    Age,
    Status,
    counter_fault,
    counters_of,
    exposed_in_full,
    exposure,
    joined,
    share_complete,
    status_of,
    together,
)
from loadworthy_plugins.fault_memory.replies import read
from loadworthy_plugins.fault_memory.snapshots import figures, parsed, set_by
from loadworthy_plugins.shared_results import number

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from loadworthy.sdk import Case, Limits, Sheet
    from loadworthy_plugins.fault_memory.answers import Answers

ENGINE, GEARBOX = "engine", "gearbox"
#: Kinds of the usual identifiers (from memory); a sheet may say otherwise.
_KINDS: Final = {"": ENGINE, "7E8": ENGINE, "10": ENGINE, "7E9": GEARBOX, "18": GEARBOX, "transmission": GEARBOX}
#: Answers on which a list may be relied.
READ: Final = ("codes", "empty")
#: States of a unit that gave no answer.
QUIET: Final = ("silent", "not_asked")
SERVICES: Final = ((STORED, "stored"), (PENDING, "pending"), (PERMANENT, "permanent"))
_RANK: Final = ("not_asked", "refused", "silent", "empty", "codes", "damaged")
_MISFIRE: Final = ("P0300", *(f"P03{n:02d}" for n in range(1, 13)))


class Present(NamedTuple):
    """One code that a memory holds: its state with the exponent ``s``, units, failure types, and lists it stood in."""

    code: str
    state: str
    s: float
    units: tuple[str, ...]
    failure_types: tuple[int, ...] = ()
    sources: tuple[str, ...] = ()
    differing: bool = False
    intermittent: bool = False
    contradictory: bool = False

    @property
    def shown(self) -> str:
        """The code with its failure types as it is printed."""
        kinds = [f"{one:02X}" for one in self.failure_types if one]
        return f"{self.code}-{'/'.join(kinds)}" if kinds else self.code


class Frame(NamedTuple):
    """A freeze frame: the code that set it, empty if unknown, and its figures as (value in SI, unit)."""

    unit: str
    code: str
    figures: Mapping[str, tuple[float, str]]

    def value(self, name: str) -> float | None:
        """Return one figure, None where the frame lacks it."""
        found = self.figures.get(name)
        return found[0] if found is not None else None


class Memory(NamedTuple):
    """What one sheet holds. ``states`` are the answers of the engine's unit by service, ``damaged`` says what was lost.

    ``passed`` and ``untested`` are codes that a status list says passed or never ran, ``read_units`` the kinds of unit
    that gave a whole list of stored codes.
    """

    sheet: Sheet
    present: tuple[Present, ...]
    states: Mapping[str, str]
    units: Mapping[str, str]
    statuses: Mapping[str, Status]
    supported: frozenset[str]
    complete: frozenset[str]
    age: Age
    counters: Mapping[str, float]
    frames: tuple[Frame, ...]
    outcomes: tuple[Outcome, ...]
    passed: frozenset[str]
    untested: frozenset[str]
    damaged: tuple[str, ...]
    erased: bool
    contradiction: str
    notes: tuple[str, ...]
    read_units: frozenset[str]

    def has(self, *codes: str) -> float:
        """Return the largest exponent among these codes that are present, 0 where none is."""
        return max((one.s for one in self.present if one.code in codes), default=0.0)

    @property
    def share(self) -> float | None:
        """The share of complete monitors among the supported ones."""
        return share_complete(self.supported, self.complete)

    @property
    def is_read(self) -> bool:
        """Whether the engine's unit gave its stored and pending codes and its monitor status, all whole."""
        return all(self.states[service] in READ for service in (STORED, PENDING)) and ENGINE in self.statuses

    @property
    def gearbox_read(self) -> bool:
        """Whether the gearbox unit gave its stored codes."""
        return GEARBOX in self.read_units

    @property
    def compression(self) -> bool | None:
        """Whether the units say that ignition is by compression; None where none says anything."""
        found = self.statuses.get(ENGINE)
        return found.compression if found is not None else None


def is_known(code: str) -> bool:
    """Whether a code stands in the table."""
    return code in CODES or "P0156" <= code <= "P0161"


def read_memory(case: Case, sheet: Sheet, limits: Limits | None = None) -> Memory:
    """Return what a sheet says. Raises nothing: what contradicts itself is left out and told in the notes."""
    return _Reader(case, sheet, limits).memory()


class _Seen:
    """What is known of one code while its sources are gathered."""

    def __init__(self) -> None:
        self.states: set[str] = set()
        self.lists: set[tuple[str, str]] = set()
        self.units: set[str] = set()
        self.types: set[int] = set()
        self.sources: set[str] = set()
        self.intermittent = self.contradictory = False


class _Reader:
    def __init__(self, case: Case, sheet: Sheet, limits: Limits | None) -> None:
        self._case = case
        self._exposed = exposed_in_full(limits) if limits is not None else ()
        self._sheet = sheet
        self._notes: list[str] = []
        self._damaged: list[str] = []
        self._states: dict[tuple[str, str], str] = {}
        self._seen: dict[str, _Seen] = {}
        self._counted: dict[str, set[str]] = {}
        self._passed: set[str] = set()
        self._untested: set[str] = set()
        self._kinds = dict(_KINDS)
        for row in sheet.get("units") or ():
            self._kinds[str(row.get("identifier"))] = str(row.get("kind"))
        self._erased = sheet.get("read_before_clear") == "no"
        text = sheet.get("raw_replies")
        protocol = sheet.get("protocol") or "unknown"
        record = read(text) if text else None
        self._answers: Answers | None = sort(record, protocol, is_known) if record is not None else None
        sent = {one.layout for one in record.messages if one.layout} if record is not None else set()
        self._older = protocol == "older" or sent == {"older"}

    def kind(self, unit: str | None) -> str:
        """Return the kind of a unit by its identifier; its own name where that is all that is known."""
        name = unit or ""
        return self._kinds.get(name, name)

    def memory(self) -> Memory:
        """Return everything."""
        self._take_raw()
        self._take_typed()
        statuses = self._take_statuses()
        frames = tuple(self._frames())
        outcomes = tuple(self._outcomes())
        supported, complete = together(statuses.values())
        counters = self._counters()
        contradiction = counter_fault(
            counters.get("distance"), counters.get("time"), counters.get("lamp_distance"), counters.get("lamp_time")
        )
        told = {} if contradiction else counters
        age = exposure(
            told.get("warm_ups"),
            told.get("distance"),
            told.get("time"),
            share_complete(supported, complete),
            *self._exposed,
        )
        if ENGINE not in statuses and age.kind == "settled":
            # Whether the monitors are complete nobody asked.
            age = age._replace(kind="partial")
        engine_states = {service: self._state(ENGINE, service) for service, _ in SERVICES}
        self._compare_counts(statuses, engine_states)
        lamp_off = frozenset(unit for unit, status in statuses.items() if not status.lamp)
        present = tuple(self._present(code, seen, lamp_off) for code, seen in sorted(self._seen.items()))
        present = self._with_frames(tuple(one for one in present if one.s > 0.0), frames)
        present = self._with_lamp(present)
        return Memory(
            sheet=self._sheet,
            present=present,
            states=engine_states,
            units={unit: self.kind(unit) for (unit, _), state in self._states.items() if state not in QUIET},
            statuses=statuses,
            supported=supported,
            complete=complete,
            age=age,
            counters=counters,
            frames=frames,
            outcomes=outcomes,
            passed=frozenset(self._passed - {one.code for one in present}),
            untested=frozenset(self._untested),
            damaged=tuple(dict.fromkeys(self._damaged)),
            erased=self._erased,
            contradiction=contradiction,
            notes=tuple(dict.fromkeys(self._notes)),
            read_units=frozenset(
                unit for (unit, service), state in self._states.items() if service == STORED and state in READ
            ),
        )

    # Lists of codes ----------------------------------------------------------------------------------------------

    def _take_raw(self) -> None:
        if self._answers is None:
            return
        found = self._answers
        self._notes += found.notes
        self._erased = self._erased or found.cleared
        for answer in found.lists:
            where = self.kind(answer.unit)
            if answer.state == "damaged":
                what = f"service {answer.service}" if answer.service else "an answer"
                self._damaged.append(f"{what} of the unit {where or 'that answered'}: {answer.why}")
            services: tuple[str, ...] = (answer.service,)
            if answer.service == BY_STATUS:
                services = (STORED, PENDING)
            elif answer.service == PERMANENT_BY_STATUS:
                services = (PERMANENT,)
            elif not answer.service:
                services = (STORED, PENDING)
            for service in services:
                self._answered(where, service, answer.state)
            for code in answer.codes:
                mask = 0xFF if answer.mask is None else answer.mask
                self._take(code, where, answer.service, mask, answer.state == "damaged")

    def _take_typed(self) -> None:
        sheet = self._sheet
        mask = self._byte(sheet.get("status_availability_mask"), "status_availability_mask")
        lost: set[tuple[str, str]] = set()
        for row in sheet.get("answers") or ():
            unit = self.kind(row.get("unit"))
            for service, name in SERVICES:
                if row.get(name):
                    self._answered(unit, service, str(row.get(name)))
                if row.get(name) == "damaged":
                    lost.add((unit, service))
                    self._damaged.append(f"{name} codes of the unit {unit}: stated as damaged")
        for service, name in SERVICES:
            for row in sheet.get(name) or ():
                where = self.kind(row.get("unit"))
                code = self._typed(row)
                self._answered(where, service, "codes" if code is not None else "damaged")
                if code is not None:
                    self._take(code, where, service, 0xFF if mask is None else mask, (where, service) in lost)
        self._states |= {(str(name), ""): "codes" for name in sheet.get("units_found") or ()}

    def _typed(self, row: Any) -> Code | None:
        text = str(row.get("code") or "").strip().upper()
        base, _, kind = text.partition("-")
        problem = spelling_fault(base)
        if problem:
            self._damaged.append(problem)
            return None
        failure = self._byte(row.get("failure_type") or kind or None, f"failure type of {base}")
        return Code(base, failure, self._byte(row.get("status"), f"status of {base}"))

    def _byte(self, value: Any, what: str) -> int | None:
        if value is None:
            return None
        text = str(value).strip().lower().removeprefix("0x").removeprefix("$")
        try:
            found = int(text, 16)
        except ValueError:
            found = -1
        if not 0 <= found <= 0xFF or len(text) > 2:
            self._damaged.append(f'the {what}, "{value}", is not two hexadecimal digits')
            return None
        return found

    def _answered(self, unit: str, service: str, state: str) -> None:
        key = (unit, service)
        self._states[key] = max(self._states.get(key, "not_asked"), state, key=_RANK.index)

    def _state(self, kind: str, service: str) -> str:
        """Return the answer of all units of a kind; what nobody can be sure of counts as theirs."""
        found = [state for (unit, one), state in self._states.items() if one == service and unit == kind]
        return max(found, key=_RANK.index) if found else "not_asked"

    def _take(self, code: Code, unit: str, service: str, mask: int, damaged: bool) -> None:
        seen = self._seen.setdefault(code.code, _Seen())
        seen.units.add(unit)
        if code.failure_type is not None:
            seen.types.add(code.failure_type)
        name = status_name(code.status, mask) if code.status is not None else ""
        if damaged:
            seen.states.add(at_best_pending(name))
            seen.sources.add("a damaged answer")
            return
        if service in (STORED, BY_STATUS) and is_stored(name, mask):
            self._counted.setdefault(unit, set()).add(str(code))
        if service in (PERMANENT, PERMANENT_BY_STATUS):
            # Whatever its status byte says: the unit keeps it as not yet proven repaired.
            seen.lists.add((unit, PERMANENT))
            seen.sources.add("permanent")
        if code.status is not None:
            if name == "passed":
                self._passed.add(code.code)
            elif name == "not_tested_since_clear":
                self._untested.add(code.code)
            seen.states.add(name)
            seen.sources.add("status")
            seen.contradictory = seen.contradictory or is_contradictory(code.status, mask)
            seen.intermittent = seen.intermittent or is_intermittent(code.status, mask)
        elif service in (STORED, PENDING):
            seen.lists.add((unit, service))
            seen.sources.add(dict(SERVICES)[service])

    def _present(self, code: str, seen: _Seen, lamp_off: frozenset[str]) -> Present:
        states = set(seen.states)
        for unit in {unit for unit, _ in seen.lists}:
            held = {service for one, service in seen.lists if one == unit}
            states.add(from_lists(STORED in held, PENDING in held, PERMANENT in held, unit in lamp_off))
        state = stronger(states)
        return Present(
            code,
            state,
            EXPONENTS[state],
            tuple(sorted(seen.units)),
            tuple(sorted(seen.types)),
            tuple(sorted(seen.sources)),
            sum(EXPONENTS[name] > 0.0 for name in states) > 1,
            seen.intermittent,
            seen.contradictory,
        )

    def _with_frames(self, present: tuple[Present, ...], frames: Iterable[Frame]) -> tuple[Present, ...]:
        """A frame whose code no list holds: that code counts as pending, and the memory is to be read again."""
        known = {one.code for one in present} | self._passed
        more = []
        for code in sorted({frame.code for frame in frames if frame.code} - known):
            units = tuple(sorted({frame.unit for frame in frames if frame.code == code}))
            more.append(Present(code, "pending", EXPONENTS["pending"], units, (), ("freeze frame",)))
            self._notes.append(f"a freeze frame was set by {code}, which no list holds: read again")
        return tuple(sorted((*present, *more)))

    def _with_lamp(self, present: tuple[Present, ...]) -> tuple[Present, ...]:
        """The flashing lamp means misfire that harms the catalyst, with or without a code of it."""
        if self._sheet.get("lamp") != "flashing" or any(one.code in _MISFIRE for one in present):
            return present
        seen = Present("P0300", "pending", EXPONENTS["pending"], (ENGINE,), (), ("flashing lamp",))
        return tuple(sorted((*present, seen)))

    # Monitor status and counters ---------------------------------------------------------------------------------

    def _take_statuses(self) -> dict[str, Status]:
        sent: dict[str, list[Status]] = {}
        typed: dict[str, list[Status]] = {}
        for (unit, parameter), data in sorted((self._answers.parameters if self._answers else {}).items()):
            if parameter == 0x01:
                sent.setdefault(self.kind(unit), []).append(status_of(data))
        for row in self._sheet.get("monitor_status") or ():
            unit = self.kind(row.get("unit"))
            for key in ("since_clear", "this_cycle"):
                if row.get(key) is None:
                    continue
                bytes_ = self._bytes(str(row.get(key)), f"monitor status of {unit}", 4)
                if bytes_ is not None and key == "since_clear":
                    typed.setdefault(unit, []).append(status_of(bytes_))
        found = {unit: joined(sent.get(unit, ()), typed.get(unit, ())) for unit in sorted({*sent, *typed})}
        for unit, status in found.items():
            if status.contradictions:
                self._notes.append(
                    f"{unit}: incomplete but not supported: {', '.join(status.contradictions)}; read again"
                )
            if status.compression != (str(self._case.vehicle.get("fuel") or "").startswith("diesel")) and (
                unit == ENGINE and self._case.vehicle.get("fuel")
            ):
                kind = "compression" if status.compression else "spark"
                self._notes.append(f"the unit says {kind} ignition, which does not fit the stated fuel")
        return found

    def _bytes(self, text: str, what: str, length: int) -> bytes | None:
        digits = "".join(text.replace(",", " ").split())
        try:
            data = bytes.fromhex(digits)
        except ValueError:
            data = b""
        if len(data) != length:
            self._damaged.append(f'the {what}, "{text}", is not {length} pairs of hexadecimal digits')
            return None
        return data

    def _compare_counts(self, statuses: Mapping[str, Status], states: dict[str, str]) -> None:
        for unit, status in sorted(statuses.items()):
            if unit == ENGINE and states[STORED] == "silent" and status.codes == 0 and self._older:
                # A unit of the older protocols without codes says nothing; one on CAN answers with an empty list.
                states[STORED] = "empty"
            if status.lamp and status.codes == 0:
                self._notes.append(f"the {unit} unit commands the lamp on without a code: read the other units")
            if (unit, STORED) not in self._states:
                continue
            count = distinct(self._counted.get(unit, ()))
            if status.codes > count and self._states[unit, STORED] in READ:
                what = f"the {unit} unit counts {status.codes} codes, its list holds {count}: the list is not whole"
                self._damaged.append(what)
                if unit == ENGINE:
                    states[STORED] = "damaged"
            elif status.codes < count:
                self._notes.append(f"the {unit} unit counts {status.codes} codes, its list holds {count}")
        lamps = [status.lamp for status in statuses.values()]
        if lamps and not any(lamps) and self._sheet.get("lamp") == "on":
            self._notes.append("the lamp is lit and no unit that was read commands it: read the other units")

    def _counters(self) -> dict[str, float]:
        sent = sorted((self._answers.parameters if self._answers else {}).items())
        stated = ((field, number(self._sheet.get(field))) for field in COUNTERS)
        return counters_of(
            {parameter: data for (unit, parameter), data in sent if self.kind(unit) == ENGINE},
            {field: value for field, value in stated if value is not None},
        )

    # Freeze frames and test results ------------------------------------------------------------------------------

    def _frames(self) -> Iterable[Frame]:
        for row in self._sheet.get("freeze_frames") or ():
            data, problem = parsed(str(row.get("bytes") or ""))
            if problem:
                self._notes.append(f"freeze frame: {problem}")
            code = str(row.get("code") or "").strip().upper()
            if code and spelling_fault(code):
                self._damaged.append(spelling_fault(code))
                code = ""
            yield Frame(self.kind(row.get("unit")), code or set_by(data), figures(data))
        for one in self._answers.snapshots if self._answers else ():
            yield Frame(self.kind(one.unit), set_by(one.data), figures(one.data))

    def _outcomes(self) -> Iterable[Outcome]:
        for one in self._answers.outcomes if self._answers else ():
            yield one._replace(unit=self.kind(one.unit))
        for row in self._sheet.get("test_results") or ():
            parts = {key: self._word(row.get(key), key) for key in ("value", "min", "max")}
            monitor, test = self._byte(row.get("monitor"), "monitor"), self._byte(row.get("test"), "test")
            scaling = self._byte(row.get("scaling"), "scaling")
            value = parts["value"]
            if monitor is not None and test is not None and value is not None:
                yield Outcome(self.kind(row.get("unit")), monitor, test, scaling, value, parts["min"], parts["max"])

    def _word(self, value: Any, what: str) -> int | None:
        if value is None:
            return None
        data = self._bytes(str(value), f"{what} of a test result", 2)
        return int.from_bytes(data, "big") if data is not None else None
