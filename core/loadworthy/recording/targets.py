"""What can be written into a case: a sheet of a section, an entry of the core's lists, or facts of vehicle and plan."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from loadworthy.core_fields import LISTS, PLAN, SHEET, VEHICLE
from loadworthy.record import NamedTuple, evolve
from loadworthy.units import KINDS

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from loadworthy.declarations import Catalogue, Field

#: Keys of a sheet that follow its readings, and those that nobody is asked for.
_LAST = ("file", "note", "retest_of", "id")
_UNASKED = ("u", "unfinished")


class Target(NamedTuple):
    """One kind of table.

    ``fields`` are all its keys, ``asked`` those that a person is asked for, in this order, of which the ``first`` ones
    matter most. ``listed``: written as ``[[name]]``, any number of times; ``named``: each may have an id.
    """

    name: str
    text: str
    fields: tuple[Field, ...]
    asked: tuple[Field, ...]
    first: int
    listed: bool
    named: bool
    cautions: tuple[str, ...] = ()

    def field(self, name: str, written: Mapping[str, Any]) -> Field | None:
        """Return a field by name; what an instrument measures decides on the unit of its span and the like."""
        found = next((one for one in self.fields if one.name == name), None)
        if found is None or found.kind or found.type != "quantity":
            return found
        kind = KINDS.get(str(written.get("measures")))
        return evolve(found, kind=kind.difference if kind is not None else "")


def target(name: str, catalogue: Catalogue) -> Target | None:
    """Return what can be written under a name, or None where nobody declares it."""
    if name == "vehicle":
        return _facts(name, "facts of the vehicle", VEHICLE, catalogue.vehicle, catalogue, core_first=False)
    if name == "plan":
        return _facts(name, "what its owner wants", PLAN, catalogue.plan, catalogue, core_first=True)
    if name in LISTS:
        asked = _required_first(one for one in LISTS[name] if one.name not in _UNASKED)
        id_last = [one for one in asked if one.name != "id" or one.required]
        id_last += [one for one in asked if one not in id_last]
        named = any(one.name == "id" for one in asked)
        return Target(name, _TEXTS[name], LISTS[name], tuple(id_last), len(asked), True, named)
    section = catalogue.sections.get(name)
    if section is None:
        return None
    own = {one.name: one for one in SHEET}
    head = [one for one in SHEET if one.name not in (*_LAST, *_UNASKED)]
    asked = [*head, *_required_first(section.fields), *(own[name] for name in _LAST)]
    tests = [catalogue.tests[id] for id in section.tests if id in catalogue.tests]
    cautions = [section.caution, *(f"{test.text}: {test.caution}" for test in tests if test.caution)]
    told = tuple(text for text in cautions if text)
    return Target(name, section.text, (*SHEET, *section.fields), tuple(asked), len(asked), True, True, told)


def names(catalogue: Catalogue) -> tuple[str, ...]:
    """Return every name that `target` knows."""
    return (*catalogue.sections, *LISTS, "vehicle", "plan")


def members(listed: Iterable[tuple[str, Mapping[str, Sequence[str]]]]) -> dict[str, tuple[str, ...]]:
    """Return the short keys of the members of each kind ("3" of "wheel 3"), as plugins list them; the longest wins."""
    found: dict[str, tuple[str, ...]] = {}
    for _, kinds in listed:
        for kind, ids in kinds.items():
            keys = tuple(id.removeprefix(kind).strip() for id in ids)
            if len(keys) > len(found.get(kind, ())):
                found[kind] = keys
    return found


_TEXTS = {
    "instrument": "a measuring instrument",
    "repair": "work done on the vehicle",
    "event": "something that happened to the vehicle",
    "waiver": "somebody accepts a gap or a finding for a time",
    "void": "a sheet that was entered wrongly is struck out",
}


def _facts(
    name: str,
    text: str,
    core: Sequence[Field],
    declared: Mapping[str, Field],
    catalogue: Catalogue,
    *,
    core_first: bool,
) -> Target:
    """Return the facts of a table, what matters first: required ones, those that several checks ask for, the core's."""
    own = {one.name for one in core}
    others = [one for one in declared.values() if one.name not in own]
    shared = [one for one in others if one.required or f"{name}:{one.name}" in catalogue.shared]
    first = _required_first([*core, *shared] if core_first else [*shared, *core])
    rest = [one for one in others if one not in shared]
    fields = (*first, *rest)
    return Target(name, text, fields, fields, len(first), False, False)


def _required_first(fields: Iterable[Field]) -> list[Field]:
    return sorted(fields, key=lambda one: not one.required)
