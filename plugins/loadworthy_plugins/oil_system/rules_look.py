"""Rules on what is seen and heard: level, consumption, sludge, noises, the cut filter, parts with the sump off."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.sdk import Ceiling, Symptom, format_value
from loadworthy_plugins.oil_system.results import ID, finding, verdicts
from loadworthy_plugins.shared_results import bands, number, seen, used

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from loadworthy.sdk import Case, Finding, Grade, Limits, Result, Sheet

#: A consumption run shorter than this shows nothing, m (common practice, no source).
_SHORTEST_RUN = 1e6
#: An oil this many intervals old, with dark varnish, speaks for sludge (judgement).
_LONG_OVERDUE = 2.0
#: What was seen of a part -> band of its rule and grade (judgement), where something is wrong with it.
_PARTS: dict[str, tuple[str, Mapping[str, tuple[str, Grade]], str]] = {
    "bearing_shells": ("shells", {"over": ("over", "stop")}, "in_limits"),
    "pump_seen": ("pump", {"worn": ("worn", "fix_first")}, "in_limits"),
    "pickup_seen": ("pick_up", {"faulty": ("faulty", "fix_first")}, "sound"),
    "relief_valve_seen": (
        "relief_valve",
        {"stuck_open": ("stuck_open", "fix_first"), "stuck_shut": ("stuck_shut", "fix_first")},
        "free",
    ),
}
_NOISES: Mapping[str, Grade] = {"cold_rumble": "watch", "light_load_knock": "fix_first", "load_knock": "stop"}


def look_rules(case: Case, limits: Limits) -> Iterator[Result]:
    """Judge every look sheet; what nobody looked at says nothing."""
    for sheet in case.of("oil_look"):
        yield from _level(sheet, limits)
        yield from _consumption(sheet, limits)
        yield from _sludge(sheet, case)
        yield from _noises(sheet)
        yield from _filter(sheet)
        for field in _PARTS:
            yield from _part(sheet, field)


def _level(sheet: Sheet, limits: Limits) -> Iterator[Result]:
    level = number(sheet.get("oil_level"))
    trend = number(sheet.get("oil_level_trend"))
    if level is not None:
        found = verdicts(limits, ("oil_level_range_low", "oil_level_range_high"), level, 0.0)
        low, high = (one.p_beyond for one in found)
        yield finding(
            "level",
            sheet,
            verdicts=found,
            text="oil level below the lower mark" if low else "oil level above full" if high else "oil level in range",
            bands=bands(low=low, between=(1.0 - low) * (1.0 - high)),
            readings=(used(sheet, "oil_level", level),),
            names=(("oil-level-low", None),) if low else (),
        )
    if trend is None:
        return
    rising = trend > 0.0 and level is not None and level > limits[ID + "oil_level_range_high"].number
    falling = sheet.get("coolant_level_falling") is True
    band = "rising_coolant_falling" if falling else "rising"
    yield finding(
        "level_rising",
        sheet,
        verdicts=seen(rising, "watch"),
        text="oil level above full and rising: fuel or coolant until proven otherwise"
        if rising
        else "oil level does not rise above full",
        bands={band: 1.0} if rising else {},
        readings=(used(sheet, "oil_level_trend", trend, None, "m3/m"),),
    )
    if rising:
        yield Symptom(
            "oil-level-rises", ID + "level_rising", sheet.id, 1.0, group="level", text="oil level above full and rising"
        )


def _consumption(sheet: Sheet, limits: Limits) -> Iterator[Finding]:
    reading = sheet.reading("oil_consumption")
    if reading is None:
        return
    distance = number(sheet.get("oil_consumption_distance"))
    place = (used(sheet, "oil_consumption", reading.value, reading.u, "m3/m"),)
    short = distance is None or distance < _SHORTEST_RUN
    if reading.u is None:
        yield finding("consumption", sheet, unknown="uncertainty of the reading not known", readings=place)
        return
    found = verdicts(limits, ("oil_consumption_max_watch", "oil_consumption_max_fix"), reading.value, reading.u)
    watch, fix = (one.p_beyond for one in found)
    if short and watch < 0.5:
        yield finding(
            "consumption", sheet, unknown="run shorter than 1 000 km, or its length not given", readings=place
        )
        return
    yield finding(
        "consumption",
        sheet,
        verdicts=found,
        text=f"oil consumption {format_value(reading.value, 'consumption_distance', digits=2)}"
        + (", over a short run" if short else ""),
        bands=bands(high=fix, low=0.0 if short else 1.0 - watch),
        max_grade="watch" if short else None,
        clears=not (short or reading.refused),
        readings=place,
    )


def _sludge(sheet: Sheet, case: Case) -> Iterator[Finding]:
    signs = set(sheet.get("sludge_signs") or ())
    if not signs:
        return
    overdue = _intervals(sheet, case)
    names = sorted(signs)
    place = (used(sheet, "sludge_signs", ", ".join(names)),)
    cut = sheet.get("filter_cut_open")
    grade: Grade = "clean"
    if "pickup_screen_blocked" in signs:
        grade, band, text = "stop", "screen_blocked", "pick-up screen blocked"
    elif "hard_sludge" in signs:
        grade, band, text = "fix_first", "hard_sludge", "hard sludge"
    elif "dark_varnish" in signs and overdue is not None and overdue >= _LONG_OVERDUE:
        grade, band, text = (
            "fix_first",
            "varnish_overdue",
            "dark varnish, and the oil is more than twice its interval old",
        )
    elif "dark_varnish" in signs:
        grade, band, text = "watch", "", "dark varnish"
    elif "pickup_screen_clean" in signs:
        band, text = "screen_clean", "pick-up screen clean"
    elif signs == {"none"} and cut == "clean":
        band, text = "no_sign", "no sign of sludge at cap and in the filter"
    else:
        band, text = "", "no sign of sludge at the cap" if "none" in signs else "cream under the cap only"
    yield finding(
        "sludge",
        sheet,
        verdicts=seen(grade != "clean", grade),
        text=text,
        bands={band: 1.0} if band else {},
        readings=place,
    )
    if "cap_cream" in signs:
        yield _cream(sheet, case)


def _cream(sheet: Sheet, case: Case) -> Finding:
    """Cream under the cap is condensation where the coolant stays and the trips are short."""
    dry = case.vehicle.get("coolant_loss") is False and sheet.get("coolant_level_falling") is not True
    harmless = dry and case.vehicle.get("short_trips") is True
    return finding(
        "cap_cream",
        sheet,
        verdicts=seen(not harmless, "note"),
        text="cream under the cap: condensation of short trips" if harmless else "cream under the cap",
        bands={} if harmless else {"alone": 1.0},
        readings=(used(sheet, "sludge_signs", "cap_cream"),),
    )


def _intervals(sheet: Sheet, case: Case) -> float | None:
    """Return the age of the oil in intervals by distance; None where either is not known."""
    distance, interval = number(sheet.get("oil_distance")), number(case.vehicle.get("oil_change_distance"))
    return None if distance is None or not interval else distance / interval


def _noises(sheet: Sheet) -> Iterator[Finding]:
    noise = sheet.get("bearing_noise")
    if noise in (None, "unknown"):
        return
    grade = _NOISES.get(noise)
    changes = sheet.get("knock_changes_when_disabled") is True and noise in ("light_load_knock", "load_knock")
    text = "no knock from the crankcase" if grade is None else noise.replace("_", " ")
    if changes:
        text += ", changes as a cylinder is cut"
    yield finding(
        "knock",
        sheet,
        verdicts=seen(grade is not None, grade or "note"),
        text=text,
        bands={"changes": 1.0} if changes and noise == "load_knock" else {},
        names=(("crankshaft-bearing-clearance", None),) if noise == "load_knock" else (),
        readings=(used(sheet, "bearing_noise", noise),),
    )


def _filter(sheet: Sheet) -> Iterator[Finding | Ceiling]:
    found = sheet.get("filter_cut_open")
    if found in (None, "not_done"):
        return
    grade: Grade = "fix_first" if found == "flakes" else "watch"
    yield finding(
        "filter_cut",
        sheet,
        verdicts=seen(found != "clean", grade),
        text={"clean": "filter clean", "glitter": "glitter in the filter", "flakes": "bearing flakes in the filter"}[
            found
        ],
        bands={} if found == "glitter" else {found: 1.0},
        readings=(used(sheet, "filter_cut_open", found),),
    )
    if found == "flakes":
        # A sweep can be clear while one shell breaks up: only a look into the sump tells.
        yield Ceiling(
            "flakes",
            "torque",
            "as_received",
            "bearing flakes in the filter",
            until="sump-off-inspection",
            finding=(ID + "filter_cut", None, sheet.id),
        )


def _part(sheet: Sheet, field: str) -> Iterator[Finding]:
    found = sheet.get(field)
    rule, faults, sound = _PARTS[field]
    if found in (None, "not_checked"):
        return
    band, grade = faults.get(found, (sound, "note"))
    yield finding(
        rule,
        sheet,
        verdicts=seen(found in faults, grade),
        text=f"{field.removesuffix('_seen').replace('_', ' ')}: {found.replace('_', ' ')}",
        bands={band: 1.0},
        readings=(used(sheet, field, found),),
    )
