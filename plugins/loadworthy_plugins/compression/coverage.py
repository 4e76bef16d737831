"""What the case holds of the required evidence, what it lacks, and what to do next."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.sdk import Advice, Coverage, Finding, Gap
from loadworthy_plugins.compression.conditions import Conditions, speeds
from loadworthy_plugins.compression.dry import zeroed
from loadworthy_plugins.compression.results import ID, names
from loadworthy_plugins.compression.rules_balance import clears_on_balance
from loadworthy_plugins.compression.rules_trace import firing_order
from loadworthy_plugins.compression.wet import MOST_OIL_SHARE
from loadworthy_plugins.shared_results import number

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from loadworthy.sdk import Result
    from loadworthy_plugins.compression.dry import DrySet
    from loadworthy_plugins.compression.leak import LeakSet
    from loadworthy_plugins.compression.session import Session

#: Oil never lowers a reading: more than this share below the dry one is a mistake (judgement).
_WET_BELOW_DRY = 0.03
#: Rules whose stop means that the engine is not to be loaded at all, not even lightly.
_NO_LOAD = frozenset({ID + "escape_coolant", ID + "escape_neighbour", ID + "borescope"})


def coverage(session: Session) -> Iterator[Coverage]:
    """Answer the rows of dry compression and leak-down."""
    yield _row("compression", [(dry.sheet.id, _dry_lacks(dry, session)) for dry in session.dry], session)
    yield _row("leak_down", [(leak.sheet.id, _leak_lacks(leak)) for leak in session.leaks], session)


def _row(row: str, found: list[tuple[str, str]], session: Session) -> Coverage:
    engine = session.engine
    if not engine.covered:
        return Coverage(row, "unknown", "rotary and two-stroke engines are not covered by this check")
    good = tuple(sheet for sheet, lacks in found if not lacks)
    if good:
        return Coverage(row, "met", "", good)
    if not found:
        taken = any(True for _ in session.case.of(row))
        if taken and engine.cylinders is None:
            return Coverage(row, "unknown", "the number of cylinders is not known")
        return Coverage(row, "unknown" if taken else "absent", "no sheet with readings")
    sheet, lacks = found[-1]
    return Coverage(row, "unknown", lacks, (sheet,))


def _dry_lacks(dry: DrySet, session: Session) -> str:
    """Return why a session of dry readings does not settle every cylinder; empty where it does."""
    if dry.missing:
        return f"no reading of cylinder {names(dry.missing)}"
    refused = [p.refused for p in dry.places if p.refused]
    if refused:
        return refused[0]
    if any(not p.low and not p.high for p in dry.places):
        return clears_on_balance(dry, session.limits)
    return "" if dry.comparable else dry.conditions.words or "the readings are not comparable"


def _leak_lacks(leak: LeakSet) -> str:
    if leak.missing:
        return f"cylinder {names(leak.missing)} not measured"
    if not leak.jet.known:
        return "the tester's jet is not known"
    if not leak.conditions.clear:
        return leak.conditions.words
    if any(p.lost is None and not p.unresolved for p in leak.places):
        return "the displacement of the engine is not known" if leak.stroke is None else "supply pressure not known"
    return next((p.refused for p in leak.places if p.refused), "")


def gaps(session: Session) -> Iterator[Gap | Advice]:
    """Say what the latest sheets lack, and what would settle them."""
    if session.engine.cylinders is None and any(True for _ in session.case.of("compression", "leak_down")):
        yield Gap(
            ID + "cylinder_count",
            "the number of cylinders is not known: no reading can be judged",
            section="compression",
            write="vehicle.cylinder_count = 4",
        )
    yield from _strays(session)
    yield from _contradicting_facts(session)
    yield from _banks(session)
    if session.dry:
        yield from _dry_gaps(session.dry[-1], session)
    if session.leaks:
        leak = session.leaks[-1]
        yield from _conditions(leak.conditions, "leak_down", "leak-down")
        if not leak.jet.known:
            yield Gap(
                ID + "leak_jet",
                "the tester's jet is not known: state its bore, or fit a known 1.00 mm jet in place of the cylinder",
                section="leak_down",
                test="leak-down",
                write='leak_orifice_diameter = "1.0 mm"',
            )
        held = leak.sheet.get("leak_tdc_held")
        if held is not True and session.engine.word("gearbox_type") not in ("", "manual"):
            yield Advice(
                "this kind of gearbox does not hold the crank: use the maker's locking tool at top dead centre",
                test="leak-down",
                sheet=leak.sheet.id,
            )
        if not all(p.listened for p in leak.places):
            yield Advice("listen where the air goes, at every cylinder", test="leak-down", sheet=leak.sheet.id)


def _strays(session: Session) -> Iterator[Advice]:
    """Say where a sheet names a cylinder that the engine does not have."""
    count = session.engine.cylinders
    for sheet in session.case.of("compression", "leak_down"):
        named = {*(sheet.get("dry_reading") or ()), *(sheet.get("leak_cylinder") or ())}
        strays = sorted(n for n in map(int, filter(str.isdigit, named)) if not 1 <= n <= (count or n))
        if strays:
            yield Advice(f"cylinder {names(strays)} named, but the engine has {count}: not judged", sheet=sheet.id)
        for word in sorted(name for name in named if not name.isdigit()):
            yield Advice(f"cylinder {word} named, but cylinders go by number: not judged", sheet=sheet.id)


def _banks(session: Session) -> Iterator[Gap]:
    """Say that banks do not fit the engine: neighbours are then not known, and no pair is suspected."""
    count = session.engine.cylinders
    if count and session.case.vehicle.get("cylinder_banks") and not session.engine.banks:
        yield Gap(
            ID + "cylinder_banks",
            f"cylinder_banks does not name each of the {count} cylinders once: pairs and banks are not judged",
            write="vehicle.cylinder_banks with every cylinder once, in physical order",
        )


def _contradicting_facts(session: Session) -> Iterator[Advice]:
    """Say which facts of the vehicle were not used because they cannot be."""
    engine = session.engine
    rod, stroke = engine.value("rod_length"), engine.value("stroke")
    if rod is not None and stroke is not None and rod <= stroke / 2.0 + abs(engine.value("pin_offset") or 0.0):
        yield Advice("connecting rod no longer than the crank throw: rod length not used, check it")
    if engine.values.get("firing_order") and engine.cylinders is not None and not firing_order(engine):
        yield Advice("the firing order does not name every cylinder once: not used, check it")


def _conditions(found: Conditions, section: str, test: str) -> Iterator[Gap]:
    if not found.clear:
        yield Gap(ID + f"{section}_conditions", f"the test clears nothing: {found.words}", section=section, test=test)


def _dry_gaps(dry: DrySet, session: Session) -> Iterator[Gap | Advice]:
    yield from _conditions(dry.conditions, "compression", "dry-compression")
    for cylinder in dry.missing:
        yield Gap(
            ID + "missing_reading",
            f"no reading of cylinder {cylinder}",
            section="compression",
            test="dry-compression",
            subject=dry.engine.subject(cylinder),
        )
    if (dry.drift is not None and dry.drift.drifting) or not dry.repeats.comparable:
        yield Gap(
            ID + "repeat_set",
            "readings drift or scatter: measure the set again",
            section="compression",
            test="dry-compression",
        )
    if dry.copied:
        yield Advice("all readings are identical: measure one again", test="dry-compression", sheet=dry.sheet.id)
    known = dry.known.spec_min is not None or dry.sound_value is not None
    if not known:
        needed = bool(clears_on_balance(dry, session.limits))
        text = "maker's minimum compression" + ("" if needed else " to compare with")
        yield Gap(ID + "maker_minimum", text, section="compression", write='compression_spec_min = "11 bar"')
    elif dry.engine.flag("motor_generator_start") and dry.known.record is None:
        yield Gap(ID + "own_record", "an earlier sound session of this engine", section="compression")
    for n in dry.low:
        subject = dry.engine.subject(n)
        if session.leak_of(dry) is None:
            yield Advice("low cylinder: leak-down tells where the air goes", subject, "leak-down", dry.sheet.id)
    yield from _cranking(dry)
    yield from _oil(dry)
    if not dry.pairs:
        yield Advice("measure the first cylinder again at the end", test="dry-compression", sheet=dry.sheet.id)


def _cranking(dry: DrySet) -> Iterator[Advice]:
    """Say where the engine was cranked otherwise than the maker's figures ask, or with plugs left in."""
    asked, found = dry.engine.value("compression_spec_cranking_speed"), speeds(dry.sheet)
    if asked is not None and found and min(found) < 0.9 * asked:
        text = (
            f"cranked at {60.0 * min(found):.0f} rpm, the maker's figures are for {60.0 * asked:.0f} rpm: reads lower"
        )
        yield Advice(text, test="dry-compression", sheet=dry.sheet.id)
    if dry.sheet.get("plugs_removed") == "one":
        yield Advice("take all plugs out: cranks faster, reads higher", test="dry-compression", sheet=dry.sheet.id)


def _oil(dry: DrySet) -> Iterator[Advice]:
    """Say where the wet test had more oil than the rise allows for, or reads below the dry one."""
    oil, cylinder = number(dry.sheet.get("oil_volume")), dry.engine.leaking
    if oil is not None and cylinder is not None and oil > MOST_OIL_SHARE * cylinder.displacement * (1.0 + 1e-9):
        text = f"more oil than {100.0 * MOST_OIL_SHARE:.0f} % of the cylinder: its volume alone raises the reading"
        yield Advice(text, test="wet-compression", sheet=dry.sheet.id)
    for n, wet in zeroed(dry.sheet, "wet_reading").items():
        place = dry.place(n)
        if place is not None and wet < (1.0 - _WET_BELOW_DRY) * place.reading:
            text = "wet reading below the dry one: readings mixed up, or the battery has fallen"
            yield Advice(text, dry.engine.subject(n), "wet-compression", dry.sheet.id)


def margin(results: Iterable[Result], session: Session) -> Iterator[Advice]:
    """Ask for a retest after the first loaded drive where a cylinder is only to be watched; bar any load where it leaks
    into coolant or a neighbour, or holds liquid.
    """
    latest = {one[-1].sheet.id for one in (session.dry, session.leaks) if one}
    found = [r for r in results if isinstance(r, Finding) and r.sheet in latest and not r.unknown and r.subject]
    stopped = {one.subject for one in found if _grade(one) == "stop"}
    for one in found:
        if one.rule in _NO_LOAD and _grade(one) == "stop":
            yield Advice("no loaded running at all until this is repaired", one.subject, "", one.sheet)
        elif one.rule == ID + "pair_low" and _grade(one) and _of_pair(one.subject) & stopped:
            yield Advice("neighbours low: no loaded running at all until this is repaired", one.subject, "", one.sheet)
        elif _grade(one) == "watch":
            yield Advice(
                "watch: measure again after the first loaded drive, and log the knock of this cylinder",
                one.subject,
                "dry-compression",
                one.sheet,
            )


def _grade(one: Finding) -> str:
    """Return the sharpest grade of a finding that is more likely than not; empty for none."""
    order = ("note", "watch", "fix_first", "stop")
    return max((v.grade for v in one.verdicts if v.p_beyond >= 0.5), key=order.index, default="")


def _of_pair(subject: str | None) -> set[str | None]:
    """Return the cylinders of a pair's subject id."""
    return {f"cylinder {n}" for n in (subject or "").removeprefix("cylinders ").split("+")}
