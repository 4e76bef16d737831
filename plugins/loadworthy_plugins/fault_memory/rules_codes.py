"""Codes, patterns, silence: what a reading says of every cause."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from loadworthy.sdk import Advice, Finding, Gap, Step, Verdict
from loadworthy_plugins.fault_memory.answers import PENDING, PERMANENT, STORED
from loadworthy_plugins.fault_memory.ceilings import FULL_FROM, at_standard, of_code
from loadworthy_plugins.fault_memory.codes import family_of_meaning
from loadworthy_plugins.fault_memory.memory import ENGINE, GEARBOX, READ, is_known
from loadworthy_plugins.fault_memory.outcomes import margin, named
from loadworthy_plugins.fault_memory.patterns import Pattern, patterns
from loadworthy_plugins.fault_memory.pointing import (
    clause,
    exponent,
    family,
    family_id,
    supply_suspect,
    told_by_codes,
    told_by_results,
    told_by_trims,
    weights_of,
)
from loadworthy_plugins.fault_memory.silence import is_complete, silence, silent_weights
from loadworthy_plugins.fault_memory.unread import ID

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from loadworthy.sdk import Case, Demand, Grade, Limits, Result
    from loadworthy_plugins.fault_memory.memory import Memory, Present
    from loadworthy_plugins.fault_memory.pointing import Family, Told

_GRADES: Final[dict[str, Grade]] = {"stop": "stop", "fix_first": "fix_first", "cap": "watch", "note": "note"}
_UNLISTED: Final = ID + "unlisted"
#: From this exponent on a network code holds the torque (judgement).
_NETWORK_FROM: Final = 0.7


class Reading:
    """One memory with everything that it tells; asked for once a sheet."""

    def __init__(self, case: Case, memory: Memory, limits: Limits) -> None:
        self.memory = memory
        by_codes, self.unlisted = told_by_codes(case, memory)
        self.told: tuple[Told, ...] = (
            *by_codes,
            *told_by_results(case, memory, limits),
            *told_by_trims(case, memory, limits),
        )
        self.supply = supply_suspect(memory, limits[ID + "frame_voltage_low"].number)
        self.patterns = tuple(patterns(case, memory, limits))


def grade_of(told: Told) -> Grade:
    """Return the grade of a family at its exponent: in full from 0.5 on, one step milder below; a trim is a note."""
    if told.source == "trim":
        return "note"
    if told.s >= FULL_FROM:
        return _GRADES[told.family.severity]
    return "fix_first" if told.family.severity == "stop" else "note"


def code_rules(case: Case, demand: Demand | None, limits: Limits, readings: Iterable[Reading]) -> Iterator[Result]:
    """Judge the codes of every sheet; a family seen on one sheet is looked for on all others."""
    readings = tuple(readings)
    every: dict[tuple[str, str | None], set[str]] = {}
    together: dict[str, frozenset[str]] = {}
    strange: set[str] = set()
    for reading in readings:
        for one in reading.told:
            if one.source != "trim":
                units = (unit for code in one.codes for unit in code.units)
                every.setdefault((one.family.id, one.subject), set()).update(units)
        for pattern in reading.patterns:
            if isinstance(pattern, Pattern):
                together[pattern.id] = together.get(pattern.id, frozenset()) | pattern.families
        strange.update(unit for code in reading.unlisted for unit in code.units)
    for reading in readings:
        memory = reading.memory
        for told in reading.told:
            finding = _found(told, reading, case)
            yield finding
            key = (finding.rule, finding.subject, finding.sheet)
            yield from of_code(told, key, case, demand, memory, limits)
        seen = {(one.family.id, one.subject) for one in reading.told}
        for id, subject in sorted(every, key=lambda key: (key[0], key[1] or "")):
            if (id, subject) not in seen:
                yield _gone(family(id), subject, reading, case, limits, every[id, subject])
        yield from _patterns(case, limits, reading, together)
        yield from _silence(case, reading)
        yield from _unlisted(case, reading, readings, strange)


def _found(told: Told, reading: Reading, case: Case) -> Finding:
    memory, one = reading.memory, told.family
    least = min(
        (exponent(told, cause, memory, reading.supply) for cause, ratio, _ in one.causes if ratio != 1.0),
        default=told.s,
    )
    steps = [Step("exponent of the status", told.s, "", "largest of all sources", "judgement")]
    if least < told.s:
        why = reading.supply or "electrical failure type, or a code that erasing sets"
        steps.append(Step("modifier", least / told.s, "", why, "judgement"))
    where = f" at {told.subject}" if told.subject and told.subject not in told.meaning else ""
    said = f"{told.text}{where}: {told.meaning}; at higher load: {_why(one)}"
    return Finding(
        rule=ID + one.id,
        sheet=memory.sheet.id,
        subject=told.subject,
        verdicts=(Verdict(grade_of(told), 1.0),),
        text=f"{said}; {clause(one.note)}" if one.note else said,
        weights=weights_of(told, reading.told, case, memory, reading.supply),
        steps=tuple(steps),
    )


def _why(one: Family) -> str:
    """Return why a family matters at higher load; where the table says "As P0234" in the words of that code."""
    other = one.why.removeprefix("Same harm as ").removeprefix("As ")
    like = family_id(other[:5]) if other != one.why else None
    if like is None:
        return clause(one.why.removeprefix("As above, "))
    return f"{_why(family(like))}{other[5:].rstrip('.')}"


def _gone(
    one: Family, subject: str | None, reading: Reading, case: Case, limits: Limits, units: Iterable[str]
) -> Finding:
    """Return what it means that a family seen elsewhere is not on this sheet: gone, or only not back yet."""
    memory = reading.memory
    why = not_heard(memory, units) or _not_proven(one, memory, case, limits)
    rule, sheet = ID + one.id, memory.sheet.id
    if why:
        return Finding(rule=rule, sheet=sheet, subject=subject, unknown=f"no code of it here, but {why}")
    text = f"no code of it: its monitor is complete, the memory settled ({memory.age.exposure:.2f} of full exposure)"
    return Finding(rule=rule, sheet=sheet, subject=subject, verdicts=(Verdict(_GRADES[one.severity], 0.0),), text=text)


def not_heard(memory: Memory, units: Iterable[str] = ()) -> str:
    """Say why a code that a memory does not hold may be there all the same, empty: it is not; ``units`` held it."""
    lists = [name for service, name in ((STORED, "stored"), (PENDING, "pending")) if memory.states[service] not in READ]
    if lists:
        return f"the {' and '.join(lists)} codes were not read whole"
    others = sorted(set(units) - memory.read_units - {ENGINE})
    if others:
        return f"the {' and '.join(others)} unit, which held it, was not read"
    if memory.states[PERMANENT] in ("not_asked", "silent", "damaged"):
        return "the permanent codes were not read: record what service 0A answered, a refusal too"
    if memory.erased:
        return "the memory was erased before it was read"
    if memory.damaged:
        return f"a part of the reading is lost: {memory.damaged[0]}"
    if memory.age.kind != "settled":
        return f"the memory is {memory.age.kind}: erasing a code is no repair"
    return ""


def _not_proven(one: Family, memory: Memory, case: Case, limits: Limits) -> str:
    if not is_complete(one, memory, case):
        return "its monitor has not been completed since the memory was erased"
    least = limits[ID + "test_margin_watch"].number
    for result in memory.outcomes:
        code = named(result)[0]
        far = margin(result)
        if code and family_id(code) == one.id and far is not None and far <= least:
            return f"its test passes with a margin of {far:.2f} only"
    return ""


def _patterns(case: Case, limits: Limits, reading: Reading, every: Mapping[str, frozenset[str]]) -> Iterator[Result]:
    """Yield the patterns of a reading; one of another sheet that does not hold here is gone only as its codes are."""
    sheet = reading.memory.sheet.id
    open_: dict[str, list[str]] = {}
    for one in reading.patterns:
        if isinstance(one, Pattern):
            what = f"{', '.join(one.codes)}: " if one.codes else ""
            yield Finding(
                rule=f"{ID}pattern-{one.id}",
                sheet=sheet,
                verdicts=(Verdict("note", 1.0),),
                text=f"{what}{one.reason}",
                weights=one.weights,
                steps=(Step("exponent", one.power, "", "least of its conditions", "judgement"),),
            )
        else:
            open_.setdefault(one.what, []).append(one.id.replace("-", " "))
    for what, meanings in open_.items():
        fact = what.removeprefix("state ")
        table = "[[fault_memory]]" if fact == "loads_at_misfire" else "[vehicle]"
        do = f"write {fact} in {table}" if fact != what else what
        yield Advice(f"{do}: it tells whether the codes mean {', or '.join(meanings)}", sheet=sheet)
    lacking = {one.id for one in reading.patterns}
    here = {one.family.id for one in reading.told}
    for id in sorted(every.keys() - lacking):
        absent = sorted(every[id] - here)
        proofs = (_not_proven(family(name), reading.memory, case, limits) for name in absent)
        why = not_heard(reading.memory) or next((proof for proof in proofs if proof), "")
        rule, text = f"{ID}pattern-{id}", "its codes and readings do not stand together here"
        if why:
            yield Finding(rule=rule, sheet=sheet, unknown=f"{text}, but {why}")
        else:
            yield Finding(rule=rule, sheet=sheet, verdicts=(Verdict("note", 0.0),), text=text)


def _silence(case: Case, reading: Reading) -> Iterator[Result]:
    memory = reading.memory
    if memory.erased:
        return
    found = tuple(silence(case, memory, reading.told))
    if not found:
        return
    strongest = sorted(found, key=lambda one: (one.ratio, one.cause))[:3]
    said = ", ".join(f"{one.cause.replace('-', ' ')} {one.ratio:.2f}" for one in strongest)
    yield Finding(
        rule=ID + "silence",
        sheet=memory.sheet.id,
        verdicts=(Verdict("note", 0.0),),
        text=f"no code of {len(found)} causes at {memory.age.exposure:.2f} of full exposure; strongest: {said}",
        weights=silent_weights(found),
        steps=tuple(
            Step(
                one.cause,
                one.ratio,
                "",
                f"w ** ({one.coverage:.3f} covered x {one.exposure:.2f} exposed x {one.load:g} loaded x {one.heard:g})",
                "judgement",
            )
            for one in strongest
        ),
    )


# Codes without a family ---------------------------------------------------------------------------------------------


def _unlisted(case: Case, reading: Reading, readings: Iterable[Reading], strange: set[str]) -> Iterator[Result]:
    sheet = reading.memory.sheet.id
    if not reading.unlisted:
        if strange:
            yield _no_more(reading.memory, strange)
        return
    grades: list[tuple[Grade, str, bool]] = [_policy(one) for one in reading.unlisted]
    alike: dict[str, list[str]] = {}
    for one, (_, what, _) in zip(reading.unlisted, grades, strict=True):
        alike.setdefault(what, []).append(f"{one.shown} {one.state.replace('_', ' ')} ({', '.join(one.units)})")
    said = "; ".join(f"{', '.join(codes)}: {what}" for what, codes in alike.items())
    order: tuple[Grade, ...] = ("note", "watch", "fix_first")
    worst = max((grade for grade, _, _ in grades), key=order.index)
    finding = Finding(
        rule=_UNLISTED, sheet=sheet, verdicts=(Verdict(worst, 1.0),), text=f"codes that no family holds: {said}"
    )
    yield finding
    if any(held for _, _, held in grades):
        reason = "codes of unknown meaning: not above standard until it is known"
        yield from at_standard(
            "code_unlisted", reason, case, finding=(finding.rule, None, sheet), until="full-memory-reading"
        )
    for one, (_, what, _) in zip(reading.unlisted, grades, strict=True):
        if _settled_since(one, reading, readings, case):
            continue
        yield Gap(
            f"code_meaning:{one.code}",
            f"{one.shown}: {what}",
            required=True,
            section="fault_memory",
            write="its meaning in note; once it is repaired [[repair]] with "
            f'treats = ["{_UNLISTED}"], then a new reading',
        )


def _no_more(memory: Memory, units: Iterable[str]) -> Finding:
    """Return what it means that codes of unknown meaning stand on other sheets and not on this one."""
    why = not_heard(memory, units)
    if why:
        return Finding(rule=_UNLISTED, sheet=memory.sheet.id, unknown=f"none here, but {why}")
    text = "no code that no family holds, the memory settled"
    return Finding(rule=_UNLISTED, sheet=memory.sheet.id, verdicts=(Verdict("fix_first", 0.0),), text=text)


def _settled_since(one: Present, reading: Reading, readings: Iterable[Reading], case: Case) -> bool:
    """Whether a code of unknown meaning is gone as other faults are: repaired and then clean, or clean on two days."""
    then = reading.memory.sheet.date
    later = (other.memory for other in readings if other.memory.sheet.date > then)
    days = {memory.sheet.date for memory in later if not memory.has(one.code) and not not_heard(memory, one.units)}
    repairs = [
        repair.date
        for repair in case.repairs
        if not repair.unfinished and any(treated.what == _UNLISTED for treated in repair.treats)
    ]
    return len(days) > 1 or any(then < repaired < day for repaired in repairs for day in days)


def _policy(one: Present) -> tuple[Grade, str, bool]:
    """Return grade, what to do, and whether the torque is held, for a code that no family of the table explains."""
    meaning = family_of_meaning(one.code)
    letter = one.code[0]
    full = one.s >= FULL_FROM
    if GEARBOX in one.units or (letter == "P" and meaning == "maker"):
        kind = "code of the gearbox" if GEARBOX in one.units else "maker's own code"
        return ("fix_first" if full else "note"), f"{kind}: find its meaning in the maker's documents first", full
    if letter == "P":
        what = "standard code that is not in the table: find its meaning"
        if is_known(one.code):
            what = "of another fuel or induction: check vehicle.fuel and vehicle.induction, else find its meaning"
        return "note", what, full
    if letter == "U":
        silent = "; several units report it: find the silent one" if len(one.units) > 1 else ""
        return "note", f"network code: supply and grounds first{silent}", one.s >= _NETWORK_FROM
    if meaning == "reserved":
        return "note", "reserved code: read again", False
    return "note", "code of brakes or body: find its meaning in the maker's documents", False
