"""Checking the table of demand, and what plugins add to it.

The table is large, so its numbers are checked a row at a time by functions that run in C.
"""

from __future__ import annotations

from math import isclose, isfinite
from operator import le, lt
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from loadworthy.findings import Assumption, Band, Demand
from loadworthy.host.shapes import (
    Each,
    Shape,
    fault,
    not_negative_or_none,
    number,
    number_or_text,
    show,
    text,
    word,
)
from loadworthy.record import evolve

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

_ASSUMPTIONS = Each(
    Shape(Assumption, what=text, value=number_or_text, unit=text, why=text, u=not_negative_or_none, origin=text)
)
_NUMBERS = frozenset((float, int))
#: Fields of the table that a plugin which adds quantities must leave alone.
_FIXED = ("speeds", "torque", "plan", "base", "standard", "base_source", "basis")


def demand_fault(one: Any) -> str:
    """Return what is wrong with a table of demand, nothing where it is sound."""
    if one.__class__ is not Demand:
        return f"it is {show(one)}; due is a Demand or None"
    speeds = one.speeds
    problem = _row_fault("speeds", speeds) or _rising_fault("speeds", speeds)
    if problem:
        return problem
    if speeds[0] < 0.0:
        return "speeds begin below 0"
    for name in ("plan", "base", "standard"):
        row = getattr(one, name)
        if row is not None or name == "plan":
            problem = _row_fault(name, row) or (
                f"{name} has not one value per speed" if len(row) != len(speeds) else ""
            )
            if problem:
                return problem
    return (
        _steps_fault(one)
        or _quantities_fault(one.quantities, [len(row) for row in one.torque])
        or ("" if _ASSUMPTIONS(one.assumptions) else fault(_ASSUMPTIONS, "assumptions", one.assumptions))
        or next(
            (f"{key} is {show(getattr(one, key))}; due is a text" for key in _FIXED[5:] if not text(getattr(one, key))),
            "",
        )
    )


def extension_fault(before: Demand, after: Any) -> str:
    """Return what is wrong with a table to which a plugin added quantities: nothing may be changed or taken away."""
    if after.__class__ is not Demand:
        return f"it is {show(after)}; due is a Demand or None"
    for name in _FIXED:
        old, new = getattr(before, name), getattr(after, name)
        if old is not new and (old.__class__ is not new.__class__ or old != new):
            return f"{name} is changed; only quantities and assumptions may be added"
    if after.assumptions.__class__ is not tuple or after.assumptions[: len(before.assumptions)] != before.assumptions:
        return "assumptions are changed; new ones are added at the end"
    if after.quantities.__class__ is not MappingProxyType:
        return f"quantities is {show(after.quantities)}; due is a mapping"
    for id, band in before.quantities.items():
        new = after.quantities.get(id)
        if new is not band and (new.__class__ is not Band or new != band):
            return f"the quantity {id} is {'taken away' if new is None else 'changed'}; those already there must stay"
    added = {id: band for id, band in after.quantities.items() if id not in before.quantities}
    return _quantities_fault(added, [len(row) for row in before.torque]) or (
        "" if _ASSUMPTIONS(after.assumptions) else fault(_ASSUMPTIONS, "assumptions", after.assumptions)
    )


def merged(before: Demand, extended: Sequence[tuple[str, Demand]]) -> tuple[Demand, list[tuple[str, str]]]:
    """Return the table with all that was added, and (plugin, problem) where two plugins add different figures.

    ``extended`` are sound extensions of ``before`` in order of plugin id; of two that differ the first one counts.
    """
    quantities: dict[str, Band] = dict(before.quantities)
    assumptions = before.assumptions
    by: dict[str, str] = {}
    problems: list[tuple[str, str]] = []
    for plugin, after in extended:
        for id, band in after.quantities.items():
            if id in before.quantities:
                continue
            if id not in by:
                quantities[id], by[id] = band, plugin
            elif quantities[id] != band:
                problems.append((plugin, f"the quantity {id} was added by {by[id]} with other figures, which count"))
        assumptions += after.assumptions[len(before.assumptions) :]
    if len(quantities) == len(before.quantities) and assumptions is before.assumptions:
        return before, problems
    return evolve(before, quantities=quantities, assumptions=assumptions), problems


def _row_fault(name: str, row: Any) -> str:
    if row.__class__ is not tuple or not row:
        return f"{name} is {show(row)}; due is a tuple that is not empty"
    if _sound(row):
        return ""
    bad = next((one for one in row if not number(one)), "too large")
    return f"{name} holds {show(bad)}; due are finite plain numbers"


def _sound(row: tuple[Any, ...]) -> bool:
    """Whether all are plain numbers and finite: one that is not makes the sum infinite or no number."""
    return _NUMBERS.issuperset(map(type, row)) and isfinite(sum(row))


def _rising_fault(name: str, row: tuple[Any, ...]) -> str:
    return "" if all(map(lt, row, row[1:])) else f"{name} do not rise"


def _steps_fault(one: Demand) -> str:
    torque = one.torque
    if torque.__class__ is not tuple or len(torque) != len(one.speeds):
        return "torque has not one row of steps per speed"
    for at, row in enumerate(torque):
        name = f"the steps of torque at speed {at + 1}"
        problem = _row_fault(name, row) or _rising_fault(name, row)
        if problem:
            return problem
        if len(row) != len(torque[0]):
            return f"{name} are {len(row)}, at the first speed {len(torque[0])}; the table must be rectangular"
        for key, values in (("plan", one.plan), ("base", one.base)):
            value = None if values is None else values[at]
            if value is not None and value not in row and not any(isclose(value, step, abs_tol=1e-9) for step in row):
                return f"{name} do not hold {key} itself, {value!r}"
    return ""


def _quantities_fault(quantities: Mapping[str, Any], steps: list[int]) -> str:
    if quantities.__class__ not in (MappingProxyType, dict):
        return f"quantities is {show(quantities)}; due is a mapping"
    for id, band in quantities.items():
        if not word(id):
            return f"quantities has the key {show(id)}; due is a text"
        if band.__class__ is not Band:
            return f"the quantity {id} is {show(band)}; due is a Band"
        for name, rows in zip(Band._fields, band, strict=True):
            if rows.__class__ is not tuple or any(row.__class__ is not tuple for row in rows):
                return f"the quantity {id}: {name} is no tuple of tuples"
            if [len(row) for row in rows] != steps:
                return f"the quantity {id}: {name} has not one number per speed and step of torque"
        for at, (low, nominal, high) in enumerate(zip(*band, strict=True)):
            # One row for all three is common (speed itself).
            if not (_sound(low) and (low is nominal is high or (_sound(nominal) and _sound(high)))):
                return f"the quantity {id} at speed {at + 1} holds something else than finite plain numbers"
            if not (all(map(le, low, nominal)) and all(map(le, nominal, high))):
                return f"the quantity {id} at speed {at + 1} has not low <= nominal <= high"
    return ""
