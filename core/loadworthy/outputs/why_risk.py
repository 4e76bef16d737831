"""Derivation of a risk: prior, weights, symptoms, probability, consequence, level and rank; and of a symptom."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.outputs.page import columns, labelled, sentence, wrap
from loadworthy.outputs.words import HORIZON, SEVERITY, at, figure, grade_word, likelihood, percent

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from loadworthy.beliefs import Belief, SymptomView, WeightUse
    from loadworthy.conclusions import Risk
    from loadworthy.findings import Step
    from loadworthy.outputs.view import View

DIGITS = 5
#: A label or value longer than this stands on a line of its own.
_LONGEST = 28


def parts(view: View, id: str) -> Iterator[Iterable[str]]:
    """Yield the risk of this id, or the belief of a cause that has no line on the register."""
    r = view.register
    listed = [risk for risk in (*r.risks, *r.unlooked) if risk.id == id]
    if listed:
        yield from (_risk(view, risk) for risk in listed)
        return
    yield from (_unlisted(view, b) for b in r.beliefs if key(b.cause, b.subject) == id)


def key(cause: str, subject: str | None) -> str:
    """Return the id of a cause at a subject."""
    return f"{cause}@{subject}" if subject else cause


def number(value: float | str) -> str:
    """Return a number of a derivation."""
    return figure(value, DIGITS)


def _risk(view: View, risk: Risk) -> Iterator[str]:
    r = view.register
    yield from wrap(f"Risk {risk.id}: {risk.text}")
    if risk in r.risks:
        rank = f"rank {r.risks.index(risk) + 1} of {len(r.risks)}"
        yield from wrap(f"active, {rank}: by level, danger to persons, expected loss, P, cause, subject", "  ")
    else:
        yield from wrap("not active: no finding speaks for it; it stands at its prior", "  ")
    yield from wrap(f"P is {likelihood(risk.probability)}", "  ")
    if risk.belief is not None:
        yield from belief_lines(view, risk.belief)
    horizon = view.shown(HORIZON, "distance")
    yield ""
    if risk.capacity and risk.capacity_steps:
        yield from wrap(
            f"Capacity against demand: P of the cause is that of the part being too small; harm within {horizon}"
        )
    else:
        yield from wrap(f"Consequence at the planned load within {horizon} (method, sections 5 and 6)")
    yield from steps(view, risk.steps)
    speed = f", at {view.shown(risk.ratio_speed, 'rotation')}" if risk.ratio_speed is not None else ""
    driver = view.register.catalogue.quantities.get(risk.driver)
    yield from wrap(f"driver: {driver.text if driver else risk.driver}{speed}", "  ", "    ")
    yield from wrap(
        f"severity {risk.severity}: {SEVERITY[risk.severity]}; loss {figure(risk.loss)} in the house's currency units",
        "  ",
        "    ",
    )
    if risk.person:
        yield "  danger to persons"
    if risk.assumption is not None:
        one = risk.assumption
        yield from wrap(f"assumed: {one.what} {view.shown(one.value, one.unit)}: {view.prose(one.why)}", "  ", "    ")
    yield from _findings(view, risk)
    cause = r.catalogue.causes.get(risk.cause)
    if cause is not None:
        yield from labelled("Remedy", view.prose(risk.remedy) or "none declared", "", 9)
        yield from labelled("Retest", view.tests(risk.retest) or "the rules that spoke for it", "", 9)
        yield from labelled("Source", f"prior, hazard class and severity: {cause.mark}", "", 9)


def _findings(view: View, risk: Risk) -> Iterator[str]:
    if not risk.findings:
        return
    yield ""
    yield "Findings"
    for one in risk.findings:
        speaks = (
            "set aside by a repair"
            if one.id in risk.set_aside
            else "for it"
            if one.id in risk.accused_by
            else "against it or silent"
            if one.stands
            else one.state
        )
        yield from wrap(f"{grade_word(one.grade)}, {speaks} [{view.id(one.id)}]", "  - ", "    ")


def _unlisted(view: View, belief: Belief) -> Iterator[str]:
    id = key(belief.cause, belief.subject)
    declared = view.register.catalogue.causes.get(belief.cause)
    yield from wrap(f"Cause {id}: {declared.text if declared else 'declared by no installed plugin'}")
    yield "  not active, and not worth a line of the register"
    yield from belief_lines(view, belief)


def belief_lines(view: View, belief: Belief) -> Iterator[str]:
    """Yield how the probability of a cause came about."""
    yield ""
    yield "Probability of the cause (method, sections 3 and 4)"
    yield from columns([("prior", number(belief.prior), view.prose(belief.prior_why))])
    if belief.weights:
        yield from wrap("weights in dB, 10 log10 of the likelihood ratio; * counts: the largest of its group", "  ")
        rows = [("", "table", "fade", "as used", "group: finding")]
        rows += [_weight(view, weight) for weight in belief.weights]
        yield from columns(rows, right=(1, 2, 3), indent="    ")
    sums = [
        ("for", f"{number(belief.positive)} dB", "sum over groups of the largest positive weight"),
        ("against", f"{number(belief.negative)} dB", "sum over groups of the most negative weight"),
        (
            "net",
            f"{belief.net:+.5g} dB",
            "for - n_used, n_used = against - k max(0, against - 6)/2, k = for - 5, 0 to 1",
        ),
        ("own P", number(belief.own), "odds prior/(1 - prior) x 10^(net/10); P stays within 0.0001 and 0.9999"),
    ]
    yield from columns(sums, right=(1,))
    for id, weight, net, p, p_beyond in belief.by_symptom:
        yield from _by_symptom(view, belief, (id, weight, net, p, p_beyond))
    if belief.conflicting:
        yield from wrap("conflicting: findings of weight on both sides (for above 5, against above 6 dB)", "  ")
    if belief.floor:
        names = ", ".join(view.id(id) for id in belief.named_by)
        yield from wrap(f"named by state, so at least {number(belief.floor)} [{names}]", "  ", "    ")
    if belief.eve is not None:
        proven = "proven" if belief.repair_proven else "not proven"
        yield from wrap(f"P on the eve of repair {belief.repair} ({proven}): {number(belief.eve)}", "  ", "    ")
    yield from columns([("P", number(belief.p), "the largest of these")])
    if belief.excluded_share is not None:
        text = f"excludes another likely cause: P over their sum is {number(belief.excluded_share)}"
        yield from wrap(text, "  ", "    ")


def _weight(view: View, weight: WeightUse) -> tuple[str, str, str, str, str]:
    note = f" ({view.prose(weight.note)})" if weight.note else ""
    fade = number(weight.fade) if weight.fade != 1.0 else ""
    place = f"{weight.group}: {view.id(weight.finding)}{note}"
    return "*" if weight.counts else "", f"{weight.raw_db:+.3f}", fade, f"{weight.db:+.3f}", place


def _by_symptom(view: View, belief: Belief, seen: tuple[str, float, float, float, float]) -> Iterator[str]:
    id, weight, net, p, p_beyond = seen
    strength = max(0.0, (p_beyond - 0.05) / 0.95)
    raised = belief.own + strength * max(0.0, p - belief.own)
    yield from wrap(f"symptom, seen with probability {number(p_beyond)} [{view.id(id)}]", "  ", "    ")
    yield from columns(
        [
            ("w", number(weight), "P(cause | symptom), scaled to a sum of at most 0.98"),
            ("net'", f"{net:+.5g} dB", "net without the symptom's own group"),
            ("P_sym", number(p), "odds w/(1 - w) x 10^(net'/10)"),
            ("s", number(strength), "strength, max(0, (p - 0.05)/0.95)"),
            ("P", number(raised), "own P + s max(0, P_sym - own P)"),
        ],
        right=(1,),
        indent="    ",
    )


def steps(view: View, given: Iterable[Step]) -> Iterator[str]:
    """Yield the intermediate numbers of a derivation with formula and source, in their order."""
    rows = []
    for step in given:
        if isinstance(step.value, str) or step.unit in ("", "1", "SI", "currency"):
            value = number(step.value)
        else:
            value = view.shown(step.value, step.unit, DIGITS)
        note = "; ".join(part for part in (view.prose(step.formula), step.source) if part)
        rows.append((view.prose(step.label), value, note))
    wide = max((len(label) for label, _, _ in rows if len(label) <= _LONGEST), default=0)
    room = max((len(value) for _, value, _ in rows if len(value) <= _LONGEST), default=0)
    for label, value, note in rows:
        if len(label) > wide or len(value) > room:
            yield from wrap(f"{label}: {value}{f'; {note}' if note else ''}", "  ", "    ")
        else:
            yield from columns([(label.ljust(wide), value.rjust(room), note)])


def symptom(view: View, one: SymptomView) -> Iterator[str]:
    """Yield a symptom with its candidates: prior weight, likelihood from all other evidence, share."""
    yield from wrap(f"Symptom {one.id}: {one.text}{at(one.subject)}")
    yield from wrap(f"set {one.set_id}, reported by {one.rule} of {one.plugin}, group {one.group}", "  ", "    ")
    text = f"seen with probability {number(one.p_beyond)}, strength {number(one.strength)} = max(0, (p - 0.05)/0.95)"
    yield from wrap(text, "  ", "    ")
    if one.grade is not None:
        yield from wrap(f"grade of its finding: {grade_word(one.grade)}, however well it is explained", "  ", "    ")
    yield from wrap(
        "share = w L / (sum of all w L + w of none); L = 10^(net'/10), net' without this group", "  ", "    "
    )
    rows = [("share", "w", "L", "candidate")]
    ranked = sorted(one.shares, key=lambda s: (-s.share, s.cause, s.subject or ""))
    rows += [(percent(s.share), number(s.weight), number(s.likelihood), key(s.cause, s.subject)) for s in ranked]
    rows.append((percent(one.none_share), number(_none(one)), "1", "none of these"))
    yield from columns(rows, right=(0, 1, 2), indent="    ")
    if one.unexplained:
        yield from wrap(sentence("unexplained: no candidate leads with more than half of the suspicion"), "  ")


def _none(one: SymptomView) -> float:
    """Return the prior weight of none of the candidates, from its share."""
    total = sum(s.weight * s.likelihood for s in one.shares)
    return total * one.none_share / (1.0 - one.none_share) if one.none_share < 1.0 else 1.0
