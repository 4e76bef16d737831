"""The register as text: read standing up, at 80 columns, without colour."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from loadworthy.outputs.first import first_things
from loadworthy.outputs.page import columns, heading, labelled, sentence, wrap
from loadworthy.outputs.text_risks import risk_lines
from loadworthy.outputs.text_torque import torque_lines
from loadworthy.outputs.view import View
from loadworthy.outputs.words import at, likelihood, percent, spread

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from loadworthy.beliefs import Standing
    from loadworthy.findings import Assumption, Gap
    from loadworthy.register import Register
    from loadworthy.waiving import WaiverView

_DECIDE = "a better instrument would decide"
_CLEARS_NOTHING = "found nothing, but may clear nothing as it was measured:"
_SIGNED = "Advice to the responsible person, who signs; not a guarantee."
_WHY = "How each number came about: loadworthy why CASE ID, with an id from this page."


def register_text(register: Register, *, system: str = "si") -> str:
    """Return the whole register as text that ends with a newline; ``system`` is ``si`` or ``us``."""
    return "\n".join(_lines(View(register, system))) + "\n"


def _lines(view: View) -> Iterator[str]:
    yield from _head(view)
    yield from _decides(view)
    yield from _first(view)
    yield from risk_lines(view)
    yield from torque_lines(view)
    yield from _gates(view)
    yield from _gaps(view)
    yield from _did_not_run(view)
    yield from _small_print(view)


def _head(view: View) -> Iterator[str]:
    r = view.register
    yield from wrap(r.case.name or "Case without a name", "", "  ")
    yield f"As known on {r.as_of.isoformat()}"
    yield ""
    decision = r.decision
    kind = f", {decision.kind}" if decision.kind else ""
    first = next((fact for fact in decision.reasons if fact.outcome == decision.outcome), None)
    reason = view.fact(first) if first is not None else view.prose(decision.reason)
    yield from wrap(f"Outcome: {decision.outcome.upper()}{kind}. {sentence(reason)}")


def _decides(view: View) -> Iterator[str]:
    decision = view.register.decision
    yield from heading("What decides")
    for number, fact in enumerate(decision.facts, 1):
        about = f" [{view.id(fact.id)}]" if fact.id else ""
        yield from wrap(f"{sentence(view.fact(fact))}{about}", f"  {number}  ", "     ")
    more = len(decision.reasons) - len(decision.facts)
    if more > 0:
        yield from wrap(f"and {more} more [outcome]", "     ")
    if decision.would_change:
        changes: list[str] = []
        for text in decision.would_change:
            words = view.change(text)
            if not any(words in other for other in changes):
                changes.append(words)
        yield from wrap(sentence(f"What would change it: {'; '.join(changes)}"), "  ")


def _first(view: View) -> Iterator[str]:
    things = first_things(view)
    if not things:
        yield from heading("What to do first", "nothing; measure again after the change")
        return
    yield from heading("What to do first")
    cautioned: set[str] = set()
    for number, thing in enumerate(things, 1):
        yield from wrap(thing.text, f"  {number}  ", "     ")
        if thing.tests:
            yield from wrap(sentence(f"test: {view.tests(thing.tests)}"), "     ")
        for id in thing.tests:
            test = view.register.catalogue.tests.get(id)
            if test is not None and test.caution and id not in cautioned:
                cautioned.add(id)
                yield from wrap(sentence(f"caution: {test.caution}"), "     ")


def _listed(title: str, lines: Iterable[str], nothing: str) -> Iterator[str]:
    lines = list(lines)
    yield from heading(title, "" if lines else nothing)
    for line in lines:
        yield from wrap(line, "  - ", "    ")


def _gates(view: View) -> Iterator[str]:
    words = {"go": "go", "no_go": "NO GO", "unknown": "unknown"}
    lines = []
    for gate in view.register.gates:
        why = f" {sentence(view.prose(gate.why))}" if gate.why else ""
        lines.append(f"{words.get(gate.state, gate.state)}: {sentence(view.prose(gate.text))}{why} [{gate.id}]")
    yield from _listed("Gates, apart from the outcome", lines, "none")


def _gaps(view: View) -> Iterator[str]:
    register = view.register
    waived = {w.waiver.what for w in register.waivers if w.in_force}
    ceilings = {v.ceiling.row: v.id for v in register.ceilings if v.ceiling.row}
    lines = []
    for gap in register.gaps:
        kind = "waived" if gap.id in waived else "required" if gap.required else "advised"
        held = f" Until then {ceilings[gap.id]} holds." if gap.id in ceilings else ""
        lines.append(f"{kind}: {sentence(view.prose(gap.text) + at(gap.subject))}{_mend(view, gap)}{held} [{gap.id}]")
    yield from _listed("Gaps in the evidence", lines, "none")


def _mend(view: View, gap: Gap) -> str:
    if gap.test in view.register.catalogue.tests:
        return f" Test: {view.tests((gap.test,))}."
    return f" Write: {gap.write}" if gap.write and gap.write not in gap.text else ""


def _did_not_run(view: View) -> Iterator[str]:
    register = view.register
    lines = [f"check failed: {failure}" for failure in register.failures]
    silent: dict[str, list[Standing]] = {}
    for one in register.standings:
        if one.state == "unknown":
            silent.setdefault(one.why if one.finding.unknown else _CLEARS_NOTHING, []).append(one)
    lines += [f"{view.prose(why)} {_briefly(view, found)}" for why, found in silent.items()]
    yield from _listed("Did not run", lines, "every check ran")


def _briefly(view: View, found: Iterable[Standing]) -> str:
    """Return what to ask `why` for: the finding, or the rule and how many findings it has here."""
    by_rule: dict[str, list[str]] = {}
    for one in found:
        by_rule.setdefault(one.finding.rule, []).append(view.id(one.id))
    words = [ids[0] if len(ids) == 1 else f"{rule}: {len(ids)} times" for rule, ids in by_rule.items()]
    return f"[{', '.join(sorted(words, key=_natural))}]"


def _natural(id: str) -> list[tuple[int, str]]:
    """Order ids by the numbers in them: 2 before 10."""
    return [(int(part), "") if part.isdecimal() else (-1, part) for part in re.split(r"(\d+)", id)]


# Small print ---------------------------------------------------------------------------------------------------------


def _small_print(view: View) -> Iterator[str]:
    r = view.register
    yield from _unlooked(view)
    if r.assumptions:
        yield from heading("Assumptions [demand]")
        yield from wrap(sentence("; ".join(_assumption(view, one) for one in r.assumptions)), "  ")
    if r.limits_changed:
        yield from heading("Limits that the house changed")
        for change in r.limits_changed:
            way = "looser" if change.looser else "not looser"
            values = f"{view.shown(change.value, change.kind)} in place of {view.shown(change.default, change.kind)}"
            yield from wrap(f"{values}, {way}: {change.reason} [{change.id}]", "  - ", "    ")
    if r.waivers:
        yield from heading("Waivers")
        for seen in r.waivers:
            yield from wrap(_waiver(seen), "  - ", "    ")
    if r.case.voids:
        yield from heading("Sheets struck out")
        for void in r.case.voids:
            yield from wrap(f"{void.sheet}: {void.why} ({void.who}, {void.date.isoformat()})", "  - ", "    ")
    advice = _advice(view)
    if advice:
        yield from heading("Further advice")
        for text in advice:
            yield from wrap(text, "  - ", "    ")
    if r.notes:
        yield from heading("Notes on the readings")
        for text in r.notes:
            yield from wrap(view.prose(text), "  - ", "    ")
    yield from _colophon(view)


def _waiver(seen: WaiverView) -> str:
    one = seen.waiver
    role = f" ({one.role})" if one.role else ""
    days = f"{one.start.isoformat()} to {one.until.isoformat()}"
    more = "" if seen.in_force else f" ({seen.why})"
    return f"{seen.state.replace('_', ' ')}: {one.who}{role}, {days}: {one.why}{more} [{one.what}]"


def _unlooked(view: View) -> Iterator[str]:
    r = view.register
    more = (
        "1 other cause stands at its prior" if r.unlisted == 1 else f"{r.unlisted} other causes stand at their priors"
    )
    if not r.unlooked:
        yield from heading("Not looked into", f"nothing worth a line; {more}")
        return
    yield from heading("Not looked into")
    yield from columns([(k.level, likelihood(k.probability), percent(k.probability), k.id) for k in r.unlooked], (2,))
    if r.unlisted:
        yield from wrap(more, "  ")


def _advice(view: View) -> list[str]:
    """Return the register's advice, that on instruments in the reader's units."""
    told = dict.fromkeys(
        f"{view.prose(one.text)}{at(one.subject)}" for one in view.register.advice if not one.text.startswith(_DECIDE)
    )
    wanting: dict[tuple[str, str], list[tuple[float, Standing]]] = {}
    for one in view.register.standings:
        if one.stands and one.borderline and one.verdict is not None and one.verdict.needed_u:
            pair = (one.verdict.needed_u, one)
            wanting.setdefault((one.finding.rule, one.verdict.unit), []).append(pair)
    for (_, unit), pairs in wanting.items():
        needed = spread(min(u for u, _ in pairs), unit, view.system, 2)
        found = _briefly(view, (one for _, one in pairs))
        told[f"{_DECIDE} this: standard uncertainty {needed} needed {found}"] = None
    return list(told)


def _assumption(view: View, one: Assumption) -> str:
    return f"{one.what} {view.shown(one.value, one.unit)}{f': {one.why}' if one.why else ''}"


def _colophon(view: View) -> Iterator[str]:
    r = view.register
    yield ""
    yield from labelled("Plan", f"{r.plan_class}: {'; '.join(r.plan_class_why)} [plan_class]", "", 9)
    plugins = ", ".join(f"{p.id} {p.version}".rstrip() for p in r.plugins)
    yield from labelled("Checks", plugins or "none", "", 9)
    yield from labelled("Case", r.case_digest or "no digest", "", 9)
    yield from labelled("House", r.house_digest, "", 9)
    yield from wrap(f"{_SIGNED} {_WHY}")
