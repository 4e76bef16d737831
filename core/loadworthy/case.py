"""The vehicle-evidence model: what was measured on one vehicle, and what its owner wants.

Everything is frozen. A case says nothing about what its readings mean: the fields of its sheets come from
plugins, which are the only ones to know.
"""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from loadworthy.record import EMPTY, NamedTuple, Record, evolve, field, frozen, frozen_mapping

if TYPE_CHECKING:
    from collections.abc import Iterator
    from os import PathLike

    from loadworthy.declarations import Catalogue
    from loadworthy.errors import Fault


#: Day of an entry under way that has none yet: later than any day, so that nothing counts it.
UNDATED = datetime.date.max


class Attached(NamedTuple):
    """A file that belongs to a sheet: its path from the folder of the case, and the SHA-256 of its content if known.

    Naming it opens nothing.
    """

    path: str
    sha256: str = ""


class Curve(NamedTuple):
    """Points over speed, SI (rev/s), rising in speed; linear between them."""

    speeds: tuple[float, ...]
    values: tuple[float, ...]

    def at(self, speed: float, outside: float | None = 0.0) -> float | None:
        """Return the value at ``speed``: linear between points, ``outside`` beyond the ends."""
        xs, ys = self.speeds, self.values
        if not xs or speed < xs[0] or speed > xs[-1]:
            return outside
        for i in range(1, len(xs)):
            if speed <= xs[i]:
                share = (speed - xs[i - 1]) / (xs[i] - xs[i - 1])
                return ys[i - 1] + share * (ys[i] - ys[i - 1])
        return ys[0]


@frozen(eq=False, repr=False, slots=False)
class Reading(Record):
    """One measured or stated value in SI with its standard uncertainty.

    ``u`` is the combined standard uncertainty, or None where none is known: such a reading may be shown but
    not judged. ``u_parts`` names its parts (stated, class, resolution, calibration, repeats, section
    default). ``refused`` says why the reading may clear nothing (a distortion that a plugin declared).
    """

    value: float
    u: float | None = None
    kind: str = ""
    unit: str = ""
    text: str = ""
    repeats: tuple[float, ...] = ()
    u_parts: tuple[tuple[str, float], ...] = ()
    instrument: str = ""
    refused: str = ""


#: What a field may hold: Reading, number, text, bool, date, Curve, tuples of these, or a mapping by subject key.
Value = Any


@frozen(eq=False, repr=False, slots=False)
class Sheet(Record):
    """One dated measurement session of one section.

    ``values`` holds only what was written; a missing field is missing. Per-subject fields are mappings from
    the subject's short key ("3") to the value. A sheet that is ``unfinished`` may lack what its section requires, and
    its date too (`UNDATED`).
    """

    section: str
    id: str
    date: datetime.date
    values: Mapping[str, Value] = field(default=EMPTY, converter=frozen_mapping)
    time: datetime.time | None = None
    odometer: float | None = None
    by: str = ""
    instrument: Any = None
    conditions: str = ""
    file: tuple[Attached, ...] = ()
    note: str = ""
    retest_of: str = ""
    place: str = ""
    unfinished: bool = False

    def get(self, name: str) -> Value:
        """Return the value of field ``name``, or None where it was not written."""
        return self.values.get(name)

    def reading(self, name: str, key: str | None = None) -> Reading | None:
        """Return a reading, by subject key where the field is one per subject; None where missing."""
        value = self.values.get(name)
        if key is not None and not isinstance(value, Reading):
            value = value.get(key) if isinstance(value, Mapping) else None
        return value if isinstance(value, Reading) else None


@frozen(eq=False, repr=False, slots=False)
class Instrument(Record):
    """A measuring instrument: ``span`` and ``resolution`` in SI, ``accuracy_class`` in % of span.

    ``calibration_u`` is U/k of the certificate. ``kind`` is the unit kind that it measures. One that is ``unfinished``
    lends no reading its uncertainty.
    """

    id: str
    kind: str
    text: str = ""
    accuracy_class: float | None = None
    span: float | None = None
    resolution: float | None = None
    calibration_u: float | None = None
    calibrated: datetime.date | None = None
    due: datetime.date | None = None
    unfinished: bool = False


class Treated(NamedTuple):
    """A cause (or rule) that a repair treats, and where; no subject means all of them."""

    what: str
    subject: str | None = None


@frozen(eq=False, repr=False, slots=False)
class Repair(Record):
    """Work done: sets aside what was measured before it on the causes that it treats, once it is finished."""

    id: str
    date: datetime.date
    what: str
    treats: tuple[Treated, ...]
    time: datetime.time | None = None
    odometer: float | None = None
    by: str = ""
    proof: str = ""
    note: str = ""
    unfinished: bool = False


@frozen(eq=False, repr=False, slots=False)
class Event(Record):
    """Something that happened to the vehicle (``kind``: a plain word that causes name) and ends exoneration.

    With its date it counts even while it is ``unfinished``: doubt never clears anything.
    """

    kind: str
    date: datetime.date
    time: datetime.time | None = None
    odometer: float | None = None
    by: str = ""
    note: str = ""
    unfinished: bool = False


@frozen(eq=False, repr=False, slots=False)
class Waiver(Record):
    """Somebody accepts a gap or a finding for a time: both days included. It counts once it is finished."""

    who: str
    what: str
    why: str
    start: datetime.date
    until: datetime.date
    role: str = ""
    unfinished: bool = False


@frozen(eq=False, repr=False, slots=False)
class Void(Record):
    """A sheet that was entered wrongly is struck out, by whom and why, once this is finished."""

    sheet: str
    why: str
    who: str
    date: datetime.date
    unfinished: bool = False


@frozen(eq=False, repr=False, slots=False)
class Case(Record):
    """One vehicle, one plan and all evidence so far.

    ``vehicle`` and ``plan`` map declared field names to values. ``as_of`` is the case's own day of judgement, if
    it names one. ``notes`` are what the reader found odd without refusing it (values outside their usual range,
    overdue calibrations, undeclared ids); their places name sheets by id. ``unread`` holds, as it was written, what no
    plugin declares while one of them could not be loaded: sections by name, fields under ``vehicle`` and ``plan``.
    """

    name: str = ""
    vehicle: Mapping[str, Value] = field(default=EMPTY, converter=frozen_mapping)
    plan: Mapping[str, Value] = field(default=EMPTY, converter=frozen_mapping)
    sheets: tuple[Sheet, ...] = ()
    instruments: tuple[Instrument, ...] = ()
    repairs: tuple[Repair, ...] = ()
    events: tuple[Event, ...] = ()
    waivers: tuple[Waiver, ...] = ()
    voids: tuple[Void, ...] = ()
    as_of: datetime.date | None = None
    digest: str = ""
    path: str = ""
    notes: tuple[Fault, ...] = ()
    unread: Mapping[str, Any] = field(default=EMPTY, converter=frozen_mapping)

    def of(self, *sections: str) -> Iterator[Sheet]:
        """Iterate over the sheets of the named sections, in order of date, time and id."""
        return (sheet for sheet in self.sheets if sheet.section in sections)

    def base_torque(self) -> tuple[Curve, str] | None:
        """Return today's torque over speed and where it comes from, the best source first.

        Measured independently of the vehicle's own control unit, else its log, else declared (method,
        section 7). None where no curve is known.
        """
        for key in BASE_TORQUE_SOURCES:
            curve = self.vehicle.get(key)
            if curve is not None:
                return curve, key
        return None

    def until(self, day: datetime.date) -> Case:
        """Return the case as it stood at the end of ``day``: whatever is dated later does not exist yet."""
        return evolve(
            self,
            sheets=tuple(s for s in self.sheets if s.date <= day),
            repairs=tuple(r for r in self.repairs if r.date <= day),
            events=tuple(e for e in self.events if e.date <= day),
            voids=tuple(v for v in self.voids if v.date <= day),
            waivers=tuple(w for w in self.waivers if w.start <= day),
        )

    @staticmethod
    def load(path: str | PathLike[str], *, catalogue: Catalogue | None = None) -> Case:
        """Read a case file (TOML). ``catalogue`` defaults to that of the installed plugins.

        Raises CaseError with every fault of the file at once.
        """
        from loadworthy.casefile import load

        return load(path, catalogue=catalogue)

    @staticmethod
    def from_dict(data: Mapping[str, Any], *, catalogue: Catalogue | None = None) -> Case:
        """Build a case from the same tables as a case file, already parsed.

        Raises CaseError with every fault at once.
        """
        from loadworthy.casefile import from_dict

        return from_dict(data, catalogue=catalogue)


#: Vehicle fields that may hold today's torque curve, the most independent source first.
BASE_TORQUE_SOURCES = ("base_torque_measured", "base_torque_logged", "base_torque_declared")
