"""What the inventory itself tells: what is missing, in conflict, unlawful, and what the calibrator must be told."""

from __future__ import annotations

from math import ceil
from typing import TYPE_CHECKING, Final

from loadworthy.sdk import Advice, Coverage, Finding, Gap
from loadworthy_plugins.modifications.capacity_air import air_capacities
from loadworthy_plugins.modifications.entry import ID, ROW
from loadworthy_plugins.modifications.inventory import GONE, Inventory, Part, inventory
from loadworthy_plugins.modifications.parts import BY_ID, KINDS
from loadworthy_plugins.modifications.setting import Setting, agreed_fuel
from loadworthy_plugins.shared_results import seen

if TYPE_CHECKING:
    import datetime
    from collections.abc import Iterator, Mapping
    from typing import Any

    from loadworthy.sdk import Case, Demand, Limits, Result, Sheet

INTERVIEW, LOOK = "inventory-interview", "look-for-undeclared-parts"
_OPEN: Final = ("brakes", "tyres", "approval", "insurance")
CONVERTER: Final = "signal-converter-fitted"


def judge_inventory(
    case: Case, demand: Demand | None, limits: Limits, inferred: Mapping[str, float]
) -> Iterator[Result]:
    """Return all that follows from the inventory and from what rules infer."""
    report, conflict = (limits[ID + f"posterior_{name}"].number for name in ("report", "conflict"))
    found = inventory(case, inferred, report=report, conflict=conflict)
    if found.sheets:
        yield from _completeness(found, limits)
    yield from _parts(found, demand)
    if case.vehicle.get("engine_cycle") not in (None, "four_stroke"):
        # The demand and the formulas are those of four-stroke engines.
        demand = None
    s = Setting(case, demand, limits, found, agreed_fuel(case))
    yield from air_capacities(s)
    if found.sheets:
        from loadworthy_plugins.modifications.capacity import injector_capacities
        from loadworthy_plugins.modifications.capacity_pumps import pump_capacities

        yield from injector_capacities(s)
        yield from pump_capacities(s)


def _completeness(found: Inventory, limits: Limits) -> Iterator[Result]:
    limit = limits[ID + "completeness_min"]
    share = found.completeness
    complete = share >= limit.number
    text = f"{len(KINDS) - len(found.unknown)} of {len(KINDS)} kinds of part answered"
    if not complete:
        text = f"inventory incomplete: {text}"
    sheet = found.sheets[-1]
    # What nobody answered, however little, keeps the interview from clearing what was changed undeclared.
    verdicts = (limit.judge(share, 0.0), *seen(bool(found.unknown)))
    yield Finding(ID + "completeness", sheet.id, verdicts=verdicts, text=text)
    for kind in found.unknown:
        part = next(p for p in found.of(kind) if not p.answered)
        yield Gap(
            f"{ID}unknown@{part.name}",
            f"{BY_ID[kind].text}: nobody has said whether as made",
            section="modification",
            test=INTERVIEW,
            write=f'add "{kind}" to standard_kinds, or a table [[modification.part]] with part_kind = "{kind}"',
        )
    sheets = _needed(found, limit.number) if complete else tuple(s.id for s in found.sheets)
    yield Coverage(ROW, "met" if complete else "unknown", text, sheets)


def _needed(found: Inventory, least: float) -> tuple[str, ...]:
    """Return the sheet that decides how fresh the inventory is: on or after its day enough kinds were answered."""
    oldest: list[Sheet] = []
    for kind in KINDS:
        sheets = [p.sheet for p in found.of(kind) if p.answered and p.sheet is not None]
        if sheets:
            oldest.append(min(sheets, key=_day))
    oldest.sort(key=_day, reverse=True)
    enough = ceil(least * len(KINDS) - 1e-9)
    return (oldest[min(max(enough, 1), len(oldest)) - 1].id,)


def _day(sheet: Sheet) -> tuple[datetime.date, str]:
    return sheet.date, sheet.id


def _parts(found: Inventory, demand: Demand | None) -> Iterator[Result]:
    for part in found.parts:
        if part.status == "conflicting":
            yield from _conflict(part)
        elif part.answer == "modified":
            yield from _figures(part)
            yield from _aware(part)
            yield from _law(part)
        yield from _unlawful(part)
    water = [p for p in found.of("water_injection") if p.answer == "modified"]
    for part in water:
        yield from _water(part)
    raised = demand is not None and (
        demand.base is None or any(p > b for p, b in zip(demand.plan, demand.base, strict=True))
    )
    if found.sheets and (raised or found.modified):
        yield _open_items(found)


def _conflict(part: Part) -> Iterator[Result]:
    text = f"{BY_ID[part.kind].text}: {part.why}"
    for sheet in part.rivals:
        yield Finding(ID + "conflicting", sheet, part.name, verdicts=seen(True, "watch"), text=text)
    yield Gap(f"{ID}conflicting@{part.name}", text, section="modification", test=LOOK, write="look, and enter a sheet")


def missing(part: Part) -> tuple[str, ...]:
    """Return the figures that a part lacks, and the test conditions without which those given mean nothing."""
    kind, row = BY_ID[part.kind], part.row
    lack = [" or ".join(keys) for keys in kind.data if not any(row.get(key) is not None for key in keys)]
    for key, condition in kind.conditions:
        known = row.get(condition) not in (None, "unknown")
        if condition == "test_fluid":
            known = known or row.get("test_fluid_density") is not None
        if row.get(key) is not None and not known and not any(condition in words for words in lack):
            lack.append(condition)
    return tuple(lack)


def _figures(part: Part) -> Iterator[Result]:
    if BY_ID[part.kind].emission or part.kind == "signal_converter":
        return
    lack = missing(part)
    text = BY_ID[part.kind].text
    found = f"{text}: figures or test conditions missing: {', '.join(lack)}" if lack else f"{text}: figures complete"
    yield Finding(ID + "figures_missing", part.sheet_id, part.name, verdicts=seen(bool(lack)), text=found)
    state = "figures missing" if lack else "figures complete"
    tell = BY_ID[part.kind].tell or "that it is not as made"
    known = "the calibration knows it" if part.aware else "the calibration is not proven to know it"
    words = f"tell the calibrator of the {part.name} ({part.status}, {state}; {known}): {tell}"
    yield Advice(words, sheet=part.sheet_id)


def _aware(part: Part) -> Iterator[Result]:
    kind = BY_ID[part.kind]
    if not kind.tell or kind.emission or part.kind in ("signal_converter", "software"):
        return
    said = part.row.get("calibration_aware")
    if part.aware:
        words = "the calibration was changed for it, by record"
    elif said == "yes":
        words = "said to be in the calibration, without a record"
    elif said == "no":
        words = "the calibration does not know it: enter its data before load is raised"
    else:
        words = "not known whether the calibration knows it"
    yield Finding(
        ID + "calibration_unaware",
        part.sheet_id,
        part.name,
        verdicts=seen(not part.aware, "watch"),
        text=f"{kind.text}: {words}",
        names=() if part.aware else (("part-changed-undeclared", None),),
    )


def _unlawful(part: Part) -> Iterator[Result]:
    """Stop for emission control that is not as made and for a signal converter, by every sheet that says so.

    A later sheet without the fault stands beside it: the core keeps a fault that was neither repaired nor proven gone.
    """
    # A declared absence counts like a seen one: nobody says that of his own car without need. What readings alone
    # suggest does not: absence needs eyes.
    converter = part.kind == "signal_converter"
    if not (converter or BY_ID[part.kind].emission):
        return
    # Where two disagree on what is there, the paper may be that of the other part.
    approved = not converter and _approved(part.row) and part.status != "conflicting"
    found: dict[str, tuple[bool, bool]] = {}
    for entry in part.entries:
        gone = converter or entry.row.get("state") in GONE or not (approved or _approved(entry.row))
        fired, eyes = found.get(entry.sheet.id, (False, False))
        found[entry.sheet.id] = (fired or (entry.answer == "modified" and gone), eyes or entry.seen)
    if part.claimed:
        found[part.sheet_id] = (not approved, part.status == "seen")
    ever = any(fired for fired, _ in found.values())
    for sheet, (fired, eyes) in found.items():
        if fired or (sheet == part.sheet_id and part.claimed) or (ever and not (part.claimed and not approved)):
            # Only eyes see that it is there again.
            yield _stop(part, sheet, fired, clears=eyes or not ever)


def _approved(row: Mapping[str, Any]) -> bool:
    papers = row.get("documents") or ()
    return "part_approval" in papers and row.get("state") not in GONE and row.get("legal_flag") != "not_road_legal"


def _stop(part: Part, sheet: str, fired: bool, clears: bool) -> Finding:
    verdicts = seen(fired, "stop")
    if part.kind == "signal_converter":
        text = "signal converter fitted: no calibration on false readings; remove it, then repeat all logs"
        text = text if fired else "no signal converter is fitted any more"
        names = ((CONVERTER, None),) if fired else ()
        return Finding(
            ID + "signal_converter", sheet, part.name, verdicts=verdicts, text=text, names=names, clears=clears
        )
    text = f"{BY_ID[part.kind].text} not as made: no road calibration; restore it with an approved part before any"
    if not fired:
        text = f"{BY_ID[part.kind].text} as made, or replaced by an approved part"
    return Finding(ID + "emission_control", sheet, part.name, verdicts=verdicts, text=text, clears=clears)


def _law(part: Part) -> Iterator[Result]:
    flag = part.row.get("legal_flag")
    papers = part.row.get("documents") or ()
    if flag == "not_road_legal":
        grade, words = True, "not for the road: the law of the place and its inspectors decide"
    elif flag == "needs_approval" and "part_approval" not in papers:
        grade, words = False, "needs an approval that is not at hand"
    else:
        return
    yield Finding(
        ID + "road_law",
        part.sheet_id,
        part.name,
        verdicts=seen(True, "watch" if grade else "note"),
        text=f"{BY_ID[part.kind].text}: {words}",
        accept=grade,
    )


def _water(part: Part) -> Iterator[Result]:
    proven = part.row.get("flow_failsafe") == "proven"
    words = "counted only while flow is proven" if proven else "no failsafe proven by flow: none of it is counted"
    yield Finding(
        ID + "water_injection",
        part.sheet_id,
        part.name,
        verdicts=seen(not proven, "watch"),
        text=f"water injection: {words}; no ceiling of this register is raised by it",
    )


def _open_items(found: Inventory) -> Finding:
    settled = {item for sheet in found.sheets for item in sheet.get("settled") or ()}
    left = [item for item in _OPEN if item not in settled]
    text = f"to be settled for more power: {', '.join(left)}" if left else "brakes, tyres, approval, insurance settled"
    return Finding(ID + "open_items", found.sheets[-1].id, verdicts=seen(bool(left)), text=text)
