"""Derivation of a finding: its sheet, readings with their uncertainty, limits, steps, bands and weights."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from loadworthy.case import Reading
from loadworthy.outputs.page import columns, wrap
from loadworthy.outputs.why_risk import DIGITS, key, number, steps
from loadworthy.outputs.words import at, grade_word, spread

if TYPE_CHECKING:
    from collections.abc import Iterator

    from loadworthy.beliefs import Standing
    from loadworthy.case import Sheet
    from loadworthy.findings import Used, Verdict
    from loadworthy.outputs.view import View

_STATES = {
    "governs": "governs: the latest sheet on which this rule ran",
    "carried": "carried: an earlier fault that has not healed",
    "history": "history: superseded",
    "unknown": "unknown: could not run",
}


def finding(view: View, one: Standing) -> Iterator[str]:
    """Yield everything that led to a finding and what follows from it."""
    found = one.finding
    yield from wrap(f"Finding {one.id}")
    yield from wrap(f"{view.prose(found.text or found.unknown or found.rule)}{at(found.subject)}", "  ")
    grade = [grade_word(one.grade)]
    grade += [word for word, flag in (("borderline", one.borderline), ("to be accepted", one.accept)) if flag]
    if one.own_grade is not None and one.own_grade != one.grade:
        grade.append(f"by itself {grade_word(one.own_grade)}")
    if found.max_grade is not None:
        grade.append(f"capped at {grade_word(found.max_grade)} by its conditions")
    yield from wrap(f"grade: {', '.join(grade)}", "  ", "    ")
    yield from wrap(f"{_STATES.get(one.state, one.state)}{f'; {view.prose(one.why)}' if one.why else ''}", "  ", "    ")
    if not found.clears:
        yield from wrap("may fire but clears nothing: a reading is not to be relied on", "  ", "    ")
    sheet = next((s for s in view.register.case.sheets if s.id == found.sheet), None)
    if sheet is not None:
        yield from wrap(f"sheet: {sheet_words(view, sheet)}", "  ", "    ")
    yield from _readings(view, one)
    yield from _verdicts(view, one)
    if found.steps:
        yield ""
        yield "Steps"
        yield from steps(view, found.steps)
    yield from _rule(view, one)
    yield from _weights(view, one)


def sheet_words(view: View, sheet: Sheet) -> str:
    """Return where a sheet comes from: when, at what distance, by whom, with what."""
    words = [sheet.section, sheet.date.isoformat()]
    if sheet.time is not None:
        words.append(sheet.time.isoformat())
    if sheet.odometer is not None:
        words.append(f"at {view.shown(sheet.odometer, 'distance', DIGITS)}")
    words += [f"{label} {text}" for label, text in (("by", sheet.by), ("retest of", sheet.retest_of)) if text]
    if isinstance(sheet.instrument, str) and sheet.instrument:
        words.append(f"with {sheet.instrument}")
    words += [text for text in (sheet.conditions, sheet.note) if text]
    return ", ".join(words)


def _readings(view: View, one: Standing) -> Iterator[str]:
    if not one.finding.readings:
        return
    yield ""
    yield "Readings, with standard uncertainty u"
    for used in one.finding.readings:
        value = view.shown(used.value, used.unit, DIGITS)
        u = "u unknown" if used.u is None else f"u {spread(used.u, used.unit, view.system)}"
        yield from wrap(f"{used.place}: {value}, {u}", "  ", "    ")
        reading = _reading(view, used)
        if reading is not None:
            yield from _parts(view, reading)


def _parts(view: View, reading: Reading) -> Iterator[str]:
    """Yield what a reading's uncertainty is made of, as it stands in the case."""
    kind = reading.kind or reading.unit
    words = [f'as written "{reading.text}"'] if reading.text else []
    if reading.repeats:
        words.append(f"mean of {len(reading.repeats)} repeats")
    words += [f"u of {part} {spread(u, kind, view.system)}" for part, u in reading.u_parts]
    if len(reading.u_parts) > 1:
        words.append("combined as the root of the sum of squares (JCGM 100:2008, 5.1)")
    if reading.instrument:
        words.append(f"instrument {reading.instrument}")
    if reading.refused:
        words.append(f"clears nothing: {view.prose(reading.refused)}")
    if words:
        yield from wrap("; ".join(words), "    ", "      ")


def _reading(view: View, used: Used) -> Reading | None:
    """Return the case's own reading at a place such as ``sheet.field[3]`` or ``sheet.rows[3].field``; None without."""
    place, _, rest = used.place.partition("[")
    key, _, inner = rest.partition("]")
    holder, _, name = place.rpartition(".")
    case = view.register.case
    if holder in ("vehicle", "plan"):
        return _within((case.vehicle if holder == "vehicle" else case.plan).get(name), key, inner)
    sheet = next((s for s in case.sheets if s.id == holder), None)
    return None if sheet is None else _within(sheet.get(name), key, inner)


def _within(value: object, key: str, inner: str) -> Reading | None:
    """Return a reading, or the one of a subject, or that of one row (counted from 1) of a list."""
    if isinstance(value, Mapping) and key:
        value = value.get(key)
    elif isinstance(value, tuple) and key.isdigit():
        value = value[int(key) - 1] if 1 <= int(key) <= len(value) else None
    if isinstance(value, Mapping) and inner:
        value = value.get(inner.removeprefix("."))
    return value if isinstance(value, Reading) else None


def _verdicts(view: View, one: Standing) -> Iterator[str]:
    if not one.finding.verdicts:
        return
    yield ""
    yield "Against its limits (JCGM 106:2012): p is the probability of being beyond"
    for verdict in one.finding.verdicts:
        yield from _verdict(view, verdict, verdict is one.verdict)
    yield from wrap("clean below 0.05, borderline to 0.5, the limit's grade from 0.5; the worst verdict decides", "  ")


def _verdict(view: View, verdict: Verdict, decides: bool) -> Iterator[str]:
    mark = " (decides)" if decides else ""
    if not verdict.limit:
        yield from wrap(f"observation: p {number(verdict.p_beyond)}, {grade_word(verdict.grade)}{mark}", "  - ", "    ")
        return
    value = "none" if verdict.value is None else view.shown(verdict.value, verdict.unit, DIGITS)
    text = (
        f"{verdict.limit} = {value} ({verdict.origin}): p {number(verdict.p_beyond)}, {grade_word(verdict.grade)}{mark}"
    )
    yield from wrap(text, "  - ", "    ")
    declared = view.register.catalogue.limits.get(verdict.limit)
    if declared is not None:
        yield from wrap(f"{view.prose(declared.text)}; source: {view.source(declared.source, declared.mark)}", "    ")
    if verdict.default_p is not None:
        yield from wrap(f"by the default limit p would be {number(verdict.default_p)}", "    ")
    if verdict.needed_u and 0.05 <= verdict.p_beyond < 0.5:
        needed = spread(verdict.needed_u, verdict.unit, view.system)
        yield from wrap(f"u of {needed} would decide: distance to the limit / 1.645", "    ")


def _rule(view: View, one: Standing) -> Iterator[str]:
    rule = view.register.catalogue.rules.get(one.finding.rule)
    if rule is None:
        return
    yield ""
    yield from wrap(f"Rule {one.finding.rule}: {view.prose(rule.text)}", "", "  ")
    if rule.test:
        yield from wrap(f"test: {view.tests((rule.test,))}", "  ", "    ")
    if rule.source:
        yield from wrap(f"source: {rule.source}", "  ", "    ")
    bands = one.finding.bands
    if bands and rule.bands:
        yield from wrap(
            "likelihood ratio used = sum over bands of P(band) x ratio; what no band takes has ratio 1", "  "
        )
        for band, ratios in rule.bands.items():
            words = ", ".join(f"{cause} {ratio:g}" for cause, ratio in ratios.items()) or "none"
            yield from wrap(f"{band}, P {number(bands.get(band, 0.0))}: {words}", "  - ", "    ")


def _weights(view: View, one: Standing) -> Iterator[str]:
    """Yield what the finding weighs on each cause, and the causes that it names by state."""
    weights = [w for b in view.register.beliefs for w in b.weights if w.finding == one.id]
    if weights:
        yield ""
        yield from wrap("Weights in dB, 10 log10 of the likelihood ratio; * counts: the largest of its group")
        rows = [
            (
                "*" if w.counts else "",
                f"{w.raw_db:+.3f}",
                f"{w.db:+.3f}",
                f"{key(w.cause, w.subject)}, group {w.group}{f' ({view.prose(w.note)})' if w.note else ''}",
            )
            for w in weights
        ]
        yield from columns([("", "table", "as used", "cause"), *rows], right=(1, 2))
    if one.finding.names:
        names = ", ".join(key(cause, subject) for cause, subject in one.finding.names)
        yield from wrap(f"names by state, without a weight: {names}", "", "  ")
    for cause, subject, repair in one.set_aside:
        yield from wrap(f"set aside for {key(cause, subject)} by repair {repair}", "", "  ")
