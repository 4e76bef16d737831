"""How a number came about: readings, limits, formulas, sources and weights behind one id of the register."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING

from loadworthy.outputs.words import SEVERITY, columns, shown, two, wrap

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from loadworthy.beliefs import Standing, SymptomView
    from loadworthy.conclusions import CeilingView, Risk
    from loadworthy.findings import Step
    from loadworthy.register import Register

#: What can always be asked for.
FIGURES = ("outcome", "plan_class", "demand", "allowed")


def ids(register: Register) -> dict[str, tuple[str, ...]]:
    """Return everything that can be asked for, by kind, in the order of the register."""
    return {
        "figures": FIGURES,
        "risks": tuple(r.id for r in (*register.risks, *register.unlooked)),
        "ceilings": tuple(v.id for v in register.ceilings),
        "gaps": tuple(dict.fromkeys(g.id for g in register.gaps)),
        "required evidence": tuple(row.id for row in register.rows),
        "gates": tuple(g.id for g in register.gates),
        "symptoms": tuple(v.id for v in register.symptoms),
        "findings": tuple(s.id for s in register.standings),
    }


def why_text(register: Register, id: str, *, system: str = "si") -> str | None:
    """Return the derivation of one id as text that ends with a newline, or None where there is no such id."""
    parts: list[Iterable[str]] = []
    figures: dict[str, Callable[[Register, str], Iterator[str]]] = {
        "outcome": _outcome,
        "plan_class": _plan_class,
        "demand": _demand,
        "allowed": _allowed,
    }
    if id in figures:
        parts.append(figures[id](register, system))
    parts += [_risk(register, r) for r in (*register.risks, *register.unlooked) if r.id == id]
    parts += [_ceiling(register, v, system) for v in register.ceilings if v.id == id]
    parts += [_symptom(v) for v in register.symptoms if v.id == id]
    parts += [_standing(register, s, system) for s in register.standings if s.id == id]
    parts += [
        wrap(f"{'required' if g.required else 'advised'} gap {g.id}: {g.text}. {g.write}")
        for g in register.gaps
        if g.id == id
    ]
    parts += [
        wrap(
            f"row {row.id}: {row.text}: level {row.level}, {row.state} {row.why}; "
            f"sheets: {', '.join(row.sheets) or 'none'}"
        )
        for row in register.rows
        if row.id == id
    ]
    parts += [wrap(f"gate {g.id}: {g.state}: {g.text}. {g.why}") for g in register.gates if g.id == id]
    if not parts:
        return None
    return "\n\n".join("\n".join(part) for part in parts) + "\n"


def _steps(steps: Iterable[Step]) -> list[str]:
    rows = []
    for step in steps:
        value = f"{step.value:.5g}" if isinstance(step.value, (int, float)) else str(step.value)
        unit = "" if step.unit in ("", "1") else f" {step.unit}"
        note = "; ".join(part for part in (step.formula, step.source) if part)
        rows.append((step.label, f"{value}{unit}", note))
    return columns(rows, right=(1,))


def _outcome(r: Register, system: str) -> Iterator[str]:
    yield from wrap(
        f"Outcome {r.outcome}{f' ({r.decision.kind})' if r.decision.kind else ''}: every fact, the worst first"
    )
    for fact in r.decision.reasons:
        at = f" [{fact.id}]" if fact.id else ""
        yield from wrap(f"{fact.outcome}: {fact.text}{at}", "  - ", "    ")


def _plan_class(r: Register, system: str) -> Iterator[str]:
    ratio = "unknown" if r.plan_ratio is None else f"{r.plan_ratio:.4g}"
    yield from wrap(f"Plan class {r.plan_class}; largest torque ratio, plan to today: {ratio}")
    yield from wrap("bounds 1.02 none, 1.15 mild, 1.35 strong, above extreme (method, section 8; judgement)", "  ")
    for reason in r.plan_class_why:
        yield from wrap(reason, "  - ", "    ")


def _demand(r: Register, system: str) -> Iterator[str]:
    d = r.demand
    if d is None:
        yield "There is no demand: the case does not say enough about plan or vehicle."
        return
    yield from wrap(f"Demand by {r.demand_by}, basis {d.basis}; today's torque: {d.base_source or 'unknown'}")
    yield from wrap("low, nominal, high at the planned torque; the band is two standard uncertainties each way", "  ")
    for id, band in d.quantities.items():
        kind = r.catalogue.quantities[id].kind if id in r.catalogue.quantities else ""
        yield ""
        yield from wrap(f"{id}: {r.catalogue.quantities[id].text if kind else 'undeclared'}", "  ")
        rows = []
        for i, speed in enumerate(d.speeds):
            at = d.torque[i].index(min(d.torque[i], key=lambda t: abs(t - d.plan[i])))
            cells = (shown(rows_of[i][at], kind, system) for rows_of in (band.low, band.nominal, band.high))
            rows.append((shown(speed, "rotation", system), *cells))
        yield from columns(rows, right=(0, 1, 2, 3), indent="    ")
    yield ""
    for a in r.assumptions:
        u = "" if a.u is None else f", u {a.u:.3g}"
        yield from wrap(
            f"assumed {a.what}: {a.value if isinstance(a.value, str) else f'{a.value:.5g}'} {a.unit}{u}: {a.why}",
            "  - ",
            "    ",
        )


def _allowed(r: Register, system: str) -> Iterator[str]:
    a = r.allowed
    yield "Allowed torque: the least of all hard ceilings at each speed"
    rows = [("speed", "planned", "today", "allowed", "what binds")]
    for i, speed in enumerate(a.speeds):
        base = shown(a.base[i], "torque", system) if a.base is not None else "unknown"
        allowed = shown(a.torque[i], "torque", system) if isfinite(a.torque[i]) else "no cut"
        rows.append((shown(speed, "rotation", system), shown(a.plan[i], "torque", system), base, allowed, a.binding[i]))
    yield from columns(rows, right=(0, 1, 2, 3))
    if a.in_words:
        yield from wrap(f"known only in words: {', '.join(a.in_words)}", "  ")
    g = a.gain
    if g.mean is not None:
        yield from wrap(f"usable gain: mean {g.mean:.4g} (trapezoid over speed), lowest {g.lowest:.4g}", "  ")
    for number, step in enumerate(r.ladder.steps, 1):
        yield from wrap(f"lift step {number}: {step.text} [{step.until}] lifts {', '.join(step.lifts)}", "  ", "    ")


def _risk(r: Register, risk: Risk) -> Iterator[str]:
    b = risk.belief
    yield from wrap(f"Risk {risk.id}: {risk.text}; {'active' if risk.active else 'not active'}")
    if b is not None:
        yield from wrap(f"prior {b.prior:.5g}: {b.prior_why}", "  ")
        if b.weights:
            yield "  weights in decibans (10 log10 of the likelihood ratio); * counts in its group"
            rows = [("", "mixed", "faded", "group and finding")]
            for w in b.weights:
                mark = "*" if w.counts else ""
                note = f" ({w.note})" if w.note else ""
                rows.append((mark, f"{w.raw_db:+.3f}", f"{w.db:+.3f}", f"{w.group}: {w.finding}{note}"))
            yield from columns(rows, right=(1, 2), indent="    ")
        yield from wrap(f"for {b.positive:.4g}, against {b.negative:.4g}, net {b.net:+.4g} dB: own P {b.own:.5g}", "  ")
        for id, weight, net, p, p_beyond in b.by_symptom:
            strength = max(0.0, (p_beyond - 0.05) / 0.95)
            text = (
                f"symptom {id}: w {weight:.4g}, net without its group {net:+.4g} dB, P {p:.5g}, strength {strength:.4g}"
            )
            yield from wrap(text, "  ", "    ")
        if b.floor:
            yield from wrap(f"named by state ({', '.join(b.named_by)}): at least {b.floor:g}", "  ")
        if b.excluded_share is not None:
            yield from wrap(f"excludes another likely cause: share {b.excluded_share:.3g}", "  ")
    yield from _steps(risk.steps)
    yield from wrap(f"severity {risk.severity}: {SEVERITY[risk.severity]} (MIL-STD-882E, table I)", "  ")
    yield from wrap("rank: level, danger to persons, expected loss, P, cause, subject (method, section 6)", "  ")
    for s in risk.findings:
        speaks = (
            "for it" if s.id in risk.accused_by else "set aside" if s.id in risk.set_aside else "against it or silent"
        )
        yield from wrap(f"{s.id}: {s.grade or 'unknown'}, {speaks}", "  - ", "    ")


def _symptom(v: SymptomView) -> Iterator[str]:
    yield from wrap(f"Symptom {v.id}: {v.text}; P {v.p_beyond:.4g}, strength {v.strength:.4g}, group {v.group}")
    rows = [("share", "w", "L", "candidate")]
    rows += [
        (two(s.share), f"{s.weight:.4g}", f"{s.likelihood:.4g}", f"{s.cause}{f'@{s.subject}' if s.subject else ''}")
        for s in v.shares
    ]
    rows.append((two(v.none_share), "", "1", "none of these"))
    yield from columns(rows, right=(0, 1, 2))


def _standing(r: Register, s: Standing, system: str) -> Iterator[str]:
    f = s.finding
    yield from wrap(f"Finding {s.id}: {f.text or f.unknown}")
    grade = f"{s.grade or 'unknown'}{', to be accepted' if s.accept else ''}{', borderline' if s.borderline else ''}"
    yield from wrap(f"{s.state}, grade {grade}{f': {s.why}' if s.why else ''}", "  ")
    for used in f.readings:
        value = shown(used.value, used.unit, system)
        u = "" if used.u is None else f", u {used.u:.4g} (SI)"
        yield from wrap(f"reading {used.place}: {value}{u}", "  ", "    ")
    for v in f.verdicts:
        limit = r.catalogue.limits.get(v.limit)
        if v.limit:
            value = shown(v.value, v.unit, system)
            text = f"limit {v.limit} = {value} ({v.origin}), grade {v.grade}: p_beyond {v.p_beyond:.4g}"
            if limit is not None:
                text += f"; {limit.text}; source: {limit.source} ({limit.mark})"
            if v.needed_u and 0.05 <= v.p_beyond < 0.5:
                text += f"; decided with u {v.needed_u:.3g}"
        else:
            text = f"observation, grade {v.grade}: p_beyond {v.p_beyond:.4g}"
        yield from wrap(text, "  ", "    ")
    rule = r.catalogue.rules.get(f.rule)
    if rule is not None and f.bands:
        bands = ", ".join(f"{band} {p:.4g}" for band, p in f.bands.items())
        yield from wrap(f"rule {f.rule}: {rule.text}; P of each band: {bands}; {rule.source}", "  ", "    ")
        for band, ratios in rule.bands.items():
            if ratios:
                text = ", ".join(f"{cause} {ratio:g}" for cause, ratio in ratios.items())
                yield from wrap(f"likelihood ratios, {band}: {text}", "    ", "      ")
    weights = [w for b in r.beliefs for w in b.weights if w.finding == s.id]
    for w in weights:
        at = f"@{w.subject}" if w.subject else ""
        yield from wrap(
            f"weight on {w.cause}{at}: {w.raw_db:+.3f} dB, faded {w.db:+.3f}, group {w.group}", "  ", "    "
        )
    yield from _steps(f.steps)


def _ceiling(r: Register, v: CeilingView, system: str) -> Iterator[str]:
    c = v.ceiling
    quantity = r.catalogue.quantities.get(c.quantity)
    if isinstance(c.value, (int, float)):
        value = shown(c.value, quantity.kind if quantity else "torque", system)
    else:
        value = str(c.value).replace("_", " ") if isinstance(c.value, str) else "a curve over speed"
    yield from wrap(f"Ceiling {v.id} ({c.kind}, {c.origin}): {c.quantity or 'torque'} {value}: {c.reason}")
    if c.until:
        yield from wrap(f"until: {c.until}", "  ")
    if c.finding:
        rule, subject, sheet = c.finding
        yield from wrap(f"from finding {rule}{f'@{subject}' if subject else ''}#{sheet}", "  ")
    if v.why:
        yield from wrap(f"holds torque as received where it cannot be converted: {v.why}", "  ")
    rows = [("speed", "torque")]
    for speed, torque in zip(r.allowed.speeds, v.torque, strict=False):
        words = (
            "as received, unknown"
            if torque is None
            else shown(torque, "torque", system)
            if isfinite(torque)
            else "no cut"
        )
        rows.append((shown(speed, "rotation", system), words))
    yield from columns(rows, right=(0,))
    yield from _steps(c.steps)
