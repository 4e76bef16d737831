"""The register as text: read standing up, at 80 columns, without colour."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING

from loadworthy.outputs.words import SEVERITY, columns, likelihood, printable, shown, two, wrap

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from loadworthy.beliefs import Standing
    from loadworthy.conclusions import Risk
    from loadworthy.register import Register

#: Rows of the table over speed, and risks told at length; the rest stands in one line each.
_SPEEDS, _AT_LENGTH = 12, 5


def register_text(register: Register, *, system: str = "si") -> str:
    """Return the whole register as text that ends with a newline; ``system`` is ``si`` or ``us``."""
    return "\n".join(_lines(register, system)) + "\n"


def _lines(r: Register, system: str) -> Iterator[str]:
    yield from wrap(f"{r.case.name or 'Case without a name'}, as of {r.as_of.isoformat()}")
    yield ""
    kind = f" ({r.decision.kind})" if r.decision.kind and r.decision.kind != r.outcome else ""
    yield from wrap(f"Outcome: {r.outcome.upper()}{kind}: {r.decision.reason}.")
    yield from _decides(r)
    yield from _first(r)
    yield from _risks(r)
    yield from _ceilings(r, system)
    yield from _listed("Gates", [f"{g.id}: {g.state.replace('_', '-')}: {g.text}. {g.why}" for g in r.gates], "none")
    yield from _gaps(r)
    yield from _listed("Did not run", [str(f) for f in r.failures] + _unknown(r), "everything ran")
    yield from _small_print(r, system)


def _heading(text: str) -> Iterator[str]:
    yield ""
    yield text
    yield "-" * len(text)


def _listed(title: str, lines: Iterable[str], none: str = "") -> Iterator[str]:
    lines = list(lines)
    if not lines and not none:
        return
    yield from _heading(title)
    for line in lines:
        yield from wrap(line, "  - ", "    ")
    if not lines:
        yield f"  {none}"


def _decides(r: Register) -> Iterator[str]:
    yield from _heading("What decides")
    for number, fact in enumerate(r.decision.facts, 1):
        yield from wrap(fact.text, f"  {number}. ", "     ")
    if r.decision.would_change:
        yield from wrap(f"It would change with: {'; '.join(r.decision.would_change)}.", "  ")


def _first(r: Register) -> Iterator[str]:
    yield from _heading("What to do first")
    lines: dict[str, None] = {}
    if r.outcome == "hold" or any(s.stands and s.grade == "fix_first" for s in r.standings):
        for risk in [k for k in r.risks if k.accused_by and k.remedy][:2]:
            proof = _tests(r, risk.retest)
            lines[f"{risk.text}{_at(risk.subject)}: {risk.remedy}. Proof: {proof}."] = None
    for gap in r.gaps:
        if gap.required and len(lines) < 4:
            test = r.catalogue.tests.get(gap.test)
            lines[f"{test.text} ({test.minutes:.0f} min): {gap.text}." if test else f"{gap.text}: {gap.write}."] = None
            if test is not None and test.caution:
                lines[f"Caution: {test.caution}"] = None
    for step in r.ladder.steps[:1]:
        minutes = f" ({step.minutes:.0f} min)" if step.minutes else ""
        lines[f"to lift what binds: {step.text}{minutes}."] = None
        test = r.catalogue.tests.get(step.until)
        if test is not None and test.caution:
            lines[f"Caution: {test.caution}"] = None
    for advice in r.advice[:3]:
        lines[f"{advice.text}{_at(advice.subject)}."] = None
    if not lines:
        yield "  nothing: carry out the plan within the ceilings, and measure again after it"
    for line in lines:
        yield from wrap(line, "  - ", "    ")


def _at(subject: str | None) -> str:
    return f" ({subject})" if subject else ""


def _tests(r: Register, ids: Iterable[str]) -> str:
    return (
        "; ".join(r.catalogue.tests[id].text if id in r.catalogue.tests else id for id in ids) or "its own rules, clean"
    )


def _risks(r: Register) -> Iterator[str]:
    yield from _heading("Risks, the worst first")
    if not r.risks:
        yield "  none that any evidence speaks for"
    for number, risk in enumerate(r.risks[:_AT_LENGTH], 1):
        yield from _risk(r, number, risk)
    rest = r.risks[_AT_LENGTH:]
    if rest:
        yield ""
        yield "  Further:"
        yield from columns([(k.level, two(k.probability), k.id) for k in rest], indent="    ")
    suspects = [v for v in r.symptoms if v.p_beyond >= 0.05 and v.shares]
    for view in suspects:
        shares = sorted(view.shares, key=lambda s: (-s.share, s.cause, s.subject or ""))[:4]
        order = ", ".join(f"{s.cause}{_at(s.subject)} {two(s.share)}" for s in shares)
        text = f"{view.text}{_at(view.subject)}: order of suspicion {order}; none of these {two(view.none_share)}"
        yield from wrap(text, "  * ", "    ")


def _risk(r: Register, number: int, risk: Risk) -> Iterator[str]:
    person = ", danger to persons" if risk.person else ""
    yield from wrap(f"{risk.text}{_at(risk.subject)}: {risk.level}{person}", f"  {number}. ", "     ")
    yield f"     [{printable(risk.id)}]"
    words = (
        f"{likelihood(risk.probability)} (P {two(risk.probability)}); within the next 5 000 km at the planned load "
        f"{two(risk.failure_probability)} that it ends in: {SEVERITY[risk.severity]}; even if left alone "
        f"{two(risk.left_alone)}, added by the plan {two(max(0.0, risk.added_by_plan))}"
    )
    yield from wrap(words, "     ")
    speaking = [s for s in risk.findings if s.id in risk.accused_by]
    for one in speaking[:3]:
        yield from wrap(f"{one.grade}: {_finding(one)}", "     + ", "       ")
    if len(speaking) > 3:
        yield f"     + {len(speaking) - 3} more"
    clearing = sum(1 for s in risk.findings if s.stands and s.id not in risk.accused_by)
    if clearing:
        yield f"     - {clearing} findings speak against it or say nothing"
    if risk.conflicting:
        yield "     ! the evidence conflicts"
    if risk.set_aside:
        yield from wrap(f"set aside by a repair: {', '.join(risk.set_aside)}", "     ", "       ")
    if risk.remedy:
        yield from wrap(f"remedy: {risk.remedy}; retest: {_tests(r, risk.retest)}", "     ")


def _finding(one: Standing) -> str:
    text = one.finding.text or one.finding.rule
    carried = " (measured again, not repaired and proven)" if one.state == "carried" else ""
    return f"{text}{_at(one.finding.subject)}{carried}"


def _ceilings(r: Register, system: str) -> Iterator[str]:
    yield from _heading("Ceilings over speed")
    a = r.allowed
    if not a.speeds:
        yield "  today's torque or the plan is unknown: no table"
    else:
        unit = "torque"
        rows = [("speed", "planned", "allowed", "what binds")]
        for i in _chosen(len(a.speeds)):
            allowed = a.torque[i]
            words = [v.id for v in r.ceilings if v.hard and v.torque and v.torque[i] is None]
            binds = a.binding[i] if isfinite(allowed) and allowed < a.plan[i] * (1 - 1e-9) else ""
            rows.append(
                (
                    shown(a.speeds[i], "rotation", system),
                    shown(a.plan[i], unit, system),
                    "as received" if words else shown(min(allowed, a.plan[i]), unit, system),
                    words[0] if words else binds,
                )
            )
        yield from columns(rows, right=(0, 1, 2))
        g = a.gain
        if g.mean is not None and g.lowest is not None:
            yield from wrap(
                f"Usable gain: {g.mean:.0%} of the plan's on the mean, {g.lowest:.0%} at the worst speed.", "  "
            )
    for view in r.ceilings:
        if not view.hard:
            yield from wrap(f"advisory, {view.id}: {view.ceiling.reason}", "  ", "    ")
    if r.ladder.steps:
        yield "  To lift them, in this order:"
        for number, step in enumerate(r.ladder.steps, 1):
            gained = f": up to {shown(step.best[1], 'torque', system)} more" if step.best else ""
            then = next((name for name in step.next_binding if name), "")
            tail = f"; then {then} binds" if then else ""
            yield from wrap(f"{step.text} [{step.until}]{gained}{tail}", f"    {number}. ", "       ")
    if r.ladder.blocked_by:
        yield from wrap(f"Nothing lifts: {', '.join(r.ladder.blocked_by)}", "  ", "    ")


def _chosen(count: int) -> list[int]:
    """Return the indices of the speeds to print: all, or evenly spread ones with both ends."""
    if count <= _SPEEDS:
        return list(range(count))
    return sorted({round(i * (count - 1) / (_SPEEDS - 1)) for i in range(_SPEEDS)})


def _gaps(r: Register) -> Iterator[str]:
    lines = []
    for gap in r.gaps:
        kind = "required" if gap.required else "advised"
        test = r.catalogue.tests.get(gap.test)
        more = f" [{test.text}]" if test else f" [{gap.write}]" if gap.write and gap.write != gap.text else ""
        lines.append(f"{kind}: {gap.text}{_at(gap.subject)}{more}")
    yield from _listed("Gaps", lines, "none")


def _unknown(r: Register) -> list[str]:
    groups: dict[str, list[str]] = {}
    for one in r.standings:
        if one.state == "unknown":
            groups.setdefault(f"{one.finding.rule}: {one.why}", []).append(one.finding.subject or "")
    return [f"{text}{_at(', '.join(s for s in subjects if s))}" for text, subjects in sorted(groups.items())]


def _small_print(r: Register, system: str) -> Iterator[str]:
    lines = [f"{k.id}: {k.level}, P {two(k.probability)}" for k in r.unlooked]
    yield from _listed(f"Not looked into ({r.unlisted} more without a line)", lines)
    yield from _listed(
        "Assumptions",
        [f"{a.what}: {shown(a.value, a.unit, system)}{f' ({a.why})' if a.why else ''}" for a in r.assumptions],
    )
    changed = [
        f"{c.id}: {shown(c.value, c.kind, system)} in place of {shown(c.default, c.kind, system)}"
        f" ({'looser' if c.looser else 'tighter'}): {c.reason}"
        for c in r.limits_changed
    ]
    yield from _listed("Limits changed by the house", changed)
    waivers = [f"{w.waiver.what}: {w.state.replace('_', ' ')}: {w.waiver.who}, {w.why}" for w in r.waivers]
    yield from _listed("Waivers", waivers)
    yield from _listed("Struck out sheets", [f"{v.sheet}: {v.why} ({v.who}, {v.date})" for v in r.case.voids])
    yield from _listed("Notes", r.notes)
    yield ""
    yield from wrap(f"Plan class {r.plan_class}: {'; '.join(r.plan_class_why)}.")
    plugins = ", ".join(f"{p.id} {p.version}".strip() for p in r.plugins)
    yield from wrap(f"Plugins: {plugins}. Case {r.case_digest[:16]}, house {r.house_digest[:16]}.")
    yield from wrap(
        "Advice to the responsible person, who signs; not a guarantee. `loadworthy why` shows every number."
    )
