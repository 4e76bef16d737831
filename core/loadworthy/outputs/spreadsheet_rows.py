"""The rows of the table for spreadsheets: what stands in which column for each kind of thing on a register."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING

from loadworthy.loads import demanded
from loadworthy.outputs.first import first_things
from loadworthy.outputs.plain import without_folder
from loadworthy.outputs.why_risk import key
from loadworthy.outputs.words import grade_word, measured

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from typing import Any

    from loadworthy.beliefs import Standing
    from loadworthy.conclusions import CeilingView, Risk
    from loadworthy.outputs.view import View

    Cell = str | float | bool | None
    Row = dict[str, Cell]

#: Column -> what stands in it, in their order; the documentation prints these words.
WHAT: Mapping[str, str] = {
    "case": "name of the case, else of its file",
    "file": "file of the case, without its folder",
    "as_of": "day on which the register was made",
    "outcome": "outcome of the case, on every row of it",
    "item": "what the row is about, see below",
    "rank": "place in its order, 1 first",
    "id": "id that `loadworthy why` knows, or the name of the thing",
    "of": "ids of what it belongs to",
    "subject": "where it sits",
    "level": "level of a risk, grade of a finding, state of anything else",
    "kind": "further marks",
    "text": "in words",
    "value": "the number, or what stands for it",
    "low": "lower end",
    "high": "upper end",
    "u": "standard uncertainty",
    "unit": "unit of value, low, high and u; of today and planned too where no other is given",
    "speed": "speed at which the numbers hold",
    "speed_unit": "unit of that speed",
    "today": "torque today at that speed",
    "planned": "planned torque at that speed",
    "torque_unit": "unit of today and planned",
    "probability": "probability, 0 to 1",
    "severity": "severity of a risk, 1 worst to 4",
    "person": "whether a risk endangers persons",
    "failure_probability": "chance of harm within the horizon at the planned load",
    "added_by_plan": "what the plan adds to it",
    "expected_loss": "expected loss in the house's currency",
    "reason": "why",
    "to_do": "what mends, changes or fills it",
    "test": "workshop test that decides or lifts it",
    "from": "first day",
    "until": "last day",
    "source": "plugin, person, section or file that it comes from",
}
COLUMNS = tuple(WHAT)
#: Kind of row -> what it is.
ITEMS: Mapping[str, str] = {
    "outcome": "the outcome, its reason and what would change it",
    "plan": "the class of the plan; value is the largest ratio of torque, plan to today",
    "deciding fact": "the facts that decide",
    "fact": "every fact that the outcome rests on; level is the outcome that it forces",
    "do first": "what to do first",
    "risk": "a risk that some evidence speaks for, in rank order",
    "not looked into": "a risk that deserves a line though nobody looked",
    "unlisted": "how many further causes stand at their priors",
    "finding": "what a rule concludes; of are the risks that it bears on",
    "limit": "the limit that decides a finding; u is the uncertainty with which it would be decided",
    "reading": "a reading that a finding rests on",
    "weight": "weight of a finding for a cause in dB",
    "symptom": "a symptom and how likely it was seen",
    "suspect": "a candidate of a symptom; probability is its share",
    "allowed": "allowed torque at one speed; of is the ceiling that binds",
    "gain": "usable share of the planned gain: mean over speed, lowest",
    "ceiling": "a ceiling; until it is lifted by test",
    "ceiling at speed": "a ceiling as torque at one speed",
    "ceiling curve": "a point of a ceiling that is a curve over speed",
    "lift step": "a step that lifts ceilings, in their order; value is the most that it gains, low the least",
    "not lifted": "a ceiling that nothing lifts",
    "demand": "what the plan demands at one speed, at the planned torque",
    "gate": "a go or no-go beside the outcome",
    "gap": "evidence that the case lacks",
    "evidence": "a row of required evidence and its state",
    "failure": "a check that failed",
    "changed limit": "a limit that the house changed; low is the default",
    "waiver": "a waiver and its state",
    "struck out": "a sheet that was struck out",
    "assumption": "a value that was taken because none was given",
    "advice": "further advice",
    "note": "what is odd about a reading",
    "plugin": "a plugin in use",
    "digest": "fingerprint of the case and of the house settings",
}


def rows(view: View) -> Iterator[Row]:
    """Yield everything on a register as rows of the table."""
    r = view.register
    file = without_folder(r.case.path)
    head: Row = {
        "case": r.case.name or file or "Case without a name",
        "file": file,
        "as_of": r.as_of.isoformat(),
        "outcome": r.outcome,
    }
    for part in (_outcome, _risks, _findings, _symptoms, _torque, _demand, _gates_and_gaps, _small_print):
        for row in part(view):
            yield {**head, **row}


def _amount(view: View, value: object, unit: str, column: str = "value") -> Row:
    """Return a value with its unit in the reader's units; a text stands as it is."""
    if value is None:
        return {}
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return {column: str(value)}
    number, shown = measured(float(value), unit, view.system)
    return {column: number, "unit": shown}


def _spread(view: View, u: float | None, unit: str) -> Row:
    return {} if u is None else {"u": measured(u, unit, view.system, difference=True)[0]}


def _speed(view: View, speed: float) -> Row:
    number, unit = measured(speed, "rotation", view.system)
    return {"speed": number, "speed_unit": unit}


def _torque_at(view: View, today: float | None, planned: float) -> Row:
    number, unit = measured(planned, "torque", view.system)
    row: Row = {"planned": number, "torque_unit": unit}
    return row if today is None else {**row, "today": measured(today, "torque", view.system)[0]}


def _outcome(view: View) -> Iterator[Row]:
    r = view.register
    decision = r.decision
    yield {
        "item": "outcome",
        "id": "outcome",
        "level": decision.outcome,
        "kind": decision.kind,
        "text": view.prose(decision.reason),
        "to_do": "; ".join(map(view.change, decision.would_change)),
    }
    words = view.prose("; ".join(r.plan_class_why))
    yield {"item": "plan", "id": "plan_class", "level": r.plan_class, "text": words, "value": r.plan_ratio}
    for item, facts in (("deciding fact", decision.facts), ("fact", decision.reasons)):
        for rank, fact in enumerate(facts, 1):
            yield {
                "item": item,
                "rank": rank,
                "id": view.id(fact.id),
                "level": fact.outcome,
                "kind": fact.code,
                "text": view.fact(fact, brief=False),
                "to_do": view.change(fact.change),
            }
    for rank, thing in enumerate(first_things(view), 1):
        test = view.tests(thing.tests)
        yield {"item": "do first", "rank": rank, "id": view.id(thing.id), "text": thing.text, "test": test}


def _risks(view: View) -> Iterator[Row]:
    r = view.register
    for item, risks in (("risk", r.risks), ("not looked into", r.unlooked)):
        for rank, risk in enumerate(risks, 1):
            yield {"item": item, "rank": rank, **_risk(view, risk)}
    yield {"item": "unlisted", "value": r.unlisted}


def _risk(view: View, risk: Risk) -> Row:
    marks = [word for word, flag in (("capacity", risk.capacity), ("conflicting", risk.conflicting)) if flag]
    if risk.belief is not None and risk.belief.repair:
        marks.append("repaired and proven" if risk.belief.repair_proven else "repaired, not proven")
    return {
        "id": risk.id,
        "of": "; ".join(map(view.id, risk.accused_by)),
        "subject": risk.subject,
        "level": risk.level,
        "kind": ", ".join(marks),
        "text": risk.text,
        "probability": risk.probability,
        "severity": risk.severity,
        "person": risk.person,
        "failure_probability": risk.failure_probability,
        "added_by_plan": risk.added_by_plan,
        "expected_loss": risk.expected_loss,
        "to_do": view.prose(risk.remedy),
        "test": view.tests(risk.retest),
    }


def _findings(view: View) -> Iterator[Row]:
    r = view.register
    bears_on: dict[str, list[str]] = {}
    for risk in (*r.risks, *r.unlooked):
        for one in risk.findings:
            bears_on.setdefault(one.id, []).append(risk.id)
    for one in r.standings:
        yield {"item": "finding", "of": "; ".join(bears_on.get(one.id, ())), **_finding(view, one)}
        of = view.id(one.id)
        if one.verdict is not None and one.verdict.limit:
            limit = one.verdict
            yield {
                "item": "limit",
                "id": limit.limit,
                "of": of,
                "kind": limit.origin,
                **_amount(view, limit.value, limit.unit),
                **_spread(view, limit.needed_u, limit.unit),
            }
        for used in one.finding.readings:
            amount = _amount(view, used.value, used.unit)
            yield {"item": "reading", "id": used.place, "of": of, **amount, **_spread(view, used.u, used.unit)}
    for belief in r.beliefs:
        for weight in belief.weights:
            yield {
                "item": "weight",
                "id": key(weight.cause, weight.subject),
                "of": view.id(weight.finding),
                "subject": weight.subject,
                "level": "counts" if weight.counts else "does not count",
                "kind": weight.group,
                "value": weight.db,
                "unit": "dB",
                "reason": view.prose(weight.note),
            }


def _finding(view: View, one: Standing) -> Row:
    marks = [one.state]
    marks += [word for word, flag in (("borderline", one.borderline), ("to be accepted", one.accept)) if flag]
    return {
        "id": view.id(one.id),
        "subject": one.finding.subject,
        "level": grade_word(one.grade),
        "kind": ", ".join(marks),
        "text": view.prose(one.finding.text or one.finding.unknown),
        "probability": one.p_beyond,
        "reason": view.prose(one.why),
        "source": one.finding.sheet or one.plugin,
    }


def _symptoms(view: View) -> Iterator[Row]:
    for seen in view.register.symptoms:
        yield {
            "item": "symptom",
            "id": view.id(seen.id),
            "subject": seen.subject,
            "level": "no candidate leads" if seen.unexplained else "",
            "text": seen.text,
            "probability": seen.p_beyond,
            "source": seen.plugin,
        }
        ranked = sorted(seen.shares, key=lambda s: (-s.share, s.cause, s.subject or ""))
        for rank, one in enumerate(ranked, 1):
            yield {
                "item": "suspect",
                "rank": rank,
                "id": key(one.cause, one.subject),
                "of": view.id(seen.id),
                "subject": one.subject,
                "probability": one.share,
            }


def _torque(view: View) -> Iterator[Row]:
    r = view.register
    a = r.allowed
    for i, speed in enumerate(a.speeds):
        unknown = view.unknown_at(i)
        yield {
            "item": "allowed",
            "id": "allowed",
            "of": "; ".join(unknown) or a.binding[i],
            "level": "known only in words" if unknown else "" if isfinite(a.torque[i]) else "no cut",
            **_amount(view, a.torque[i], "torque"),
            **_speed(view, speed),
            **_torque_at(view, a.base[i] if a.base is not None else None, a.plan[i]),
        }
    yield {"item": "gain", "id": "allowed", "value": a.gain.mean, "low": a.gain.lowest}
    for one in r.ceilings:
        yield from _ceiling(view, one)
    for rank, step in enumerate(r.ladder.steps, 1):
        row: Row = {}
        if step.best is not None and step.worst is not None:
            low = _amount(view, step.worst[1], "torque", "low")
            row = {**low, **_amount(view, step.best[1], "torque"), **_speed(view, step.best[0])}
        then = "; ".join(dict.fromkeys(id for id in step.next_binding if id))
        yield {
            "item": "lift step",
            "rank": rank,
            "id": step.until,
            "of": "; ".join(step.lifts),
            "text": view.prose(step.text),
            "reason": f"then {then} binds" if then else "then nothing binds",
            "test": view.tests((step.until,)) if step.until in r.catalogue.tests else "",
            **row,
        }
    for id in r.ladder.blocked_by:
        yield {"item": "not lifted", "id": id}


def _ceiling(view: View, one: CeilingView) -> Iterator[Row]:
    r = view.register
    ceiling = one.ceiling
    quantity = r.catalogue.quantities.get(ceiling.quantity)
    unit = quantity.kind if quantity is not None else "" if ceiling.quantity else "torque"
    curve = hasattr(ceiling.value, "speeds")
    yield {
        "item": "ceiling",
        "id": one.id,
        "of": _finding_id(view, ceiling.finding) or ceiling.row,
        "subject": ceiling.subject,
        "level": ceiling.kind,
        "kind": ceiling.origin,
        "text": quantity.text if quantity is not None else ceiling.quantity or "torque",
        **({"value": "over speed"} if curve else _amount(view, ceiling.value, unit)),
        "reason": view.prose(f"{ceiling.reason}; {one.why}" if one.why else ceiling.reason),
        "test": view.tests((ceiling.until,)) if ceiling.until else "",
        "source": one.plugin,
    }
    for speed, value in zip(ceiling.value.speeds, ceiling.value.values, strict=True) if curve else ():
        yield {"item": "ceiling curve", "of": one.id, **_amount(view, value, unit), **_speed(view, speed)}
    for i, torque in enumerate(one.torque):
        level = "known only in words" if torque is None else "" if isfinite(torque) else "no cut"
        yield {
            "item": "ceiling at speed",
            "of": one.id,
            "level": level,
            **_amount(view, torque, "torque"),
            **_speed(view, r.allowed.speeds[i]),
        }


def _finding_id(view: View, named: tuple[str, str | None, str] | None) -> str:
    return view.id(f"{key(named[0], named[1])}#{named[2]}") if named is not None else ""


def _demand(view: View) -> Iterator[Row]:
    d = view.register.demand
    if d is None:
        return
    quantities = view.register.catalogue.quantities
    for id in d.quantities:
        declared = quantities.get(id)
        kind = declared.kind if declared is not None else ""
        for i, speed in enumerate(d.speeds):
            band = demanded(d, id, i, d.plan[i], quantities)
            if band is None:
                continue
            yield {
                "item": "demand",
                "id": id,
                "text": declared.text if declared is not None else "declared by no installed plugin",
                **_amount(view, band.low, kind, "low"),
                **_amount(view, band.high, kind, "high"),
                **_amount(view, band.nominal, kind),
                **_speed(view, speed),
                **_torque_at(view, d.base[i] if d.base is not None else None, d.plan[i]),
                "source": view.register.demand_by,
            }


def _gates_and_gaps(view: View) -> Iterator[Row]:
    r = view.register
    for gate in r.gates:
        text, why = view.prose(gate.text), view.prose(gate.why)
        yield {"item": "gate", "id": gate.id, "level": gate.state.replace("_", " "), "text": text, "reason": why}
    waived = {w.waiver.what for w in r.waivers if w.in_force}
    for gap in r.gaps:
        yield {
            "item": "gap",
            "id": gap.id,
            "of": next((v.id for v in r.ceilings if gap.id in (v.ceiling.row, v.ceiling.until)), ""),
            "subject": gap.subject,
            "level": "waived" if gap.id in waived else "required" if gap.required else "advised",
            "text": view.prose(gap.text),
            "to_do": gap.write,
            "test": view.tests((gap.test,)) if gap.test else "",
            "source": gap.section,
        }
    for row in r.rows:
        yield {
            "item": "evidence",
            "id": row.id,
            "of": "; ".join(row.sheets),
            "level": row.state.replace("_", " "),
            "kind": {"R": "required", "A": "advised", "-": "not asked"}.get(row.level, row.level),
            "text": view.prose(row.text),
            "reason": view.prose(row.why),
        }


def _small_print(view: View) -> Iterator[Row]:
    r = view.register
    for failure in r.failures:
        detail = without_folder(failure.detail)
        yield {
            "item": "failure",
            "id": failure.plugin,
            "kind": failure.hook,
            "text": failure.problem,
            "source": detail,
        }
    for change in r.limits_changed:
        yield {
            "item": "changed limit",
            "id": change.id,
            "level": "looser" if change.looser else "not looser",
            **_amount(view, change.default, change.kind, "low"),
            **_amount(view, change.value, change.kind),
            "reason": change.reason,
        }
    for seen in r.waivers:
        one = seen.waiver
        yield {
            "item": "waiver",
            "id": one.what,
            "level": seen.state.replace("_", " "),
            "text": one.why,
            "reason": "" if seen.in_force else seen.why,
            "from": one.start.isoformat(),
            "until": one.until.isoformat(),
            "source": f"{one.who} ({one.role})" if one.role else one.who,
        }
    for void in r.case.voids:
        yield {
            "item": "struck out",
            "id": void.sheet,
            "reason": void.why,
            "from": void.date.isoformat(),
            "source": void.who,
        }
    for taken in r.assumptions:
        amount: dict[str, Any] = {**_amount(view, taken.value, taken.unit), **_spread(view, taken.u, taken.unit)}
        yield {"item": "assumption", "id": taken.what, "kind": taken.origin, **amount, "reason": view.prose(taken.why)}
    for advice in r.advice:
        test = view.tests((advice.test,)) if advice.test else ""
        text = view.prose(advice.text)
        yield {"item": "advice", "subject": advice.subject, "text": text, "test": test, "source": advice.sheet}
    for note in r.notes:
        yield {"item": "note", "text": view.prose(note)}
    for plugin in r.plugins:
        origin = f"{plugin.distribution} {plugin.version}".strip() or without_folder(plugin.source)
        yield {"item": "plugin", "id": plugin.id, "kind": ", ".join(plugin.hooks), "source": origin}
    for id, digest in (("case", r.case_digest), ("house", r.house_digest)):
        yield {"item": "digest", "id": id, "text": digest}
