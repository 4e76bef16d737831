"""From parsed tables to a case: which table is what, and how they refer to each other."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from loadworthy.case import UNDATED, Case, Event, Repair, Sheet, Treated, Void, Waiver
from loadworthy.casefile import attached
from loadworthy.casefile.days import Days
from loadworthy.casefile.digest import case_digest, derived_id
from loadworthy.casefile.faults import plain, show
from loadworthy.casefile.measured import Instruments, go_on, is_name, is_unfinished
from loadworthy.casefile.values import Values
from loadworthy.core_fields import EVENT, PLAN, REPAIR, SHEET, TOP, VEHICLE, VOID, WAIVER
from loadworthy.record import evolve, frozen_mapping

if TYPE_CHECKING:
    import datetime
    from collections.abc import Iterable, Iterator

    from loadworthy.case import Instrument
    from loadworthy.casefile.faults import Faults
    from loadworthy.declarations import Catalogue, Field, Section


def build(
    tables: Mapping[Any, Any],
    catalogue: Catalogue,
    faults: Faults,
    *,
    path: str = "",
    shared: Iterable[Instrument] = (),
    today: datetime.date | None = None,
) -> Case:
    """Return the case that tables hold; what is wrong is added to ``faults`` and left out of the case.

    ``shared`` are instruments that the house keeps for all cases. The result is only of use if no fault was added.
    """
    return _Reader(catalogue, faults, shared, today).case(tables, path)


class _Reader:
    def __init__(
        self, catalogue: Catalogue, faults: Faults, shared: Iterable[Instrument], today: datetime.date | None
    ) -> None:
        self._catalogue = catalogue
        self._faults = faults
        self._days = Days(faults, today)
        self._values = Values(faults, self._days)
        self._instruments = Instruments(self._values, shared)
        #: What is written for a plugin that could not be loaded.
        self._unread: dict[str, Any] = {}

    def case(self, tables: Mapping[Any, Any], path: str) -> Case:
        if not isinstance(tables, Mapping):
            self._faults.add("wrong-type", "", f"{show(tables)} is no case", "give a table of tables")
            return Case(path=path)
        self._top(tables)
        name = tables.get("name", "")
        if not isinstance(name, str) or not (name.isprintable() or not name):
            self._faults.add("wrong-type", "name", f"{show(name)} is no name", "write it in quotes, on one line")
            name = ""
        if "as_of" in tables:
            self._days.as_of = self._days.day(tables["as_of"], "as_of")
        # Usual ranges of the vehicle's own fields may depend on its choices, so these are known first.
        written = tables.get("vehicle")
        if isinstance(written, Mapping):
            self._values.vehicle = {key: value for key, value in written.items() if isinstance(value, str)}
        vehicle = self._own(tables, "vehicle", (*VEHICLE, *self._catalogue.vehicle.values()))
        self._values.vehicle = vehicle
        plan = self._own(tables, "plan", (*PLAN, *self._catalogue.plan.values()))
        for raw, place in self._rows(tables, "instrument"):
            self._instruments.read(raw, place)
        repairs = self._repairs(tables)
        # A repair or sheet with faults of its own is there all the same: nobody need hear that it is missing.
        done = {**dict.fromkeys(_written_ids(tables.get("repair"))), **{r.id: _known(r.date) for r in repairs}}
        placed = [
            found for section in self._catalogue.sections.values() for found in self._sheets(tables, section, done)
        ]
        self._unique(placed)
        sheets = [sheet for sheet, _ in placed]
        taken: dict[str, datetime.date | None] = {}
        for id in self._catalogue.sections:
            taken.update(dict.fromkeys(_written_ids(tables.get(id))))
        taken.update((sheet.id, _known(sheet.date)) for sheet in sheets)
        case = Case(
            name=name,
            vehicle=vehicle,
            plan=plan,
            sheets=tuple(sorted(sheets, key=_sheet_order)),
            instruments=self._instruments.all(),
            repairs=tuple(sorted(repairs, key=lambda r: (r.date, str(r.time or ""), r.id))),
            events=tuple(sorted(self._events(tables), key=lambda e: (e.date, str(e.time or ""), e.kind, repr(e)))),
            waivers=tuple(sorted(self._waivers(tables), key=lambda w: (w.start, w.until, w.what, w.who, w.why))),
            voids=tuple(sorted(self._voids(tables, taken), key=lambda v: (v.date, v.sheet, v.who))),
            as_of=self._days.as_of,
            path=path,
            notes=tuple(sorted(self._faults.notes)),
            unread=frozen_mapping(self._unread),
        )
        return case if self._faults.faults else evolve(case, digest=case_digest(case))

    # Tables ------------------------------------------------------------------------------------------------------

    def _top(self, tables: Mapping[Any, Any]) -> None:
        """Add a fault for every top-level key that neither the core nor an installed plugin knows."""
        known = (*TOP, *self._catalogue.sections)
        for key, value in tables.items():
            if key in known:
                continue
            shown = plain(str(key))
            if self._keep_unread(self._unread, key, value, shown):
                continue
            what = "no installed check has this section" if isinstance(value, (list, Mapping)) else "no such key"
            write = self._faults.one_of(str(key), known)
            self._faults.add("unknown-section", shown, what, write or "install the plugin that brings it")

    def _own(self, tables: Mapping[Any, Any], name: str, fields: tuple[Field, ...]) -> dict[str, Any]:
        raw = tables.get(name, {})
        if not isinstance(raw, Mapping):
            self._faults.add("wrong-type", name, f"{show(raw)} is no table", f"write [{name}], then a key a line")
            return {}
        by_name = {field.name: field for field in fields}
        unread: dict[str, Any] = {}
        for key, value in raw.items():
            if key not in by_name:
                self._keep_unread(unread, key, value, f"{name}.{plain(str(key))}")
        if unread:
            self._unread[name] = frozen_mapping(unread)
        return self._values.table(raw, by_name, name, skip=tuple(unread))

    def _keep_unread(self, unread: dict[str, Any], key: Any, value: Any, place: str) -> bool:
        """Keep as it is what nobody declares, if it may belong to a plugin that could not be loaded."""
        absent = self._catalogue.absent
        if not absent or not isinstance(key, str):
            return False
        from loadworthy.casefile.unread import frozen_content

        try:
            unread[key] = frozen_content(value)
        except ValueError:
            return False
        problem = f"not read: no check that runs knows it, and {', '.join(absent)} could not be loaded"
        self._faults.note("unread", place, problem, "mend that plugin, then judge again")
        return True

    def _rows(self, tables: Mapping[Any, Any], name: str) -> Iterator[tuple[Mapping[Any, Any], str]]:
        """Yield each table of a list of tables with its place."""
        raw = tables.get(name, ())
        if isinstance(raw, Mapping):
            self._faults.add("wrong-type", name, "one table where a list of tables is due", f"write [[{name}]]")
            return
        if not isinstance(raw, (list, tuple)):
            self._faults.add("wrong-type", name, f"{show(raw)} is no list of tables", f"write [[{name}]]")
            return
        for number, row in enumerate(raw, 1):
            place = f"{name}[{number}]"
            if isinstance(row, Mapping):
                yield row, place
            else:
                self._faults.add("wrong-type", place, f"{show(row)} is no table", f"write [[{name}]]")

    def _entries(
        self, tables: Mapping[Any, Any], name: str, fields: tuple[Field, ...]
    ) -> Iterator[tuple[dict[str, Any], str]]:
        """Yield the values of each table of a list that has no fault and is not dated in the future."""
        by_name = {field.name: field for field in fields}
        for raw, place in self._rows(tables, name):
            before = len(self._faults.faults)
            self._values.unfinished = is_unfinished(raw)
            values = self._values.table(raw, by_name, place)
            self._values.unfinished = False
            if "date" in values:
                self._days.past(values["date"], f"{place}.date")
            if len(self._faults.faults) == before:
                yield values, place

    # Sheets ------------------------------------------------------------------------------------------------------

    def _sheets(
        self, tables: Mapping[Any, Any], section: Section, repairs: Mapping[str, datetime.date | None]
    ) -> Iterator[tuple[Sheet, str]]:
        """Yield each sheet of a section that has no fault, and where it stands in the file."""
        fields = {field.name: field for field in (*SHEET, *section.fields)}
        own = tuple(field.name for field in section.fields)
        for raw, place in self._rows(tables, section.id):
            before, noted = len(self._faults.faults), len(self._faults.notes)
            self._values.unfinished = unfinished = is_unfinished(raw)
            means = self._instruments.means(raw, fields, own, place)
            self._values.used.clear()
            values = self._values.table(
                raw, fields, place, skip=("instrument", "u", "file"), u=means.u, tool=means.tool, tools=means.tools
            )
            self._values.unfinished = False
            files = attached.read(raw["file"], f"{place}.file", self._values) if "file" in raw else ()
            date = values.get("date")
            if date is not None:
                self._days.past(date, f"{place}.date")
                self._instruments.check_due(date, self._values.used, place)
            self._refers(values.get("retest_of"), date, repairs, place)
            given = values.get("id")
            if given is not None and not is_name(given):
                self._faults.add(
                    "bad-value", f"{place}.id", f"{show(given)} is no usable name", 'leave out "@" and "#"'
                )
            if date is None and unfinished:
                date = UNDATED
            if len(self._faults.faults) > before or date is None:
                continue
            content = {name: values[name] for name in own if name in values}
            id = given or derived_id(section.id, date, values.get("time"), content)
            self._faults.rename_notes(noted, place, id)
            if unfinished:
                problem = f"sheet {id} is not finished: what it lacks is missing"
                self._faults.note("unfinished", "", problem, go_on(section.id))
            odometer = values.get("odometer")
            sheet = Sheet(
                section=section.id,
                id=id,
                date=date,
                values=content,
                time=values.get("time"),
                odometer=odometer.value if odometer is not None else None,
                by=values.get("by", ""),
                instrument=_frozen_names(means.written),
                conditions=values.get("conditions", ""),
                file=files,
                note=values.get("note", ""),
                retest_of=values.get("retest_of", ""),
                unfinished=unfinished,
            )
            yield sheet, place

    def _refers(
        self,
        repair: str | None,
        date: datetime.date | None,
        repairs: Mapping[str, datetime.date | None],
        place: str,
    ) -> None:
        if repair is None:
            return
        done = repairs.get(repair)
        if done is not None and date is not None and date < done:
            problem = f"the sheet is older than the repair {show(repair)} of {done.isoformat()}"
            self._faults.add("bad-date", f"{place}.retest_of", problem, "mend a date, or take this out")
        elif repair not in repairs:
            write = self._faults.one_of(repair, repairs) or f'add [[repair]] with id = "{plain(repair)}"'
            self._faults.add("unknown-repair", f"{place}.retest_of", f"there is no repair {show(repair)}", write)

    def _unique(self, sheets: Iterable[tuple[Sheet, str]]) -> None:
        """Add a fault for ids that stand twice, whether written or derived from equal content."""
        first: dict[str, str] = {}
        for sheet, place in sheets:
            other = first.setdefault(sheet.id, place)
            if other != place:
                problem = f"{show(sheet.id)} is the id of {other} too"
                self._faults.add("repeated-id", place, problem, "entered twice? delete one, or give each an id")

    # Lists of the core -------------------------------------------------------------------------------------------

    def _repairs(self, tables: Mapping[Any, Any]) -> list[Repair]:
        out: list[Repair] = []
        seen: dict[str, str] = {}
        for values, place in self._entries(tables, "repair", REPAIR):
            noted = len(self._faults.notes)
            written = values.get("treats", ())
            found = [self._treated(text, f"{place}.treats[{n}]") for n, text in enumerate(written, 1)]
            treats = tuple(sorted(found, key=lambda treated: (treated.what, treated.subject or "")))
            unfinished = values.get("unfinished", False)
            date = values.get("date", UNDATED)
            content = {key: value for key, value in values.items() if key not in ("id", "date", "time", "unfinished")}
            content["treats"] = treats
            id = values.get("id") or derived_id("repair", date, values.get("time"), content)
            if not is_name(id):
                self._faults.add("bad-value", f"{place}.id", f"{show(id)} is no usable name", 'leave out "@" and "#"')
            elif id in seen:
                self._faults.add("repeated-id", place, f"{show(id)} is the id of {seen[id]} too", "rename one")
            seen[id] = place
            self._faults.rename_notes(noted, place, id)
            if unfinished:
                self._no_effect("repair", id, "it sets nothing aside")
            out.append(
                Repair(
                    id=id,
                    date=date,
                    what=values.get("what", ""),
                    treats=treats,
                    time=values.get("time"),
                    odometer=_metres(values),
                    by=values.get("by", ""),
                    proof=values.get("proof", ""),
                    note=values.get("note", ""),
                    unfinished=unfinished,
                )
            )
        return out

    def _no_effect(self, table: str, name: str, effect: str) -> None:
        """Note an entry under way, which does not count yet."""
        self._faults.note("unfinished", "", f"{table} {plain(name)} is not finished: {effect}", go_on(table))

    def _treated(self, text: str, place: str) -> Treated:
        """Read ``cause``, ``cause@subject`` or a rule; a name that nobody declares is kept with a note."""
        what, at, subject = text.partition("@")
        what, subject = what.strip(), subject.strip()
        if not what or (at and not subject):
            self._faults.add("bad-value", place, f"{show(text)} names no cause", 'write "cause" or "cause@subject"')
        known = (*self._catalogue.causes, *self._catalogue.broader, *self._catalogue.rules)
        if what and what not in known:
            write = self._faults.one_of(what, known)
            # A note's place must not depend on the order in which the treated are written.
            self._faults.note(
                "undeclared", place.rpartition("[")[0], f"no installed check declares {show(what)}", write
            )
        return Treated(what, subject or None)

    def _events(self, tables: Mapping[Any, Any]) -> Iterator[Event]:
        for values, _ in self._entries(tables, "event", EVENT):
            kind, unfinished = values.get("kind", ""), values.get("unfinished", False)
            if unfinished:
                counts = "it counts as it stands" if "date" in values else "without its date it does not count"
                self._no_effect("event", kind or "without kind", counts)
            yield Event(
                kind=kind,
                date=values.get("date", UNDATED),
                time=values.get("time"),
                odometer=_metres(values),
                by=values.get("by", ""),
                note=values.get("note", ""),
                unfinished=unfinished,
            )

    def _waivers(self, tables: Mapping[Any, Any]) -> Iterator[Waiver]:
        for values, place in self._entries(tables, "waiver", WAIVER):
            start, until = values.get("from", UNDATED), values.get("until", UNDATED)
            if until < start and "from" in values:
                self._faults.add("end-before-start", f"{place}.until", "it ends before it begins", "swap the two dates")
            unfinished = values.get("unfinished", False)
            if unfinished:
                self._no_effect("waiver", values.get("what", "of nothing so far"), "it waives nothing")
            yield Waiver(
                who=values.get("who", ""),
                what=values.get("what", ""),
                why=values.get("why", ""),
                start=start,
                until=until,
                role=values.get("role", ""),
                unfinished=unfinished,
            )

    def _voids(self, tables: Mapping[Any, Any], sheets: Mapping[str, datetime.date | None]) -> Iterator[Void]:
        # The derived id of a sheet is known only once the sheet is without fault.
        derived = any(fault.place.partition("[")[0] in self._catalogue.sections for fault in self._faults.faults)
        for values, place in self._entries(tables, "void", VOID):
            name, date = values.get("sheet", ""), values.get("date", UNDATED)
            unfinished = values.get("unfinished", False)
            taken = sheets.get(name)
            if taken is not None and date < taken:
                problem = f"struck out before the day of the sheet, {taken.isoformat()}"
                self._faults.add("bad-date", f"{place}.date", problem, "write the day on which it was struck out")
            elif "sheet" in values and name not in sheets and not (derived and "~" in name):
                write = self._faults.one_of(name, sheets)
                self._faults.add("unknown-sheet", f"{place}.sheet", f"there is no sheet {show(name)}", write)
            if unfinished:
                self._no_effect("void", f"of {name}" if name else "of no sheet so far", "it strikes nothing out")
            why, who = values.get("why", ""), values.get("who", "")
            yield Void(sheet=name, why=why, who=who, date=date, unfinished=unfinished)


def _written_ids(rows: Any) -> Iterator[str]:
    """Yield the ids written in a list of tables, whatever else is wrong with it."""
    for row in rows if isinstance(rows, (list, tuple)) else ():
        if isinstance(row, Mapping) and isinstance(row.get("id"), str):
            yield row["id"]


def _known(date: datetime.date) -> datetime.date | None:
    return None if date == UNDATED else date


def _frozen_names(written: Any) -> Any:
    """Return the instruments that a sheet names by field, frozen and in order; a single name as it is."""
    if isinstance(written, Mapping):
        return frozen_mapping({field: written[field] for field in sorted(written)})
    return written


def _metres(values: Mapping[str, Any]) -> float | None:
    odometer = values.get("odometer")
    return odometer.value if odometer is not None else None


def _sheet_order(sheet: Sheet) -> tuple[Any, ...]:
    """Order by date, then time; sheets without time follow those of the day that have one."""
    return sheet.date, sheet.time is None, str(sheet.time or ""), sheet.section, sheet.id
