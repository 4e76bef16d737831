"""A case as the plain tables of its file again: what `write` writes and `structure` reads."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from loadworthy.case import Curve, Reading
from loadworthy.units import KINDS, units_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from loadworthy.case import Case, Event, Repair, Sheet
    from loadworthy.declarations import Catalogue, Field

_SHEET_TEXTS = ("by", "conditions", "file", "note", "retest_of")


def to_dict(case: Case, catalogue: Catalogue) -> dict[str, Any]:
    """Return the tables of a case; reading them gives an equal case.

    Quantities are written in SI with as many digits as they have; a stated uncertainty stands beside them under ``u``.
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
        written = {name: _value(value, known[name]) for name, value in values.items()}
        if written:
            out[table] = written
    lists: dict[str, list[dict[str, Any]]] = {}
    for instrument in case.instruments:
        lists.setdefault("instrument", []).append(_instrument(instrument))
    for repair in case.repairs:
        lists.setdefault("repair", []).append(_repair(repair))
    for event in case.events:
        lists.setdefault("event", []).append({"kind": event.kind, **_dated(event), **_texts(event, ("by", "note"))})
    for waiver in case.waivers:
        row = {"who": waiver.who, "role": waiver.role, "what": waiver.what, "why": waiver.why}
        row = {key: value for key, value in row.items() if value}
        lists.setdefault("waiver", []).append({**row, "from": waiver.start, "until": waiver.until})
    for void in case.voids:
        lists.setdefault("void", []).append({"sheet": void.sheet, "why": void.why, "who": void.who, "date": void.date})
    for sheet in case.sheets:
        lists.setdefault(sheet.section, []).append(_sheet(sheet, catalogue))
    return {**out, **lists}


def _sheet(sheet: Sheet, catalogue: Catalogue) -> dict[str, Any]:
    fields = {field.name: field for field in catalogue.sections[sheet.section].fields}
    row: dict[str, Any] = {"id": sheet.id, **_dated(sheet)}
    if sheet.instrument is not None:
        row["instrument"] = dict(sheet.instrument) if hasattr(sheet.instrument, "items") else sheet.instrument
    row.update(_texts(sheet, _SHEET_TEXTS))
    row.update((name, _value(value, fields[name])) for name, value in sheet.values.items())
    return row


def _dated(entry: Sheet | Repair | Event) -> dict[str, Any]:
    row: dict[str, Any] = {"date": entry.date}
    if entry.time is not None:
        row["time"] = entry.time
    if entry.odometer is not None:
        row["odometer"] = f"{entry.odometer!r} m"
    return row


def _texts(entry: Any, names: tuple[str, ...]) -> dict[str, str]:
    return {name: getattr(entry, name) for name in names if getattr(entry, name)}


def _repair(repair: Repair) -> dict[str, Any]:
    treats = [f"{t.what}@{t.subject}" if t.subject else t.what for t in repair.treats]
    return {
        "id": repair.id,
        **_dated(repair),
        "what": repair.what,
        "treats": treats,
        **_texts(repair, ("by", "proof", "note")),
    }


def _instrument(one: Any) -> dict[str, Any]:
    unit = units_of(KINDS[one.kind].difference)[0]
    row: dict[str, Any] = {"id": one.id, "measures": one.kind, **_texts(one, ("text",))}
    if one.accuracy_class is not None:
        row["class"] = one.accuracy_class
    for key in ("span", "resolution", "calibration_u"):
        if getattr(one, key) is not None:
            row[key] = f"{getattr(one, key)!r} {unit}"
    row.update({key: getattr(one, key) for key in ("calibrated", "due") if getattr(one, key) is not None})
    return row


def _value(value: Any, field: Field) -> Any:
    if field.type in ("record", "rows"):
        inner = {one.name: one for one in field.fields}
        if isinstance(value, tuple):
            return [_value_table(row, inner) for row in value]
        return _value_table(value, inner)
    if isinstance(value, Reading):
        return _reading(value)
    if isinstance(value, Curve):
        unit = units_of(field.kind)[0]
        return {f"{s!r} rev/s": f"{v!r} {unit}" for s, v in zip(value.speeds, value.values, strict=True)}
    if isinstance(value, tuple):
        return [_value(part, field) for part in value]
    if field.type == "series":
        from loadworthy.units import to_unit

        unit = value["unit"]
        values = [to_unit(sample, unit, field.kind) for sample in value["values"]]
        return {"every": f"{value['every']!r} s", "unit": unit, "values": values}
    if hasattr(value, "items"):
        return {key: _value(part, field) for key, part in value.items()}
    return value


def _value_table(row: Mapping[str, Any], fields: Mapping[str, Field]) -> dict[str, Any]:
    return {name: _value(value, fields[name]) for name, value in row.items()}


def _reading(reading: Reading) -> Any:
    """Write a reading as it was written: the text is the evidence, and reading it again gives the same numbers."""
    if reading.repeats:
        return reading.text.split("; ")
    return reading.text
