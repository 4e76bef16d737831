"""Before anyone judges: the case as it stood on the day, without voided sheets, with distorted readings marked."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from loadworthy.case import Reading
from loadworthy.record import evolve

if TYPE_CHECKING:
    import datetime
    from collections.abc import Iterable, Mapping, Sequence

    from loadworthy.case import Case, Sheet
    from loadworthy.declarations import Catalogue, Field
    from loadworthy.findings import Distortion


def as_of_day(case: Case, as_of: datetime.date | None) -> datetime.date:
    """Return the day of judgement: as asked, else the case's own, else today."""
    if as_of is not None:
        return as_of
    if case.as_of is not None:
        return case.as_of
    import datetime as dt

    return dt.date.today()


def as_known_on(case: Case, day: datetime.date) -> Case:
    """Return the case as it stood at the end of ``day``, without the sheets that were struck out by then.

    A repair, waiver or void that is not finished has no effect, so it is left out. Sheets and events stay: doubt about
    these must not make anything better.
    """
    known = case.until(day)
    repairs = tuple(repair for repair in known.repairs if not repair.unfinished)
    waivers = tuple(waiver for waiver in known.waivers if not waiver.unfinished)
    voids = tuple(void for void in known.voids if not void.unfinished)
    if len(repairs) + len(waivers) + len(voids) < len(known.repairs) + len(known.waivers) + len(known.voids):
        known = evolve(known, repairs=repairs, waivers=waivers, voids=voids)
    if not known.voids:
        return known
    struck = {void.sheet for void in known.voids}
    return evolve(known, sheets=tuple(s for s in known.sheets if s.id not in struck))


def distorted(
    case: Case, distortions: Sequence[tuple[str, Distortion]], catalogue: Catalogue
) -> tuple[Case, tuple[str, ...]]:
    """Return the case with every distorted reading widened or refused, and what was done, in words.

    A target is ``section.field`` (of a row: ``section.field.key``), the name of a field or key of any section, or the
    quantity that it names.
    Declared parts never hide a fault: a widened reading only becomes less certain, a refused one clears nothing.
    """
    if not distortions:
        return case, ()
    ordered = sorted((d for _, d in distortions), key=lambda d: (d.target, d.action, d.reason))
    notes: set[str] = set()
    sheets = tuple(_distort_sheet(sheet, ordered, catalogue, notes) for sheet in case.sheets)
    return evolve(case, sheets=sheets), tuple(sorted(notes))


def _distort_sheet(sheet: Sheet, distortions: Sequence[Distortion], catalogue: Catalogue, notes: set[str]) -> Sheet:
    section = catalogue.sections.get(sheet.section)
    fields: Mapping[str, Field] = {f.name: f for f in section.fields} if section else {}
    values = _distort_table(sheet.values, sheet.section, fields, distortions, notes)
    return sheet if values is sheet.values else evolve(sheet, values=values)


def _distort_table(
    values: Mapping[str, Any],
    place: str,
    fields: Mapping[str, Field],
    distortions: Sequence[Distortion],
    notes: set[str],
) -> Mapping[str, Any]:
    """Return a sheet's values, or those of one of its rows, distorted; themselves where nothing is meant."""
    changed: dict[str, Any] = {}
    for name, value in values.items():
        field = fields.get(name)
        inner = {f.name: f for f in field.fields} if field is not None else {}
        about = [d for d in distortions if _meets(d, place, name, field)]
        new = _distort_value(value, about) if about else value
        if new is not value:
            notes.update(f"{place}.{name}: {_word(d)}: {d.reason}" for d in about)
        if inner:
            new = _distort_rows(new, f"{place}.{name}", inner, distortions, notes)
        if new is not value:
            changed[name] = new
    return {**values, **changed} if changed else values


def _distort_rows(
    value: Any, place: str, fields: Mapping[str, Field], distortions: Sequence[Distortion], notes: set[str]
) -> Any:
    """Return the rows of a field, or its one table, distorted; themselves where nothing is meant."""
    if isinstance(value, tuple):
        rows = tuple(_distort_rows(row, place, fields, distortions, notes) for row in value)
        return rows if any(new is not old for new, old in zip(rows, value, strict=True)) else value
    return _distort_table(value, place, fields, distortions, notes) if hasattr(value, "items") else value


def _word(distortion: Distortion) -> str:
    return "not to be relied on" if distortion.action == "refuse" else "taken as less certain"


def _meets(distortion: Distortion, section: str, name: str, field: Field | None) -> bool:
    if distortion.target in (name, f"{section}.{name}"):
        return True
    return field is not None and bool(field.quantity) and distortion.target == field.quantity


def _distort_value(value: Any, distortions: Iterable[Distortion]) -> Any:
    if isinstance(value, Reading):
        for distortion in distortions:
            value = _distort_reading(value, distortion)
        return value
    if isinstance(value, tuple):
        parts = tuple(_distort_value(part, distortions) for part in value)
        return parts if any(new is not old for new, old in zip(parts, value, strict=True)) else value
    if hasattr(value, "items"):
        held = {key: _distort_value(part, distortions) for key, part in value.items()}
        return held if any(held[key] is not value[key] for key in held) else value
    return value


def _distort_reading(reading: Reading, distortion: Distortion) -> Reading:
    if distortion.action == "refuse":
        refused = "; ".join(part for part in (reading.refused, distortion.reason) if part)
        return evolve(reading, refused=refused)
    if reading.u is None:
        return reading
    more = (distortion.widen_by**2 + (distortion.widen_relative * reading.value) ** 2) ** 0.5
    u = (reading.u**2 + more**2) ** 0.5
    return evolve(reading, u=u, u_parts=(*reading.u_parts, (distortion.reason, more)))
