"""The register as text: read standing up, at 80 columns, without colour."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from loadworthy.outputs.first import first_things
from loadworthy.outputs.page import Paper, sentence
from loadworthy.outputs.text_risks import risk_part
from loadworthy.outputs.text_torque import torque_part
from loadworthy.outputs.view import View
from loadworthy.outputs.words import at, likelihood, percent, spread

if TYPE_CHECKING:
    from collections.abc import Iterable

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
    paper = Paper()
    write(View(register, system), paper)
    return "\n".join(paper.lines) + "\n"


def write(view: View, paper: Paper) -> None:
    """Write the whole register on paper of any form."""
    _head(view, paper)
    _decides(view, paper)
    _first(view, paper)
    risk_part(view, paper)
    torque_part(view, paper)
    _gates(view, paper)
    _gaps(view, paper)
    _did_not_run(view, paper)
    _small_print(view, paper)


def _head(view: View, paper: Paper) -> None:
    r = view.register
    paper.title(r.case.name or "Case without a name")
    paper.lead(f"As known on {r.as_of.isoformat()}")
    decision = r.decision
    kind = f", {decision.kind}" if decision.kind else ""
    first = next((fact for fact in decision.reasons if fact.outcome == decision.outcome), None)
    reason = view.fact(first) if first is not None else view.prose(decision.reason)
    paper.lead(f"Outcome: {decision.outcome.upper()}{kind}. {sentence(reason)}", apart=True)


def _decides(view: View, paper: Paper) -> None:
    decision = view.register.decision
    paper.part("What decides")
    for number, fact in enumerate(decision.facts, 1):
        about = f" [{view.id(fact.id)}]" if fact.id else ""
        paper.numbered(number, f"{sentence(view.fact(fact))}{about}")
    more = len(decision.reasons) - len(decision.facts)
    if more > 0:
        paper.below(f"and {more} more [outcome]")
    if decision.would_change:
        changes: list[str] = []
        for text in decision.would_change:
            words = view.change(text)
            if not any(words in other for other in changes):
                changes.append(words)
        paper.paragraph(sentence(f"What would change it: {'; '.join(changes)}"))


def _first(view: View, paper: Paper) -> None:
    things = first_things(view)
    if not things:
        paper.part("What to do first", "nothing; measure again after the change")
        return
    paper.part("What to do first")
    cautioned: set[str] = set()
    for number, thing in enumerate(things, 1):
        paper.numbered(number, thing.text)
        if thing.tests:
            paper.below(sentence(f"test: {view.tests(thing.tests)}"))
        for id in thing.tests:
            test = view.register.catalogue.tests.get(id)
            if test is not None and test.caution and id not in cautioned:
                cautioned.add(id)
                paper.below(sentence(f"caution: {view.prose(test.caution)}"))


def _listed(paper: Paper, title: str, lines: list[str], nothing: str) -> None:
    paper.part(title, "" if lines else nothing)
    for line in lines:
        paper.bullet(line)


def _gates(view: View, paper: Paper) -> None:
    words = {"go": "go", "no_go": "NO GO", "unknown": "unknown"}
    lines = []
    for gate in view.register.gates:
        why = f" {sentence(view.prose(gate.why))}" if gate.why else ""
        lines.append(f"{words.get(gate.state, gate.state)}: {sentence(view.prose(gate.text))}{why} [{gate.id}]")
    _listed(paper, "Gates, apart from the outcome", lines, "none")


def _gaps(view: View, paper: Paper) -> None:
    register = view.register
    waived = {w.waiver.what for w in register.waivers if w.in_force}
    ceilings = {v.ceiling.row: v.id for v in register.ceilings if v.ceiling.row}
    lines = []
    for gap in register.gaps:
        kind = "waived" if gap.id in waived else "required" if gap.required else "advised"
        held = f" Until then {ceilings[gap.id]} holds." if gap.id in ceilings else ""
        lines.append(
            f"{kind}: {sentence(view.prose(gap.text) + at(gap.subject, gap.text))}{_mend(view, gap)}{held} [{gap.id}]"
        )
    _listed(paper, "Gaps in the evidence", lines, "none")


def _mend(view: View, gap: Gap) -> str:
    if gap.test in view.register.catalogue.tests:
        return f" Test: {view.tests((gap.test,))}."
    return f" Write: {gap.write}" if gap.write and gap.write not in gap.text else ""


def _did_not_run(view: View, paper: Paper) -> None:
    register = view.register
    lines = [f"check failed: {failure}" for failure in register.failures]
    silent: dict[str, list[Standing]] = {}
    for one in register.standings:
        if one.state == "unknown":
            silent.setdefault(one.why if one.finding.unknown else _CLEARS_NOTHING, []).append(one)
    lines += [f"{view.prose(why)} {_briefly(view, found)}" for why, found in silent.items()]
    _listed(paper, "Did not run", lines, "every check ran")


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


def _small_print(view: View, paper: Paper) -> None:
    r = view.register
    _unlooked(view, paper)
    if r.assumptions:
        paper.part("Assumptions [demand]")
        paper.paragraph(sentence("; ".join(_assumption(view, one) for one in r.assumptions)))
    if r.limits_changed:
        paper.part("Limits that the house changed")
        for change in r.limits_changed:
            way = "looser" if change.looser else "not looser"
            values = f"{view.shown(change.value, change.kind)} in place of {view.shown(change.default, change.kind)}"
            paper.bullet(f"{values}, {way}: {change.reason} [{change.id}]")
    if r.waivers:
        paper.part("Waivers")
        for seen in r.waivers:
            paper.bullet(_waiver(seen))
    if r.case.voids:
        paper.part("Sheets struck out")
        for void in r.case.voids:
            paper.bullet(f"{void.sheet}: {void.why} ({void.who}, {void.date.isoformat()})")
    advice = _advice(view)
    if advice:
        paper.part("Further advice")
        for text in advice:
            paper.bullet(text)
    if r.notes:
        paper.part("Notes on the readings")
        for text in r.notes:
            paper.bullet(view.prose(text))
    _colophon(view, paper)


def _waiver(seen: WaiverView) -> str:
    one = seen.waiver
    role = f" ({one.role})" if one.role else ""
    days = f"{one.start.isoformat()} to {one.until.isoformat()}"
    more = "" if seen.in_force else f" ({seen.why})"
    return f"{seen.state.replace('_', ' ')}: {one.who}{role}, {days}: {one.why}{more} [{one.what}]"


def _unlooked(view: View, paper: Paper) -> None:
    r = view.register
    more = (
        "1 other cause stands at its prior" if r.unlisted == 1 else f"{r.unlisted} other causes stand at their priors"
    )
    if not r.unlooked:
        paper.part("Not looked into", f"nothing worth a line; {more}")
        return
    paper.part("Not looked into")
    rows = [(k.level, likelihood(k.probability), percent(k.probability), k.id) for k in r.unlooked]
    paper.table(("level", "likelihood", "probability", "id"), rows, (2,))
    if r.unlisted:
        paper.paragraph(more)


def _advice(view: View) -> list[str]:
    """Return the register's advice, that on instruments in the reader's units."""
    told = dict.fromkeys(
        f"{view.prose(one.text)}{at(one.subject, one.text)}"
        for one in view.register.advice
        if not one.text.startswith(_DECIDE)
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
    return f"{one.what} {view.shown(one.value, one.unit)}{f': {view.prose(one.why)}' if one.why else ''}"


def _colophon(view: View, paper: Paper) -> None:
    r = view.register
    paper.end()
    paper.foot("Plan", f"{r.plan_class}: {view.prose('; '.join(r.plan_class_why))} [plan_class]")
    plugins = ", ".join(f"{p.id} {p.version}".rstrip() for p in r.plugins)
    paper.foot("Checks", plugins or "none")
    paper.foot("Case", r.case_digest or "no digest")
    paper.foot("House", r.house_digest)
    paper.lead(f"{_SIGNED} {_WHY}")
