"""One catalogue of all that plugins declare: checked, keyed by id, with the plugin that each id belongs to.

Limits and rules go under ``plugin.name``. Whatever has an effect has one owner; quantities, groups and the fields of
``[vehicle]`` and ``[plan]`` are words that several plugins may declare, if they mean the same.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from loadworthy.declarations import (
    Broader,
    Catalogue,
    Cause,
    Fields,
    Group,
    Limit,
    Quantity,
    Rule,
    Section,
    SymptomSet,
    WorkshopTest,
)
from loadworthy.errors import DeclarationError, Fault

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from loadworthy.host.prepared import Prepared

#: Owner of the fields that the core itself declares.
CORE = "core"
#: Class -> (family as in ``Catalogue.owner``, table of the catalogue, whether an equal second declaration is allowed)
_FAMILIES: dict[type, tuple[str, str, bool]] = {
    Section: ("section", "sections", False),
    Limit: ("limit", "limits", False),
    Rule: ("rule", "rules", False),
    Cause: ("cause", "causes", False),
    Broader: ("broader", "broader", False),
    SymptomSet: ("symptom", "symptoms", False),
    WorkshopTest: ("test", "tests", False),
    Quantity: ("quantity", "quantities", True),
    Group: ("group", "groups", True),
}
#: Where a rule may look besides the sheets of a section: nowhere in particular, or the case's own tables.
_NO_SECTION = ("", "vehicle", "plan")


def collect(
    declared: Iterable[tuple[str, Any]], absent: tuple[str, ...] = (), prepared: Prepared | None = None
) -> Catalogue:
    """Return the catalogue of (plugin id, declaration) pairs, which come in order of plugin id.

    ``absent`` are plugins that could not be loaded or could not declare what they bring; ``prepared`` holds the checked
    declarations of others.

    Raises DeclarationError with everything that is incomplete, impossible or contradictory.
    """
    collector = _Collector(prepared)
    for plugin, one in declared:
        collector.add(plugin, one)
    collector.check_references()
    if collector.faults:
        count = len(collector.faults)
        what = "1 fault" if count == 1 else f"{count} faults"
        raise DeclarationError(f"the declarations of the plugins cannot be used: {what}", tuple(collector.faults))
    return Catalogue(**collector.ordered(), owners=collector.owners, shared=frozenset(collector.shared), absent=absent)


class _Collector:
    def __init__(self, prepared: Prepared | None) -> None:
        # Late, because the reader of cases is a room of its own that asks the host for the catalogue.
        from loadworthy.core_fields import PLAN, SHEET, TOP, VEHICLE

        self.tables: dict[str, dict[str, Any]] = {table: {} for _, table, _ in _FAMILIES.values()}
        self.tables |= {"vehicle": {}, "plan": {}}
        self.owners: dict[str, str] = {}
        self.shared: set[str] = set()
        self.faults: list[Fault] = []
        self._added = False
        self._reserved = frozenset(TOP)
        self._sheet_keys = frozenset(field.name for field in SHEET)
        if prepared is not None:
            self.tables = {table: dict(held) for table, held in prepared.tables.items()}
            self.owners, self.shared = dict(prepared.owners), set(prepared.shared)
            return
        self._add_fields(CORE, Fields("vehicle", VEHICLE))
        self._add_fields(CORE, Fields("plan", PLAN))

    def ordered(self) -> dict[str, dict[str, Any]]:
        """Return the tables in order of plugin id, the core's own first, however they came in."""
        if not self._added:
            return self.tables
        families = {table: family for family, table, _ in _FAMILIES.values()}
        ordered = {}
        for table, held in self.tables.items():
            family = families.get(table, table)
            ranks = {id: _rank(self.owners[f"{family}:{id}"]) for id in held}
            ordered[table] = {id: held[id] for id in sorted(held, key=ranks.__getitem__)}
        return ordered

    def add(self, plugin: str, one: Any) -> None:
        """Take one declaration, or note what is wrong with it."""
        # Late: what was made ready when the wheel was built need not be checked, and the tables of checks are large.
        from loadworthy.host.declared import declaration_faults

        self._added = True
        problems = tuple(declaration_faults(one))
        if problems:
            self.faults += (Fault("bad-declaration", problem, _place(plugin, one)) for problem in problems)
        elif isinstance(one, Fields):
            self._add_fields(plugin, one)
        else:
            if isinstance(one, Section):
                self._check_section(plugin, one)
            family, table, shared = _FAMILIES[one.__class__]
            id = f"{plugin}.{one.name}" if isinstance(one, (Limit, Rule)) else one.id
            self._put(plugin, family, table, id, one, shared)

    def _add_fields(self, plugin: str, one: Fields) -> None:
        for field in one.fields:
            self._put(plugin, one.table, one.table, field.name, field, True)

    def _put(self, plugin: str, family: str, table: str, id: str, one: Any, shared: bool) -> None:
        held = self.tables[table]
        if id not in held:
            held[id] = one
            self.owners[f"{family}:{id}"] = plugin
            return
        first, plugin = sorted((self.owners[f"{family}:{id}"], plugin), key=_rank)
        if shared and held[id] == one:
            if plugin != first:
                self.owners[f"{family}:{id}"] = first
                self.shared.add(f"{family}:{id}")
            return
        what = f"{family} field {id}" if family in ("vehicle", "plan") else f"{family} {id}"
        by = f"twice by {first}" if first == plugin else f"by {first} and by {plugin}"
        problem = f"the {what} is declared {'differently ' if shared else ''}{by}"
        write = "declare the same in both" if shared else "leave it to one of them"
        self.faults.append(Fault("declared-twice", problem, plugin, None, write))

    def _check_section(self, plugin: str, one: Section) -> None:
        if one.id in self._reserved:
            problem = f"the section cannot be called {one.id}, which is a table of the case itself"
            self.faults.append(Fault("reserved-name", problem, _place(plugin, one), None, "choose another name"))
        for field in one.fields:
            if field.name in self._sheet_keys:
                problem = f"the field cannot be called {field.name}, which is a key of every sheet"
                self.faults.append(Fault("reserved-name", problem, _place(plugin, one), None, "choose another name"))

    def check_references(self) -> None:
        """Note references that must hold, whatever else is installed."""
        sections = self.tables["sections"]
        for id, rule in self.tables["rules"].items():
            if rule.section not in sections and rule.section not in _NO_SECTION:
                problem = f"its section {rule.section} is declared by no installed plugin"
                self.faults.append(Fault("unknown-section", problem, f"rule {id}"))
        for id in self.tables["broader"].keys() & self.tables["causes"].keys():
            first, second = self.owners[f"cause:{id}"], self.owners[f"broader:{id}"]
            problem = f"{id} is declared as a cause by {first} and as a broader wording by {second}"
            self.faults.append(Fault("declared-twice", problem, second, None, "leave it to one of them"))
        self.faults.sort()


def _rank(owner: str) -> tuple[bool, str]:
    return owner != CORE, owner


def _place(plugin: str, one: Any) -> str:
    """Return whose declaration it is and of what; its id may be anything yet."""
    if one.__class__ not in _FAMILIES:
        return f"{plugin}: {one.table}" if isinstance(one, Fields) and isinstance(one.table, str) else plugin
    id = getattr(one, "name" if one.__class__ in (Limit, Rule) else "id")
    return f"{plugin}: {_FAMILIES[one.__class__][0]} {id}" if isinstance(id, str) else plugin


def undeclared(catalogue: Catalogue) -> tuple[tuple[str, str, str], ...]:
    """Return the ids that declarations speak of and nobody declares: (family, id, who speaks of it), sorted.

    That is allowed, since any plugin may be missing; of a set that is installed together it should be empty.
    """
    known = {
        "cause": catalogue.causes.keys() | catalogue.broader.keys(),
        "test": catalogue.tests.keys(),
        "symptom": catalogue.symptoms.keys(),
        "quantity": catalogue.quantities.keys(),
        "limit": catalogue.limits.keys(),
        "vehicle": catalogue.vehicle.keys(),
    }
    return tuple(sorted({one for one in _references(catalogue) if one[1] not in known[one[0]]}))


def _references(catalogue: Catalogue) -> Iterator[tuple[str, str, str]]:
    for id, section in catalogue.sections.items():
        by = f"section {id}"
        yield from (("test", test, by) for test in section.tests)
        for field in section.fields:
            if field.quantity:
                yield "quantity", field.quantity, by
            if field.usual_by is not None:
                yield "vehicle", field.usual_by[0], by
    for id, rule in catalogue.rules.items():
        by = f"rule {id}"
        yield from (("cause", cause, by) for ratios in rule.bands.values() for cause in ratios)
        if rule.test:
            yield "test", rule.test, by
    for id, cause in catalogue.causes.items():
        by = f"cause {id}"
        yield from (("test", test, by) for test in cause.retest)
        yield from (("cause", other, by) for other in cause.excludes)
        yield from (("limit", variant.limit, by) for variant in cause.variants)
        if cause.driver != "none":
            yield "quantity", cause.driver, by
    for id, broader in catalogue.broader.items():
        by = f"broader {id}"
        yield from (("cause", covered, by) for covered in broader.covers)
        if broader.symptom:
            yield "symptom", broader.symptom, by
    for id, symptom in catalogue.symptoms.items():
        yield from (("cause", candidate, f"symptom {id}") for candidate, _ in symptom.candidates)
    for id, test in catalogue.tests.items():
        yield from (("test", other, f"test {id}") for other in (*test.before, *test.after, *test.spoils))
