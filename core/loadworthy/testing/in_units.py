"""The same case written in other units."""

from __future__ import annotations

import copy
from typing import TYPE_CHECKING, Any

from hypothesis import strategies as st

from loadworthy.units import parse, to_unit, units_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from loadworthy.declarations import Catalogue, Field


def in_other_units(tables: dict[str, Any], catalogue: Catalogue, data: st.DataObject) -> dict[str, Any]:
    """Return the tables with every quantity of sheets, vehicle and plan, and every odometer, in a drawn unit."""
    other = copy.deepcopy(tables)
    for name, section in catalogue.sections.items():
        for row in other.get(name, ()):
            _convert(row, {field.name: field for field in section.fields}, data)
    _convert(other.get("vehicle", {}), catalogue.vehicle, data)
    _convert(other.get("plan", {}), catalogue.plan, data)
    for rows in other.values():
        for row in rows if isinstance(rows, list) else ():
            if "odometer" in row:
                row["odometer"] = _amount(row["odometer"], "distance", data)
    return other


def _convert(row: dict[str, Any], fields: Mapping[str, Field], data: st.DataObject) -> None:
    for name in row:
        if name in fields and fields[name].type == "quantity":
            row[name] = _values(row[name], fields[name].kind, data)


def _values(value: Any, kind: str, data: st.DataObject) -> Any:
    if isinstance(value, dict):
        return {key: _values(part, kind, data) for key, part in value.items()}
    if isinstance(value, list):
        return [_values(part, kind, data) for part in value]
    return _amount(value, kind, data)


def _amount(value: Any, kind: str, data: st.DataObject) -> str:
    amount = parse(value, kind)
    unit = data.draw(st.sampled_from([u for u in units_of(kind) if u != "1" and "?" not in u]))
    text = f"{to_unit(amount.value, unit, kind)!r} {unit}"
    if amount.u is None:
        return text
    difference = to_unit(amount.value + amount.u, unit, kind) - to_unit(amount.value, unit, kind)
    return f"{to_unit(amount.value, unit, kind)!r} +- {difference * 3**0.5!r} {unit}"
