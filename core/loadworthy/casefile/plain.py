"""A case as the plain tables of its file again: what `write` writes and `structure` reads."""

from __future__ import annotations

from math import inf, nextafter
from typing import TYPE_CHECKING, Any

from loadworthy.case import UNDATED, Curve, Reading
from loadworthy.casefile.attached import written as written_files
from loadworthy.casefile.values import states_limits
from loadworthy.units import KINDS, UnitError, display_unit, from_unit, parse, to_unit, units_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from loadworthy.case import Case, Event, Repair, Sheet, Void
    from loadworthy.declarations import Catalogue, Field

_SHEET_TEXTS = ("by", "conditions", "note", "retest_of")


def to_dict(case: Case, catalogue: Catalogue) -> dict[str, Any]:
    """Return the tables of a case; reading them gives an equal case.

    Readings are written as they were, other quantities with the fewest digits that give the same value again; what a
    sheet states on uncertainty stands in the text or under ``u``, as it did.
    """
    from loadworthy.core_fields import PLAN, VEHICLE

    out: dict[str, Any] = {}
    if case.name:
        out["name"] = case.name
    if case.as_of is not None:
        out["as_of"] = case.as_of
    for table, values, fields in (
        ("vehicle", case.vehicle, (*VEHICLE, *catalogue.vehicle.values())),
        ("plan", case.plan, (*PLAN, *catalogue.plan.values())),
    ):
        known = {field.name: field for field in fields}
        written = {name: _value(value, known[name])[0] for name, value in values.items()}
        if written:
            out[table] = written
    lists: dict[str, list[dict[str, Any]]] = {}
    for instrument in case.instruments:
        lists.setdefault("instrument", []).append(_instrument(instrument))
    for repair in case.repairs:
        lists.setdefault("repair", []).append(_repair(repair))
    for event in case.events:
        row = {**_due(event, ("kind",)), **_dated(event), **_texts(event, ("by", "note", "unfinished"))}
        lists.setdefault("event", []).append(row)
    for waiver in case.waivers:
        row = {**_due(waiver, ("who", "what", "why")), **_texts(waiver, ("role", "unfinished"))}
        days = {"from": waiver.start, "until": waiver.until}
        row.update((key, day) for key, day in days.items() if day != UNDATED or not waiver.unfinished)
        lists.setdefault("waiver", []).append(row)
    for void in case.voids:
        row = {**_due(void, ("sheet", "why", "who")), **_day(void), **_texts(void, ("unfinished",))}
        lists.setdefault("void", []).append(row)
    for sheet in case.sheets:
        lists.setdefault(sheet.section, []).append(_sheet(sheet, catalogue))
    out.update(lists)
    if case.unread:
        from loadworthy.casefile.unread import thawed
    for key, value in case.unread.items():
        # Fields of vehicle and plan stand beside those that were read.
        out[key] = {**out.get(key, {}), **thawed(value)} if key in ("vehicle", "plan") else thawed(value)
    return out


def _sheet(sheet: Sheet, catalogue: Catalogue) -> dict[str, Any]:
    fields = {field.name: field for field in catalogue.sections[sheet.section].fields}
    row: dict[str, Any] = {"id": sheet.id, **_dated(sheet)}
    if sheet.instrument is not None:
        row["instrument"] = dict(sheet.instrument) if hasattr(sheet.instrument, "items") else sheet.instrument
    row.update(_texts(sheet, _SHEET_TEXTS))
    if sheet.file:
        row["file"] = written_files(sheet.file)
    if sheet.unfinished:
        row["unfinished"] = True
    values, u = _table(sheet.values, fields)
    row.update(values)
    return {**row, "u": u} if u else row


def _day(entry: Sheet | Repair | Event | Void) -> dict[str, Any]:
    return {} if entry.unfinished and entry.date == UNDATED else {"date": entry.date}


def _due(entry: Any, names: tuple[str, ...]) -> dict[str, Any]:
    """Return what is required of an entry, without what one under way lacks yet."""
    return {name: getattr(entry, name) for name in names if getattr(entry, name) or not entry.unfinished}


def _dated(entry: Sheet | Repair | Event) -> dict[str, Any]:
    row = _day(entry)
    if entry.time is not None:
        row["time"] = entry.time
    if entry.odometer is not None:
        row["odometer"] = _exact(entry.odometer, "distance")
    return row


def _texts(entry: Any, names: tuple[str, ...]) -> dict[str, Any]:
    return {name: getattr(entry, name) for name in names if getattr(entry, name)}


def _repair(repair: Repair) -> dict[str, Any]:
    treats = [f"{t.what}@{t.subject}" if t.subject else t.what for t in repair.treats]
    row = {"id": repair.id, **_dated(repair), **_due(repair, ("what",))}
    if treats or not repair.unfinished:
        row["treats"] = treats
    return {**row, **_texts(repair, ("by", "proof", "note", "unfinished"))}


def _instrument(one: Any) -> dict[str, Any]:
    row: dict[str, Any] = _texts(one, ("id", "unfinished"))
    if one.kind:
        row["measures"] = one.kind
    row.update(_texts(one, ("text",)))
    if one.accuracy_class is not None:
        row["class"] = one.accuracy_class
    for key in ("span", "resolution", "calibration_u"):
        if getattr(one, key) is not None:
            row[key] = _exact(getattr(one, key), KINDS[one.kind].difference)
    row.update({key: getattr(one, key) for key in ("calibrated", "due") if getattr(one, key) is not None})
    return row


def _table(values: Mapping[str, Any], fields: Mapping[str, Field]) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return what is written for each value, and the uncertainties that stand beside it under ``u``."""
    row: dict[str, Any] = {}
    stated: dict[str, Any] = {}
    for name, value in values.items():
        row[name], u = _value(value, fields[name])
        if u:
            stated[name] = u
    return row, stated


def _value(value: Any, field: Field) -> tuple[Any, Any]:
    """Return what is written for a value, and the uncertainty that stands under ``u`` (or nothing)."""
    if isinstance(value, Reading):
        return _reading(value)
    if isinstance(value, Curve):
        points = zip(value.speeds, value.values, strict=True)
        return {_exact(speed, "rotation"): _exact(y, field.kind) for speed, y in points}, None
    if isinstance(value, tuple):
        # Elements of a list share one uncertainty under ``u``, fields of rows one each.
        written = [_value(part, field) for part in value]
        return [part for part, _ in written], next((u for _, u in written if u), None)
    if not hasattr(value, "items"):
        return value, None
    inner = {one.name: one for one in field.fields}
    if field.type == "series" and set(value) == {"every", "unit", "values"}:
        return _series(value, field.kind), None
    if field.type in ("record", "rows") and not (field.per and set(value) - set(inner)):
        return _table(value, inner)
    by_subject = {key: _value(part, field) for key, part in value.items()}
    stated = {key: u for key, (_, u) in by_subject.items() if u}
    if field.type in ("record", "rows"):
        stated = next(iter(stated.values()), {})  # the same for all subjects
    return {key: part for key, (part, _) in by_subject.items()}, stated


def _series(value: Mapping[str, Any], kind: str) -> dict[str, Any]:
    unit = value["unit"]
    samples = [_sample(sample, unit, kind) for sample in value["values"]]
    return {"every": _exact(value["every"], "time"), "unit": "" if unit == "1" else unit, "values": samples}


def _sample(value: float, unit: str, kind: str) -> float:
    """Return the number that the reader turns into ``value`` again, short if there is a short one."""
    zero = from_unit(0.0, unit, kind)
    scale = from_unit(1.0, unit, kind) - zero
    near = (value - zero) / scale
    candidates = (float(f"{near:.12g}"), near, nextafter(near, inf), nextafter(near, -inf))
    return next((number for number in candidates if number * scale + zero == value), near)


def _reading(reading: Reading) -> tuple[Any, Any]:
    """Write a reading as it was written: the text is the evidence, and reading it again gives the same numbers."""
    texts = reading.text.split("; ") if reading.repeats else [reading.text]
    values = reading.repeats or (reading.value,)
    try:
        amounts = [parse(text, reading.kind) for text in texts]
    except UnitError:
        amounts = []
    parts = dict(reading.u_parts)
    if [amount.value for amount in amounts] != list(values):
        # Made by a program, or changed by it: there is no text that says the same.
        texts = [_exact(value, reading.kind, reading.unit) for value in values]
        stated = parts.get("stated", reading.u)
        if stated is not None:
            limits = _exact(stated * 3.0**0.5, KINDS[reading.kind].difference)
            texts = [f"{text} +- {limits}" for text in texts]
        beside = None
    elif "stated" in parts and not any(states_limits(amount) for amount in amounts):
        beside = _exact(parts["stated"], KINDS[reading.kind].difference, reading.unit)
    else:
        beside = None
    return (texts if reading.repeats else texts[0]), beside


def _exact(value: float, kind: str, unit: str = "") -> str:
    """Return a quantity as text that reads as the same value, in a unit for people if there is one that does."""
    si = units_of(kind)[0]
    for candidate in (unit or display_unit(kind), si):
        for digits in (6, 12, 17):
            try:
                number = f"{to_unit(value, candidate, kind):.{digits}g}"
                text = number if candidate == "1" else f"{number} {candidate}"
                if parse(text, kind).value == value:
                    return text
            except UnitError:
                break  # the unit of a kind akin, say a pressure's ending
    return repr(value) if si == "1" else f"{value!r} {si}"
