"""The part of the register about risks: ranked, with what speaks for them and how they are mended and proven."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.findings import GRADES
from loadworthy.outputs.page import sentence
from loadworthy.outputs.words import HORIZON, SEVERITY, at, likelihood, percent

if TYPE_CHECKING:
    from loadworthy.beliefs import Standing
    from loadworthy.conclusions import Risk
    from loadworthy.outputs.page import Paper
    from loadworthy.outputs.view import View

#: Risks told at length; of the others those that endanger persons, or that a finding accuses which was not told yet.
AT_LENGTH = 5
#: Candidates named for each symptom.
_SUSPECTS = 4


def risk_part(view: View, paper: Paper) -> None:
    """Write the ranked risks, the order of suspicion, and the findings that no risk told at length rests on."""
    r = view.register
    told: dict[str, int] = {}
    paper.part("Risks, the worst first", "" if r.risks else "none that any evidence speaks for")
    brief: list[tuple[str, str, str, str]] = []
    for number, risk in enumerate(r.risks, 1):
        if number <= AT_LENGTH or risk.person or not told.keys() >= set(risk.accused_by):
            _at_length(view, paper, number, risk, told)
        else:
            brief.append((str(number), risk.level, likelihood(risk.probability), risk.id))
    if brief:
        paper.section("Further, accused by the same findings")
        paper.table(("rank", "level", "likelihood", "id"), brief, (0,))
    _suspicion(view, paper)
    _others(view, paper, told)


def _at_length(view: View, paper: Paper, number: int, risk: Risk, told: dict[str, int]) -> None:
    person = ", DANGER TO PERSONS" if risk.person else ""
    title = f"{risk.text}{at(risk.subject)}{person}"
    paper.entry(number, (risk.level, likelihood(risk.probability)), title[:1].upper() + title[1:])
    paper.told("id", risk.id)
    paper.told("harm", _harm(view, risk))
    _speaking(view, paper, number, risk, told)
    against = sum(1 for s in risk.findings if s.stands and s.id not in risk.accused_by and s.id not in risk.set_aside)
    if against:
        paper.told("against", f"{against} finding{'' if against == 1 else 's'}")
    if risk.set_aside:
        repair = risk.belief.repair if risk.belief is not None else ""
        paper.told("set aside", f"{', '.join(view.id(id) for id in risk.set_aside)} by repair {repair}")
    if risk.belief is not None and risk.belief.repair:
        proven = "proven by a clean retest" if risk.belief.repair_proven else "not proven by its retest"
        paper.told("repaired", f"{risk.belief.repair}, {proven}")
    if risk.share:
        paper.told("suspected", _shares(view, risk))
    if risk.conflicting:
        paper.told("conflict", "findings of weight speak for it and against it: which is right?")
    if risk.excluded_share is not None:
        paper.told("excludes", f"cannot be true with another likely cause: share {percent(risk.excluded_share)}")
    if risk.origin == "gap":
        paper.told("unknown", "what the part can take is not known")
    if risk.remedy:
        paper.told("remedy", view.prose(risk.remedy))
    if risk.retest:
        paper.told("retest", view.tests(risk.retest))


def _harm(view: View, risk: Risk) -> str:
    if risk.failure_probability == 0.0 and risk.left_alone == 0.0:
        return f"none at the planned load ({SEVERITY[risk.severity]})"
    added = risk.added_by_plan
    plan = f"{percent(added)} added by the plan" if added >= 0.0 else f"{percent(-added)} less by the plan"
    horizon, harm = view.shown(HORIZON, "distance"), SEVERITY[risk.severity]
    return (
        f"{percent(risk.failure_probability)} within {horizon} at the planned load ({harm}): "
        f"{percent(risk.left_alone)} even if left alone, {plan}"
    )


def _speaking(view: View, paper: Paper, number: int, risk: Risk, told: dict[str, int]) -> None:
    """Write the findings for a risk: in words the first time, by id where a risk above has told them."""
    again = []
    for one in risk.findings:
        if one.id not in risk.accused_by:
            continue
        if one.id in told:
            again.append(view.id(one.id))
            continue
        told[one.id] = number
        paper.told("for it", f"{_words(view, one)} [{view.id(one.id)}]")
    if again:
        paper.told("for it", f"{', '.join(again)} (above)")


def _words(view: View, one: Standing) -> str:
    limit = one.verdict.limit if one.verdict is not None else ""
    house = " (looser house limit)" if one.loosened and limit else ""
    return f"{view.finding(one)}{house}"


def _shares(view: View, risk: Risk) -> str:
    texts = {seen.id: seen.text for seen in view.register.symptoms}
    return "; ".join(f"{percent(share)} of: {texts.get(id, id)}" for id, share in risk.share.items())


def _suspicion(view: View, paper: Paper) -> None:
    """Write for each symptom its candidates in order of suspicion."""
    seen = [one for one in view.register.symptoms if one.p_beyond >= 0.05 and one.shares]
    if not seen:
        return
    paper.part("Order of suspicion")
    for symptom in seen:
        title = f"{symptom.text}{at(symptom.subject)}"
        leads = "; no candidate leads" if symptom.unexplained else ""
        paper.section(f"{sentence(title).rstrip('.')}{leads} [{view.id(symptom.id)}]")
        ranked = sorted(symptom.shares, key=lambda s: (-s.share, s.cause, s.subject or ""))
        rows = [(percent(s.share), f"{s.cause}@{s.subject}" if s.subject else s.cause) for s in ranked[:_SUSPECTS]]
        rest = ranked[_SUSPECTS:]
        if rest:
            rows.append(("", f"{len(rest)} other{'' if len(rest) == 1 else 's'}, each less"))
        rows.append((percent(symptom.none_share), "none of these"))
        paper.under(("share", "cause"), rows, (0,))


def _others(view: View, paper: Paper, told: dict[str, int]) -> None:
    """Write the findings that stand and that no risk above has told."""
    others = [one for one in view.register.standings if one.stands and one.grade != "clean" and one.id not in told]
    others.sort(key=lambda one: (-GRADES.index(one.grade or "clean"), one.id))
    lines = [f"{_words(view, one)}{at(one.finding.subject, one.finding.text)} [{view.id(one.id)}]" for one in others]
    if lines:
        paper.part("Other findings")
        for line in lines:
            paper.bullet(line)
