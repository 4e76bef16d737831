"""JSON Schema of a case, made of the fields that core and plugins declare."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from loadworthy.core_fields import INSTRUMENT, LISTS, PLAN, SHEET, VEHICLE
from loadworthy.units import KINDS, display_unit, units_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from loadworthy.declarations import Catalogue, Field

    Schema = dict[str, Any]

_DATE: Schema = {"type": "string", "format": "date", "pattern": r"^\d{4}-\d{2}-\d{2}$"}
_TIME: Schema = {"type": "string", "pattern": r"^([01]\d|2[0-3])(:[0-5]\d(:[0-5]\d([.,]\d+)?)?)$"}
#: No control characters but tabs and line ends.
_TEXT: Schema = {"type": "string", "pattern": r"^[^\u0000-\u0008\u000b\u000c\u000e-\u001f\u007f-\u009f]*$"}
_LINE: Schema = {"type": "string", "pattern": r"^[^\u0000-\u001f\u007f-\u009f]*$"}
#: What a sheet, a repair or an instrument may be called.
_NAME: Schema = {
    "type": "string",
    "maxLength": 100,
    "pattern": r"^(?!\s)[^@#\u0000-\u001f\u007f-\u009f]*[^@#\s\u0000-\u001f\u007f-\u009f]$",
}
#: A cause or rule, and perhaps behind "@" where it sits.
_TREATED: Schema = {**_TEXT, "allOf": [{"pattern": r"^\s*[^@\s][^@]*(@[\s\S]*\S[\s\S]*)?$"}]}
#: A digit before any letter; phones write some digits in a wider form.
_NUMBER = r"^[^A-Za-z]*[0-9\uff10-\uff19]"
#: Something besides a number and its signs.
_WITH_UNIT = r"[^0-9\uff10-\uff19.,+\-eE\s\u00b1]"
_LIMITS = r"\+-|\+/-|\u00b1"
_LONGEST = 200
#: A table that says that it is still being written.
_UNFINISHED: Schema = {"properties": {"unfinished": {"const": True}}, "required": ["unfinished"]}
#: A photo or paper of a sheet.
_FILE: Schema = {
    "anyOf": [
        _TEXT,
        {
            "type": "object",
            "properties": {"path": _TEXT, "sha256": {"type": "string", "pattern": "^([0-9A-Fa-f]{64})?$"}},
            "required": ["path"],
            "additionalProperties": False,
        },
    ]
}
#: Keys of a case that are names, by the table that has them.
_NAMES = {("sheet", "id"), ("repair", "id"), ("instrument", "id")}


def case_schema(catalogue: Catalogue) -> Schema:
    """Return the schema of a case file's content as these plugins read it."""
    # Where a plugin could not be loaded, what it would know is kept unread and refused by nobody.
    closed = not catalogue.absent
    properties: Schema = {
        "name": {**_LINE, "description": "name of the case"},
        "as_of": {**_DATE, "description": "day as of which the case is judged"},
        "vehicle": _table(_named(VEHICLE, catalogue.vehicle.values()), closed=closed),
        "plan": _table(_named(PLAN, catalogue.plan.values()), closed=closed),
    }
    for name, fields in LISTS.items():
        rows = _instrument() if name == "instrument" else _under_way(fields, name)
        properties[name] = {"type": "array", "items": rows}
    for id, section in catalogue.sections.items():
        sheet = {**_sheet(section.fields), "description": section.text}
        properties[id] = {"type": "array", "items": sheet}
    return {
        "title": "A case of loadworthy",
        "description": "TOML as JSON has it: dates and times of day are texts",
        "type": "object",
        "properties": properties,
        "additionalProperties": not closed,
    }


def _named(own: Iterable[Field], declared: Iterable[Field]) -> tuple[Field, ...]:
    """Return fields without those that stand twice: a catalogue may hold the core's own too."""
    return tuple({field.name: field for field in (*own, *declared)}.values())


def _under_way(fields: Sequence[Field], name: str) -> Schema:
    """Return the schema of a table of a list: what is required of it is not while it is unfinished."""
    return {**_table(fields, name, strict=False), "if": _UNFINISHED, "else": _needed(fields)}


def _needed(fields: Sequence[Field]) -> Schema:
    """Return what a finished table must have, at any depth."""
    found: Schema = {"required": [field.name for field in fields if field.required]}
    inner = {field.name: _within(field, _needed(field.fields)) for field in fields if field.fields}
    return {**found, "properties": inner} if inner else found


def _table(fields: Sequence[Field], name: str = "", *, closed: bool = True, strict: bool = True) -> Schema:
    required = [field.name for field in fields if field.required] if strict else []
    properties = {field.name: _NAME if (name, field.name) in _NAMES else _field(field, strict) for field in fields}
    if name == "repair":
        properties["treats"] = {"type": "array", "items": _TREATED}
    found: Schema = {"type": "object", "properties": properties, "additionalProperties": not closed}
    return {**found, "required": required} if required else found


def _instrument() -> Schema:
    """Return the schema of an instrument; whether its widths need a unit depends on what it measures."""
    plain = [field for field in INSTRUMENT if field.type != "quantity"]
    found = _table(plain, "instrument", strict=False)
    bare = [kind for kind in KINDS if "1" in units_of(kind)]
    widths = [field.name for field in INSTRUMENT if field.type == "quantity"]
    found["properties"] |= dict.fromkeys(widths, True)
    finished = {**_needed(plain), "dependentRequired": {"class": ["span"]}}
    found["allOf"] = [{"if": _UNFINISHED, "else": finished}]
    found["if"] = {"properties": {"measures": {"enum": bare}}, "required": ["measures"]}
    found["then"] = {"properties": dict.fromkeys(widths, _amount("ratio"))}
    found["else"] = {"properties": dict.fromkeys(widths, _amount("length"))}
    return found


def _sheet(own: Sequence[Field]) -> Schema:
    plain = (*(field for field in SHEET if field.name not in ("instrument", "u", "file")), *own)
    found = _under_way(plain, "sheet")
    names = {"type": "object", "properties": {field.name: _TEXT for field in own}, "additionalProperties": False}
    found["properties"]["instrument"] = {"anyOf": [_TEXT, names]}
    found["properties"]["u"] = _uncertainties(own)
    found["properties"]["file"] = {"anyOf": [_FILE, {"type": "array", "items": _FILE}]}
    return found


def _uncertainties(fields: Sequence[Field]) -> Schema:
    """Return the schema of the standard uncertainties that a sheet states by field."""
    stated = {field.name: _uncertainty(field) for field in fields if field.type in ("quantity", "rows", "record")}
    return {"type": "object", "properties": stated, "additionalProperties": False}


def _uncertainty(field: Field) -> Schema:
    if field.type in ("rows", "record"):
        return _uncertainties(field.fields)
    one = _plain_amount(KINDS[field.kind].difference)
    return {"anyOf": [one, {"type": "object", "additionalProperties": one}]} if field.per else one


def _field(field: Field, strict: bool = True) -> Schema:
    """Return the schema of what may stand under a key."""
    one = _value(field, strict)
    if field.type == "rows" or field.many:
        one = {"type": "array", "items": one}
    if field.nested:
        one = {"type": "array", "items": {"type": "array", "items": _value(field, strict)}}
    if field.per:
        keys = {"type": "string", "maxLength": 40, "pattern": _subject(field.per)}
        one = {"type": "object", "propertyNames": keys, "additionalProperties": one}
    return {**one, "description": field.text} if field.text else one


def _within(field: Field, one: Schema) -> Schema:
    """Return the schema that asks something of every single value of a field."""
    if field.type == "rows" or field.many:
        one = {"items": one}
    if field.nested:
        one = {"items": {"items": one}}
    return {"additionalProperties": one} if field.per else one


def _subject(per: str) -> str:
    """Return the pattern of a short key: a number without zeros before it, or a name that does not repeat its kind."""
    return rf"^(0|[1-9][0-9]*|(?!{re.escape(per)})(?![0-9]+$)[^@#\s]([^@#\u0000-\u001f\u007f-\u009f]*[^@#\s])?)$"


def _value(field: Field, strict: bool) -> Schema:
    match field.type:
        case "quantity":
            one = _amount(field.kind)
            return {"anyOf": [one, {"type": "array", "items": one, "minItems": 1}]}
        case "number":
            return {"type": "number", **_bounds(field)}
        case "count":
            return {"type": "integer", **_bounds(field)}
        case "choice":
            return {"enum": list(field.choices)}
        case "flag":
            return {"type": "boolean"}
        case "date":
            return _DATE
        case "curve":
            point = _plain_amount(field.kind)
            speeds = _plain_amount("rotation")
            return {"type": "object", "minProperties": 1, "propertyNames": speeds, "additionalProperties": point}
        case "series":
            return _series(field.kind)
        case "rows" | "record":
            return _table(field.fields, strict=strict)
        case _:
            return _TIME if field.kind == "time" else _TEXT


def _bounds(field: Field) -> Schema:
    low, high = field.possible or (None, None)
    ends = {"minimum": low, "maximum": high}
    return {key: end for key, end in ends.items() if end is not None}


def _amount(kind: str) -> Schema:
    """Return the schema of a quantity: text with its unit; a bare number only where no unit is one."""
    text: Schema = {"type": "string", "maxLength": _LONGEST, "pattern": _NUMBER}
    if "1" in units_of(kind):
        return {"anyOf": [{"type": "number"}, text]}
    return {**text, "allOf": [{"pattern": _WITH_UNIT}], "examples": [f"12.3 {display_unit(kind)}"]}


def _plain_amount(kind: str) -> Schema:
    """Return the schema of a quantity that states no limits of error."""
    return {**_amount(kind), "not": {"type": "string", "pattern": _LIMITS}}


def _series(kind: str) -> Schema:
    unit = {"type": "string", "examples": [display_unit(kind)]}
    values = {"type": "array", "items": {"type": "number"}}
    properties = {"every": _amount("time"), "unit": unit, "values": values}
    return {"type": "object", "properties": properties, "required": list(properties), "additionalProperties": False}
