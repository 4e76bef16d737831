"""What stands behind ids that are declared or written in the case: limits, tests, causes, gaps, sheets, waivers."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from loadworthy.case import Reading
from loadworthy.outputs.names import undeclared_tests
from loadworthy.outputs.page import wrap
from loadworthy.outputs.why_finding import sheet_words
from loadworthy.outputs.why_risk import DIGITS, key, number
from loadworthy.outputs.words import SEVERITY, at, grade_word, percent, spread

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from loadworthy.case import Sheet
    from loadworthy.declarations import Cause, Rule, WorkshopTest
    from loadworthy.findings import Gap
    from loadworthy.limits import ResolvedLimit
    from loadworthy.outputs.view import View
    from loadworthy.required import RowState

_LEVELS = {"R": "required", "A": "advised", "-": "not asked"}


def evidence(view: View, id: str) -> Iterator[Iterable[str]]:
    """Yield what a gap, a row of required evidence, a gate, a waiver, a sheet or a repair of this id says."""
    r = view.register
    yield from (_gap(view, gap) for gap in r.gaps if gap.id == id)
    yield from (_row(view, row) for row in r.rows if row.id == id)
    for gate in r.gates:
        if gate.id == id:
            yield wrap(f"Gate {id}: {gate.state.replace('_', ' ')}: {view.prose(gate.text)}. {view.prose(gate.why)}")
    for seen in r.waivers:
        one = seen.waiver
        if one.what == id:
            days = f"from {one.start.isoformat()} until {one.until.isoformat()}, both included"
            state = seen.state.replace("_", " ")
            yield wrap(f"Waiver of {id} by {one.who} {one.role}, {days}: {one.why}. It is {state}: {seen.why}")
    yield from (_sheet(view, sheet) for sheet in r.case.sheets if sheet.id == id)
    for repair in r.case.repairs:
        if repair.id == id:
            treats = ", ".join(key(t.what, t.subject) for t in repair.treats)
            proof = f"; proof: {repair.proof}" if repair.proof else ""
            yield wrap(f"Repair {id} of {repair.date.isoformat()}: {repair.what}; treats {treats}{proof}")


def declarations(view: View, id: str) -> Iterator[Iterable[str]]:
    """Yield what the plugins declare under this id."""
    r = view.register
    catalogue = r.catalogue
    limit = r.limits.get(id)
    if limit is not None:
        yield _limit(view, limit)
    if id in catalogue.rules:
        yield _declared_rule(view, id, catalogue.rules[id])
    if id in catalogue.tests:
        yield _test(view, id, catalogue.tests[id])
    elif id in undeclared_tests(r):
        yield wrap(f"Test {id}: declared by no installed plugin; ceilings and retests of this register name it")
    if id in catalogue.causes:
        yield _cause(view, id, catalogue.causes[id])
    if id in catalogue.quantities:
        one = catalogue.quantities[id]
        yield wrap(f"Quantity {id}: {one.text}; a {one.kind.replace('_', ' ')}; its values over speed are in [demand]")
    for plugin in r.plugins:
        if plugin.id == id:
            origin = f"{plugin.distribution} {plugin.version}".strip() or plugin.source
            yield wrap(f"Plugin {id} of {origin}: answers {', '.join(plugin.hooks)}")


def _sheet(view: View, sheet: Sheet) -> Iterator[str]:
    yield from wrap(f"Sheet {sheet.id}: {sheet_words(view, sheet)}")
    for name, value in sheet.values.items():
        for place, reading in _readings(name, value):
            u = "u unknown" if reading.u is None else f"u {spread(reading.u, reading.kind, view.system)}"
            shown = view.shown(reading.value, reading.kind, DIGITS)
            yield from wrap(f'{place}: {shown}, {u}, as written "{reading.text}"', "  ", "    ")
    for note in view.register.notes:
        if note.startswith(f"{sheet.id}."):
            yield from wrap(f"note: {view.prose(note.removeprefix(f'{sheet.id}.'))}", "  ", "    ")
    ids = [view.id(one.id) for one in view.register.standings if one.finding.sheet == sheet.id]
    yield from wrap(f"findings: {', '.join(ids) or 'none'}", "  ", "    ")


def _readings(name: str, value: Any) -> Iterator[tuple[str, Reading]]:
    """Yield the readings of a field, those by subject each with its key."""
    if isinstance(value, Reading):
        yield name, value
    elif hasattr(value, "items"):
        for key, inner in value.items():
            yield from _readings(f"{name}[{key}]", inner)
    elif isinstance(value, tuple) and not hasattr(value, "_fields"):
        for order, inner in enumerate(value, 1):
            yield from _readings(f"{name}[{order}]", inner)


def _gap(view: View, gap: Gap) -> Iterator[str]:
    kind = "required: bars the outcome clear" if gap.required else "advised"
    yield from wrap(f"Gap {gap.id}{at(gap.subject)}: {view.prose(gap.text)} ({kind})")
    if gap.test:
        yield from wrap(f"test that would fill it: {view.tests((gap.test,))} [{gap.test}]", "  ", "    ")
    if gap.write:
        yield from wrap(f"to write: {gap.write}", "  ", "    ")


def _row(view: View, row: RowState) -> Iterator[str]:
    why = f": {view.prose(row.why)}" if row.why else ""
    plan = view.register.plan_class
    yield from wrap(f"Required evidence {row.id}: {view.prose(row.text)}")
    yield from wrap(f"{_LEVELS.get(row.level, row.level)} for a plan of class {plan}; {row.state}{why}", "  ", "    ")
    if row.sheets:
        yield from wrap(f"sheets: {', '.join(row.sheets)}", "  ", "    ")
    if row.gate:
        yield "  a gate: go or no go"


def _limit(view: View, limit: ResolvedLimit) -> Iterator[str]:
    declared = view.register.catalogue.limits[limit.id]
    value = "none" if limit.value is None else view.shown(limit.value, limit.kind, DIGITS)
    upper = f" to {view.shown(limit.high, limit.kind, DIGITS)}" if limit.high is not None else ""
    yield from wrap(f"Limit {limit.id} = {value}{upper} ({limit.origin}): {view.prose(declared.text)}")
    steers = "steers a rule" if limit.worse == "setting" else f"worse {limit.worse}: {grade_word(limit.grade)}"
    applies = f"; applies: {view.prose(declared.applies)}" if declared.applies else ""
    yield from wrap(f"{steers}{applies}", "  ", "    ")
    yield from wrap(f"source: {view.source(declared.source, declared.mark)}", "  ", "    ")
    if limit.origin == "house":
        default = "none" if limit.default is None else view.shown(limit.default, limit.kind, DIGITS)
        way = "looser" if limit.looser else "not looser"
        yield from wrap(f"the house's own, {way}; default {default}; reason: {limit.reason}", "  ", "    ")
    used = [view.id(s.id) for s in view.register.standings if any(v.limit == limit.id for v in s.finding.verdicts)]
    yield from wrap(f"used by: {', '.join(used) or 'no finding of this case'}", "  ", "    ")


def _declared_rule(view: View, id: str, rule: Rule) -> Iterator[str]:
    yield from wrap(f"Rule {id}: {view.prose(rule.text)}; judges sheets of {rule.section or 'no section'}")
    if rule.test:
        yield from wrap(f"test: {view.tests((rule.test,))} [{rule.test}]", "  ", "    ")
    for band, ratios in rule.bands.items():
        words = ", ".join(f"{cause} {ratio:g}" for cause, ratio in ratios.items()) or "none"
        yield from wrap(f"likelihood ratios, {band}: {words}", "  ", "    ")
    if rule.source:
        yield from wrap(f"source: {rule.source}", "  ", "    ")
    found = [view.id(s.id) for s in view.register.standings if s.finding.rule == id]
    yield from wrap(f"findings: {', '.join(found) or 'none in this case'}", "  ", "    ")


def _test(view: View, id: str, test: WorkshopTest) -> Iterator[str]:
    owner = view.register.catalogue.owner("test", id)
    text, set_up = view.prose(test.text), view.prose(test.set_up)
    yield from wrap(f"Workshop test {id}: {text}; {test.minutes:g} min (judgement), set-up: {set_up}")
    if test.caution:
        yield from wrap(f"caution: {view.prose(test.caution)}", "  ", "    ")
    for label, ids in (("before", test.before), ("after", test.after), ("spoils", test.spoils)):
        if ids:
            yield from wrap(f"{label}: {', '.join(ids)}", "  ", "    ")
    if test.weak:
        yield "  weak: a clean result clears little"
    if owner:
        yield from wrap(f"declared by {owner}", "  ", "    ")


def _cause(view: View, id: str, cause: Cause) -> Iterator[str]:
    yield from wrap(f"Cause {id}: {cause.text}")
    person = ", danger to persons" if cause.person else ""
    located = "" if cause.located == "none" else f", shared by the places of kind {cause.located}"
    yield from wrap(f"prior {cause.prior:g}{located} ({cause.mark})", "  ", "    ")
    yield from wrap(f"severity {cause.severity}: {SEVERITY[cause.severity]}{person}", "  ", "    ")
    yield from wrap(f"hazard class {cause.hazard}, driven by {cause.driver}", "  ", "    ")
    yield from wrap(f"remedy: {view.prose(cause.remedy) or 'none declared'}; {cause.repair_hours:g} h", "  ", "    ")
    yield from wrap(f"retest: {view.tests(cause.retest) or 'the rules that spoke for it'}", "  ", "    ")
    for belief in view.register.beliefs:
        if belief.cause == id:
            words = f"P {number(belief.p)} ({percent(belief.p)}) [{key(id, belief.subject)}]"
            yield from wrap(words, "  - ", "    ")
