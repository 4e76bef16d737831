"""Rules on what is in the oil that does not belong there, and on what its additives have left."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.sdk import Verdict, evolve
from loadworthy_plugins.oil_system.results import ID, finding, most, verdicts
from loadworthy_plugins.shared_fields import DIESEL_FUELS
from loadworthy_plugins.shared_results import bands, percent, seen, step, used

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from loadworthy.sdk import Case, Finding, Grade, Limits, Reading, Result, Sheet, Used

COOLANT, OVERDUE = "coolant-in-oil", "oil-overdue-or-degraded"
_STEPS = ("watch", "fix", "stop")
#: Fuel below this share of the watch limit clears (judgement).
_HALF = 0.5
#: Copper above this share of its table figure goes with sodium and potassium of coolant (judgement).
_COPPER = 0.5
#: Water below this speaks, with no glycol and no trace, against coolant, as a mass share (a
#: lubricant maker's handbook, 2004).
_DRY = 0.001


def sample_rules(case: Case, limits: Limits) -> Iterator[Result]:
    """Judge contamination and additive reserve of every sample."""
    for sheet in case.of("oil_sample"):
        yield from _fuel(sheet, case, limits)
        yield from _water(sheet, limits)
        yield from _coolant(sheet, limits)
        yield from _soot(sheet, case, limits)
        yield from _tbn(sheet, limits)
        yield from _tan(sheet, limits)
        yield from _reserve(sheet, case, limits)


def _lacks_u(rule: str, sheet: Sheet, field: str, reading: Reading) -> Finding:
    return finding(
        rule,
        sheet,
        unknown="uncertainty of the reading not known",
        readings=(used(sheet, field, reading.value, None, "1"),),
    )


def _fuel(sheet: Sheet, case: Case, limits: Limits) -> Iterator[Finding]:
    reading = sheet.reading("fuel_dilution")
    if reading is None:
        return
    if reading.u is None:
        yield _lacks_u("fuel", sheet, "fuel_dilution", reading)
        return
    fuel = case.vehicle.get("fuel")
    # Petrol has the lower limits: an unknown fuel is held to them.
    kind = "diesel" if fuel in DIESEL_FUELS else "petrol"
    found = verdicts(limits, [f"fuel_{kind}_{name}" for name in _STEPS], reading.value, reading.u)
    method = sheet.get("fuel_method")
    sure = method == "gas_chromatography"
    estimate = method in (None, "viscosity_estimate")
    over = most(found)
    half = _HALF * limits[f"{ID}fuel_{kind}_watch"].number
    low = _share_below(limits, f"fuel_{kind}_watch", half, reading)
    text = f"{percent(reading.value, 1)} fuel in the oil" + (
        f", by {method.replace('_', ' ')}" if method else ", method not given"
    )
    if estimate:
        text += ": up to this, or sheared polymer; gas chromatography would tell"
    yield finding(
        "fuel",
        sheet,
        verdicts=found,
        text=text,
        bands=bands(
            over=over if sure else 0.0,
            over_other_method=over if not sure and not estimate else 0.0,
            low=min(low, 1.0 - over) if sure else 0.0,
        ),
        max_grade="watch" if estimate else None,
        clears=sure and not reading.refused,
        readings=(used(sheet, "fuel_dilution", reading.value, reading.u, "1"),),
    )


def _share_below(limits: Limits, name: str, value: float, reading: Reading) -> float:
    """Return the probability that a reading lies below a value, in the scale of an upper limit."""
    return 1.0 - evolve(limits[ID + name], value=value).judge(reading.value, reading.u or 0.0).p_beyond


def _water(sheet: Sheet, limits: Limits) -> Iterator[Finding]:
    reading = sheet.reading("water")
    if reading is None:
        return
    if reading.u is None:
        yield _lacks_u("water", sheet, "water", reading)
        return
    yield finding(
        "water",
        sheet,
        verdicts=verdicts(limits, [f"water_{name}" for name in _STEPS], reading.value, reading.u),
        text=f"{percent(reading.value, 2)} water in the oil",
        clears=not reading.refused,
        readings=(used(sheet, "water", reading.value, reading.u, "1"),),
    )


def rise(sheet: Sheet, symbol: str) -> tuple[float, float] | None:
    """Return an element's rise over the fresh oil and its standard uncertainty; None where either is missing."""
    worn, fresh = metal(sheet, "metals", symbol), metal(sheet, "fresh_metals", symbol)
    if worn is None or fresh is None:
        return None
    return worn.value - fresh.value, ((worn.u or 0.0) ** 2 + (fresh.u or 0.0) ** 2) ** 0.5


def metal(sheet: Sheet, field: str, symbol: str) -> Reading | None:
    """Return the reading of an element of the used or the fresh oil."""
    found = (sheet.get(field) or {}).get(symbol)
    return found if found is not None and found.u is not None else None


def _coolant(sheet: Sheet, limits: Limits) -> Iterator[Finding]:
    glycol = sheet.get("glycol")
    traces = {symbol: rise(sheet, symbol) for symbol in ("na", "k")}
    copper = rise(sheet, "cu")
    found: list[Verdict] = []
    for symbol, name in (("na", "sodium"), ("k", "potassium")):
        trace = traces[symbol]
        if trace is not None:
            found.append(limits[f"{ID}coolant_trace_{name}"].judge(*trace))
    if found:
        yield finding(
            "coolant_trace",
            sheet,
            verdicts=tuple(found),
            text="sodium and potassium over the fresh oil",
            clears=len(found) == 2,
            readings=_elements(sheet, ("na", "k")),
        )
    both_up = len(found) == 2 and all(one.p_beyond >= 0.5 for one in found)
    metals = both_up and copper is not None and copper[0] > _COPPER * limits[f"{ID}cu_absolute"].number
    water = sheet.reading("water")
    dry = water is not None and water.u is not None and water.value + water.u < _DRY
    clean = glycol is False and dry and len(found) == 2 and all(one.p_beyond < 0.05 for one in found)
    if glycol is None and not found:
        return
    band = "glycol" if glycol else "metals" if metals else "none" if clean else ""
    grade: Grade = "stop" if glycol else "watch"
    limit = limits[f"{ID}glycol"]
    yield finding(
        "coolant",
        sheet,
        verdicts=(Verdict(grade, float(bool(glycol) or metals), limit.id, limit.value, limit.kind, limit.origin),),
        text={
            "glycol": "glycol in the oil: no load until it is mended, flushed and the bearings are inspected",
            "metals": "sodium, potassium and copper up together",
            "none": "no glycol, sodium and potassium as in fresh oil, dry",
            "": "nothing certain about coolant",
        }[band],
        bands={band: 1.0} if band else {},
        names=((COOLANT, None),) if glycol else (),
        clears=clean,
        readings=(used(sheet, "glycol", str(glycol).lower()), *_elements(sheet, ("na", "k", "cu"))),
    )


def _elements(sheet: Sheet, symbols: Sequence[str]) -> tuple[Used, ...]:
    out = []
    for field in ("metals", "fresh_metals"):
        for symbol in symbols:
            one = metal(sheet, field, symbol)
            if one is not None:
                out.append(used(sheet, field, one.value, one.u, "1", symbol))
    return tuple(out)


def _soot(sheet: Sheet, case: Case, limits: Limits) -> Iterator[Finding]:
    reading = sheet.reading("soot")
    if reading is None:
        return
    if reading.u is None:
        yield _lacks_u("soot", sheet, "soot", reading)
        return
    found = soot_verdicts(case, limits, reading)
    yield finding(
        "soot",
        sheet,
        verdicts=found,
        text=f"{percent(reading.value, 1)} soot in the oil",
        names=_named(found),
        clears=not reading.refused,
        readings=(used(sheet, "soot", reading.value, reading.u, "1"),),
    )


def soot_verdicts(case: Case, limits: Limits, reading: Reading) -> tuple[Verdict, ...]:
    """Return soot against the limits of the fuel: petrol has lower ones, and an unknown fuel is held to them."""
    diesel = case.vehicle.get("fuel") in DIESEL_FUELS
    names = [f"soot_{name}" for name in _STEPS] if diesel else ["soot_direct_watch", "soot_direct_fix"]
    return verdicts(limits, names, reading.value, reading.u or 0.0)


def _named(found: Sequence[Verdict]) -> tuple[tuple[str, None], ...]:
    """Name the worn out oil as the cause where a state calls for a change."""
    due = any(one.p_beyond >= 0.5 and one.grade in ("fix_first", "stop") for one in found)
    return ((OVERDUE, None),) if due else ()


def _tbn(sheet: Sheet, limits: Limits) -> Iterator[Finding]:
    now, new = sheet.reading("tbn"), sheet.reading("tbn_new")
    if now is None:
        return
    readings = (used(sheet, "tbn", now.value, now.u, "kg/kg"),)
    if new is None or new.value <= 0.0 or now.u is None or new.u is None:
        yield finding("tbn", sheet, unknown="base number of the fresh oil not known", readings=readings)
        return
    if sheet.get("tbn_same_method") is False:
        yield finding("tbn", sheet, unknown="base numbers of two methods cannot be compared", readings=readings)
        return
    loss = 1.0 - now.value / new.value
    u = (1.0 - loss) * ((now.u / max(now.value, now.u)) ** 2 + (new.u / new.value) ** 2) ** 0.5
    found = verdicts(limits, [f"tbn_loss_{name}" for name in _STEPS], loss, u)
    yield finding(
        "tbn",
        sheet,
        verdicts=found,
        text=f"{percent(loss)} of the base number lost",
        names=_named(found),
        clears=sheet.get("tbn_same_method") is True and not (now.refused or new.refused),
        readings=(*readings, used(sheet, "tbn_new", new.value, new.u, "kg/kg")),
        steps=step("share lost", loss, "1", "1 - used / fresh"),
    )


def _tan(sheet: Sheet, limits: Limits) -> Iterator[Finding]:
    acid, new, base = sheet.reading("tan"), sheet.reading("tan_new"), sheet.reading("tbn")
    if acid is None:
        return
    readings = (used(sheet, "tan", acid.value, acid.u, "kg/kg"),)
    if acid.u is None:
        yield _lacks_u("tan", sheet, "tan", acid)
        return
    found = []
    if new is not None and new.u is not None:
        found.append(limits[f"{ID}tan_rise"].judge(acid.value - new.value, (acid.u**2 + new.u**2) ** 0.5))
    if base is not None and base.u is not None:
        limit = limits[f"{ID}tan_over_tbn"]
        crossed = seen(acid.value > base.value, "watch")[0]
        found.append(crossed._replace(limit=limit.id, value=limit.value, unit=limit.kind))
    if not found:
        yield finding("tan", sheet, unknown="neither the fresh oil's acid number nor a base number", readings=readings)
        return
    yield finding("tan", sheet, verdicts=tuple(found), text="acid number", clears=not acid.refused, readings=readings)


def _reserve(sheet: Sheet, case: Case, limits: Limits) -> Iterator[Finding]:
    """Clear the oil's condition where base number, acid number and soot were all measured and are all inside."""
    parts = (*_tbn(sheet, limits), *_tan(sheet, limits), *_soot(sheet, case, limits))
    if len(parts) < 3 or any(one.unknown or not one.clears for one in parts):
        return
    p = max(most(one.verdicts) for one in parts)
    yield finding(
        "reserve",
        sheet,
        verdicts=(Verdict("note", p),),
        text="base number, acid number and soot inside",
        bands=bands(inside=1.0 - p),
    )
