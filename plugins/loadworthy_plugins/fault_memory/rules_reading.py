"""The reading as a whole: age of the memory, whether it still reports, lamp, readiness, results near their limits."""

from __future__ import annotations

from math import sqrt
from typing import TYPE_CHECKING, Final

from loadworthy.sdk import Advice, Coverage, Finding, Gap, Step, Verdict
from loadworthy_plugins.fault_memory.answers import PENDING, PERMANENT, STORED
from loadworthy_plugins.fault_memory.ceilings import at_standard
from loadworthy_plugins.fault_memory.memory import ENGINE, READ
from loadworthy_plugins.fault_memory.outcomes import has_run, margin, monitor, named, scaled
from loadworthy_plugins.fault_memory.pointing import misfire_counts, trims
from loadworthy_plugins.fault_memory.ratios import RATIOS
from loadworthy_plugins.fault_memory.readiness import HELD
from loadworthy_plugins.fault_memory.rules_codes import not_heard
from loadworthy_plugins.fault_memory.snapshots import absolute_load
from loadworthy_plugins.fault_memory.telling import in_one_line
from loadworthy_plugins.fault_memory.unread import ID, ROW
from loadworthy_plugins.physics.middle import median
from loadworthy_plugins.shared_results import number

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from loadworthy.sdk import Case, Limits, Result
    from loadworthy_plugins.fault_memory.memory import Memory
    from loadworthy_plugins.fault_memory.rules_codes import Reading

#: Probability before the reading that hardware or calibration was changed (judgement: one of either kind).
_CHANGED_PRIOR: Final = 0.193
#: Permanent codes are kept from this model year on in the United States (from memory).
_PERMANENT_FROM: Final = 2010
#: Standard uncertainty of the difference of two total trims: four trims of 0.5 points each (judgement).
_U_TRIMS: Final = sqrt(4.0) * 0.005
#: Below this voltage (V) with the key on a reading is repeated with a supported supply (judgement).
SUPPORT_BELOW: Final = 12.0
_REPEAT_AFTER: Final = "repeat the test after 500 km and compare"


def reading_rules(case: Case, limits: Limits, readings: Sequence[Reading]) -> Iterator[Result]:
    """Judge every sheet as a reading."""
    memories = [reading.memory for reading in readings]
    for reading in readings:
        memory = reading.memory
        yield _age(memory, memories, limits[ID + "distance_shortfall"].number)
        yield from _reporting(case, memory)
        yield from _lamp(memory)
        yield from _readiness(case, memory, limits)
        yield from _margins(memory, limits, any(_repeats(other, memory) for other in memories))
        yield from _misfires(memory, limits)
        yield from _trim_banks(memory, limits)
        yield from _warm_ups(memory, limits)
        yield from _load_figures(case, memory, limits)
        yield from _supply(memory)
        yield from _record(memory)


def coverage(case: Case, limits: Limits, readings: Sequence[Reading]) -> Iterator[Result]:
    """Answer the row of required evidence, with the ceiling of an unread or too young memory."""
    memories = [reading.memory for reading in readings]
    memory = _latest(memories)
    erased = [one for one in memories if _erasures(one, memories, limits[ID + "distance_shortfall"].number)]
    good = tuple(
        one.sheet.id for one in memories if not _lacks(one) and not any(_outdates(after, one) for after in erased)
    )
    if good:
        yield Coverage(ROW, "met", "", good)
    else:
        why = _lacks(memory) or "the memory was erased since it was last read whole"
        yield Coverage(ROW, "unknown", why, (memory.sheet.id,))
        young = memory.is_read and not memory.damaged and not memory.erased
        if young:
            # Codes that set a milder ceiling, or none, do not make it older.
            reason = f"the memory is {memory.age.kind}: what it has not seen yet it cannot report"
            yield from at_standard("memory_too_young", reason, case, finding=None, row=ROW)
        else:
            yield from at_standard("memory_unread", why, case, finding=None, row=ROW, until="full-memory-reading")
    if memory.damaged:
        yield Gap(
            f"memory_damaged:{memory.sheet.id}",
            f"a part of the reading is lost: {in_one_line(memory.damaged)}",
            required=True,
            section=ROW,
            test="full-memory-reading",
            write="read again and keep the raw lines with headers",
        )
    if memory.states[PERMANENT] not in (*READ, "refused"):
        state = memory.states[PERMANENT].replace("_", " ")
        yield Gap(
            "permanent_unread",
            f"permanent codes {state}: what was erased by hand and is not proven repaired stands there alone",
            section=ROW,
            test="full-memory-reading",
            write="what service 0A answered, a refusal too",
        )
    if memory.has("P0700") and not memory.gearbox_read:
        text = "P0700 only says that the gearbox unit holds codes: read that unit"
        yield Gap("gearbox_codes", text, required=True, section=ROW, test="gearbox-and-body-units")
    expected = {str(name) for name in case.vehicle.get("units_expected") or ()}
    missing = sorted(expected - set(memory.units) - set(memory.units.values()))
    if missing:
        text = f"control units that the vehicle has and that did not answer: {', '.join(missing)}"
        yield Gap("units_missing", text, section=ROW, test="gearbox-and-body-units")


def _latest(memories: Sequence[Memory]) -> Memory:
    """Return the last reading; of several of one day that no times put in order the worse one."""
    day = max(one.sheet.date for one in memories)
    last = [one for one in memories if one.sheet.date == day]
    open_ends = [one for one in last if not any(_is_after(other, one) for other in last)]
    return max(open_ends, key=lambda one: (bool(_lacks(one)), one.sheet.id))


def _may_follow(one: Memory, other: Memory) -> bool:
    """Whether a reading may be of the same time as another, or later."""
    if one.sheet.date != other.sheet.date:
        return one.sheet.date > other.sheet.date
    return not _is_after(other, one)


def _outdates(erased: Memory, one: Memory) -> bool:
    """Whether a reading was taken before the memory was erased: it says nothing of what the memory would hold now.

    A whole and settled reading that shows an erasure was itself taken long enough after it.
    """
    return _may_follow(erased, one) if _lacks(erased) else erased.sheet.date > one.sheet.date


def _is_after(one: Memory, other: Memory) -> bool:
    times = one.sheet.time, other.sheet.time
    return times[0] is not None and times[1] is not None and times[0] > times[1]


def _lacks(memory: Memory) -> str:
    """Return why a reading does not settle the row; empty where it does."""
    if memory.erased:
        return "the memory was erased before it was read: it says nothing of what was there"
    if memory.damaged:
        return "a part of the reading is lost"
    open_lists = [
        f"{name} codes {memory.states[service].replace('_', ' ')}"
        for service, name in ((STORED, "stored"), (PENDING, "pending"))
        if memory.states[service] not in READ
    ]
    if open_lists:
        return f"engine unit: {', '.join(open_lists)}"
    if ENGINE not in memory.statuses:
        return "the monitor status of the engine unit was not read"
    if memory.age.kind == "settled":
        return ""
    if not memory.age.known:
        return "how long ago the memory was erased is not known: read warm-ups, distance and time since then"
    if memory.age.exposure < 1.0:
        return f"the memory is {memory.age.kind}: {memory.age.exposure:.2f} of full exposure since it was erased"
    unset = sorted(memory.supported - memory.complete)
    return f"monitors not complete since the memory was erased: {', '.join(unset)}"


def _record(memory: Memory) -> Iterator[Finding]:
    """Tell what the record itself shows: what was not understood, what contradicts itself, what cannot be used."""
    notes = [*memory.notes, *((memory.contradiction,) if memory.contradiction else ())]
    notes += [f"the trim at {one.region} cannot be used: {one.unusable}" for one in trims(memory) if one.unusable]
    if notes:
        yield Finding(
            rule=ID + "record", sheet=memory.sheet.id, verdicts=(Verdict("note", 1.0),), text=in_one_line(notes)
        )


# Age and reporting --------------------------------------------------------------------------------------------------


def _erasures(memory: Memory, every: Iterable[Memory], least: float) -> dict[str, str]:
    """Return what shows that the memory was erased not long before a reading: band and the reason in words."""
    fired: dict[str, str] = {}
    counters = {} if memory.contradiction else memory.counters
    warm_ups, distance = counters.get("warm_ups"), counters.get("distance")
    share, age = memory.share, memory.age
    if memory.erased:
        fired["known"] = "the memory was erased before this reading"
    elif age.kind != "settled":
        stated = _stated(memory)
        if stated:
            fired["known"] = stated
    fell = _fell(memory, every, least)
    if fell:
        fired["known"] = fell
    if warm_ups is not None and distance is not None and warm_ups <= 1 and distance < 20e3:
        fired["erased_just_now"] = f"{warm_ups:.0f} warm-ups and {distance / 1e3:.0f} km since it was erased"
    if age.known and age.kind == "recent":
        unset = share is not None and share < 1.0
        key = "recent_not_complete" if unset else "recent_complete"
        fired[key] = f"{age.exposure:.2f} of full exposure since it was erased, monitors {_share(share)} complete"
    if not age.known and share is not None and share < 0.5:
        fired["no_counters_not_complete"] = f"no counters, monitors {_share(share)} complete"
    lists_empty = all(memory.states[service] == "empty" for service in (STORED, PENDING))
    lamp_off = memory.sheet.get("lamp") == "off" or (
        ENGINE in memory.statuses and not memory.statuses[ENGINE].lamp and memory.sheet.get("lamp") != "on"
    )
    if any("permanent" in one.sources for one in memory.present) and lists_empty and lamp_off:
        fired["permanent_alone"] = "a permanent code with empty lists and the lamp off: erased by hand"
    return fired


def _age(memory: Memory, every: Sequence[Memory], least: float) -> Finding:
    fired = _erasures(memory, every, least)
    share, age = memory.share, memory.age
    if age.kind == "settled" and not memory.erased:
        # A clear between two readings, and all that is needed driven since.
        fired.pop("known", None)
    rule, sheet = ID + "memory_age", memory.sheet.id
    if fired:
        ratios = RATIOS["memory_age"]
        band = max(fired, key=lambda name: (ratios[name], name))
        return Finding(
            rule=rule,
            sheet=sheet,
            verdicts=(Verdict("watch", 1.0),),
            text=f"fault memory erased not long ago: {fired[band]}; an empty memory proves little",
            bands={band: 1.0},
            steps=(Step("exposure", age.exposure, "", "least of warm-ups / 10, distance / 200 km, time / 300 min"),),
        )
    if age.kind == "settled":
        return Finding(
            rule=rule,
            sheet=sheet,
            verdicts=(Verdict("watch", 0.0),),
            text="the memory has seen enough since it was erased",
            bands={"settled": 1.0},
        )
    why = memory.contradiction or (
        f"{age.exposure:.2f} of full exposure, monitors {_share(share)} complete"
        if age.known
        else "no counter since erasing was read"
    )
    return Finding(rule=rule, sheet=sheet, unknown=f"how much the memory has seen is open: {why}")


def _share(share: float | None) -> str:
    return "of no kind" if share is None else f"{100 * share:.0f} %"


def _stated(memory: Memory) -> str:
    """Say what somebody stated of an erasure; a battery that was off acts like one and cannot be told from it."""
    sheet = memory.sheet
    day, battery, by = (sheet.get(key) for key in ("cleared_on", "battery_off_on", "cleared_by"))
    if day is not None and day <= sheet.date:
        return f"erased on {day.isoformat()}{f' by {by}' if by else ''}, as stated"
    if battery is not None and battery <= sheet.date:
        return f"battery off on {battery.isoformat()}, which acts like erasing"
    return ""


def _fell(memory: Memory, every: Iterable[Memory], least: float) -> str:
    """Say from which earlier sheet the distance since erasing should be longer: a clear lies between."""
    now, odometer = memory.counters.get("distance"), memory.sheet.odometer
    if now is None or odometer is None:
        return ""
    for other in every:
        then, before = other.counters.get("distance"), other.sheet.odometer
        if other.sheet.date >= memory.sheet.date or then is None or before is None or odometer < before:
            continue
        # Counters hold at their greatest value.
        if now < min(then + least * (odometer - before), 65_535e3) - 1.0:
            return (
                f"{now / 1e3:.0f} km since erasing; {then / 1e3:.0f} km were read on {other.sheet.date.isoformat()} "
                f"and {(odometer - before) / 1e3:.0f} km were driven since: a clear lies between"
            )
    return ""


def _reporting(case: Case, memory: Memory) -> Iterator[Result]:
    sheet = memory.sheet
    provocation = sheet.get("provocation")
    if provocation in ("code_set", "no_code"):
        silent = provocation == "no_code"
        yield Finding(
            rule=ID + "provocation",
            sheet=sheet.id,
            verdicts=(Verdict("fix_first", float(silent)),),
            text="an unplugged intake air sensor is not reported" if silent else "an unplugged sensor is reported",
            bands={"silent" if silent else "reported": 1.0},
        )
        if silent:
            yield from _no_road(case, (ID + "provocation", None, sheet.id))
    fired: dict[str, str] = {}
    expected = {str(name) for name in case.vehicle.get("monitors_expected") or ()}
    missing = sorted(expected - memory.supported) if memory.statuses else []
    if missing:
        fired["monitor_missing"] = f"not supported though the vehicle has it: {', '.join(missing)}"
    warm_ups, distance = (memory.counters.get(key) for key in ("warm_ups", "distance"))
    if memory.share == 1.0 and warm_ups is not None and distance is not None and warm_ups <= 1 and distance < 10e3:
        fired["complete_at_once"] = f"every monitor complete after {distance / 1e3:.0f} km"
    if sheet.get("lamp_at_key_on") == "dark":
        fired["lamp_dark_at_key_on"] = "the lamp stays dark when the key is turned on"
    commanded = any(status.lamp for status in memory.statuses.values())
    if commanded and sheet.get("lamp") == "off":
        fired["commanded_on_but_dark"] = "a unit commands the lamp on and it is dark"
    if memory.states[PERMANENT] == "refused" and _has_permanent(case):
        fired["permanent_refused"] = "permanent codes refused, which this model year must keep"
    rule = ID + "reporting"
    if fired:
        ratios = RATIOS["reporting"]
        band = max(fired, key=lambda name: (ratios[name], name))
        odds = ratios[band] * _CHANGED_PRIOR / (1.0 - _CHANGED_PRIOR)
        p = odds / (1.0 + odds)
        grave = p > 0.5 or "commanded_on_but_dark" in fired
        yield Finding(
            rule=rule,
            sheet=sheet.id,
            verdicts=(Verdict("fix_first" if grave else "watch", 1.0),),
            text="; ".join(text for _, text in sorted(fired.items())),
            bands={band: 1.0},
            steps=(
                Step("probability of a change by this alone", p, "", f"odds {ratios[band]:g} x prior", "judgement"),
            ),
        )
        if p > 0.5:
            yield from _no_road(case, (rule, None, sheet.id))
    elif sheet.get("lamp_at_key_on") == "lit" and memory.statuses:
        yield Finding(
            rule=rule,
            sheet=sheet.id,
            verdicts=(Verdict("watch", 0.0),),
            text="the lamp lights at key-on, monitors are as expected",
        )


def _no_road(case: Case, key: tuple[str, str | None, str]) -> Iterable[Result]:
    reason = "the vehicle may not report its faults: no road calibration until reporting is restored"
    yield from at_standard("reporting_suspect", reason, case, finding=key, until="calibration-identifiers")


def _has_permanent(case: Case) -> bool:
    year = number(case.vehicle.get("model_year"))
    place = str(case.vehicle.get("jurisdiction") or "").upper()
    return year is not None and year >= _PERMANENT_FROM and place.split("-")[0] == "US"


# Lamp, readiness, results ---------------------------------------------------------------------------------------------


def _supply(memory: Memory) -> Iterator[Advice]:
    sheet = memory.sheet
    volts = number(sheet.get("supply_voltage"))
    if volts is None or sheet.get("key_state") != "key_on_engine_off" or sheet.get("support_supply"):
        return
    if volts < SUPPORT_BELOW:
        text = f"{volts:.1f} V with the key on: support the supply and read again, units at low voltage misreport"
        yield Advice(text, None, "full-memory-reading", sheet.id)


def _lamp(memory: Memory) -> Iterator[Finding]:
    lamp = memory.sheet.get("lamp")
    if lamp in (None, "unknown"):
        return
    rule, sheet = ID + "lamp", memory.sheet.id
    if lamp == "flashing":
        text = "the lamp flashes: misfire that destroys the catalyst now; no full load, stop driving hard"
        yield Finding(rule=rule, sheet=sheet, verdicts=(Verdict("stop", 1.0),), text=text)
        return
    text = "the lamp is lit" if lamp == "on" else "the lamp is off"
    yield Finding(rule=rule, sheet=sheet, verdicts=(Verdict("note", float(lamp == "on")),), text=text)


def _readiness(case: Case, memory: Memory, limits: Limits) -> Iterator[Result]:
    if not memory.statuses:
        return
    unset = sorted(memory.supported - memory.complete)
    verdicts = [limits[ID + "monitors_unset_clear"].judge(float(len(unset)), 0.0)]
    year = number(case.vehicle.get("model_year"))
    more = ""
    if year is not None and year >= 1996:
        limit = limits[ID + ("monitors_unset_report" if year >= 2001 else "monitors_unset_report_1996")]
        verdicts.append(limit.judge(float(len(unset)), 0.0))
        if verdicts[-1].p_beyond >= 0.5:
            more = "; would be rejected at an inspection in the United States"
    text = f"not complete since erasing: {', '.join(unset)}{more}" if unset else "every supported monitor is complete"
    # Complete is not passed: only without any code, in a memory that has seen enough, it proves something gone.
    passed = not memory.present and not not_heard(memory)
    yield Finding(rule=ID + "readiness", sheet=memory.sheet.id, verdicts=tuple(verdicts), text=text, clears=passed)


def _repeats(one: Memory, other: Memory) -> bool:
    """Whether a reading was taken after another one and has on-board test results again."""
    return one.sheet.date > other.sheet.date and any(has_run(result) for result in one.outcomes)


def _margins(memory: Memory, limits: Limits, repeated: bool) -> Iterator[Result]:
    watch, act = limits[ID + "test_margin_watch"], limits[ID + "test_margin_act"]
    found = []
    for one in memory.outcomes:
        far = margin(one)
        if has_run(one) and far is not None:
            found.append((far, one))
    if not found:
        return
    near = sorted(((far, one) for far, one in found if far < watch.number), key=lambda item: (item[0], repr(item[1])))
    least = min(far for far, _ in found)
    parts = []
    for far, one in near:
        value = scaled(one.scaling, one.value)
        shown = f" at {value[0]:g} {value[1]}".rstrip() if value is not None else ""
        parts.append(f"{named(one)[1]} test {one.test:02X}{shown}, margin {far:.2f}")
    text = (
        f"near or beyond the limit: {'; '.join(parts)}" if parts else f"{len(found)} results, least margin {least:.2f}"
    )
    yield Finding(
        rule=ID + "test_margin",
        sheet=memory.sheet.id,
        verdicts=(watch.judge(least, 0.0), act.judge(least, 0.0)),
        text=text,
    )
    if least < act.number and not repeated:
        yield Gap("test_margin", f"{parts[0]}: {_REPEAT_AFTER}", section=ROW, test="full-memory-reading")


def _misfires(memory: Memory, limits: Limits) -> Iterator[Finding]:
    counts = misfire_counts(memory)
    if len(counts) < 2:
        return
    worst = max(counts, key=lambda one: (counts[one], -one))
    others = median([count for one, count in counts.items() if one != worst])
    limit = limits[ID + "misfire_mean_watch"]
    least = max(limit.number, 5.0 * others)
    text = f"{monitor(worst)[1]}: mean count {counts[worst]:g}, median of the others {others:g}"
    verdict = (
        limit.judge(counts[worst], 0.0)
        if least == limit.number
        else Verdict("watch", float(counts[worst] > least), limit.id, least, limit.kind, limit.origin)
    )
    yield Finding(rule=ID + "misfire_counts", sheet=memory.sheet.id, verdicts=(verdict,), text=text)


def _trim_banks(memory: Memory, limits: Limits) -> Iterator[Finding]:
    usable = [trim for trim in trims(memory) if not trim.unusable]
    pairs = [
        (abs(one.total - other.total), one.region, one.total, other.total)
        for one in usable
        for other in usable
        if (one.bank, other.bank, one.region) == (1, 2, other.region)
    ]
    worst = max(pairs, default=None)
    if worst is None:
        return
    difference, region, first, second = worst
    what = "a fault of one bank: never average them" if difference > limits[ID + "bank_shared"].number else "shared"
    yield Finding(
        rule=ID + "trim_banks",
        sheet=memory.sheet.id,
        verdicts=(limits[ID + "bank_fault"].judge(difference, _U_TRIMS),),
        text=f"trims of the banks at {region}: {100 * first:+.1f} and {100 * second:+.1f} %, {what}",
    )


def _warm_ups(memory: Memory, limits: Limits) -> Iterator[Finding]:
    warm_ups, distance = (memory.counters.get(key) for key in ("warm_ups", "distance"))
    if warm_ups is None or distance is None or memory.contradiction or distance < 300e3 or warm_ups >= HELD:
        return
    per = warm_ups / (distance / 100e3)
    yield Finding(
        rule=ID + "warm_ups",
        sheet=memory.sheet.id,
        verdicts=(limits[ID + "cold_runner"].judge(per, 0.0),),
        text=f"{warm_ups:.0f} warm-ups over {distance / 1e3:.0f} km: {per:.2f} per 100 km (a hybrid has few as well)",
    )


def _load_figures(case: Case, memory: Memory, limits: Limits) -> Iterator[Finding]:
    displacement = number(case.vehicle.get("displacement"))
    if not displacement:
        return
    worst: tuple[float, float, float] | None = None
    for frame in memory.frames:
        load, flow, speed = (frame.value(name) for name in ("absolute_load", "air_flow", "engine_speed"))
        if load and flow and speed:
            own = absolute_load(flow, speed, displacement)
            found = (abs(own / load - 1.0), load, own)
            worst = found if worst is None or found > worst else worst
    if worst is not None:
        off, load, own = worst
        yield Finding(
            rule=ID + "load_figures",
            sheet=memory.sheet.id,
            verdicts=(limits[ID + "load_mismatch"].judge(off, 0.0),),
            text=f"absolute load {100 * load:.0f} % in a freeze frame, {100 * own:.0f} % by air flow, speed and "
            "displacement: air meter, displacement or a leak of charge air",
        )
