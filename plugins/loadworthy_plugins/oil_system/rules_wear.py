"""Rules on wear metals: rates where distance, top-up and fresh oil are known, else the table of plain contents."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.sdk import NamedTuple, Verdict, evolve, format_value, p_above
from loadworthy_plugins.oil_system.limits_sample import WEAR
from loadworthy_plugins.oil_system.results import ID, finding, most
from loadworthy_plugins.oil_system.rules_sample import metal
from loadworthy_plugins.oil_system.wear import LEAST_DISTANCE, RESIDUE, wear_rate
from loadworthy_plugins.shared_results import bands, number, step, used

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from loadworthy.sdk import Case, Finding, Limits, Sheet, Used

#: Below this share of its watch rate a metal is noise: a double of nothing is no sign (judgement).
_NOISE = 0.5
#: A sealing repair counts for this long where distances do not tell, days (judgement).
_SEALED_FOR = 365
#: Twice the rate is usual for this long after a rebuild, m.
_BEDDING, _BEDDING_FACTOR = 5e6, 2.0
#: A copper cooler gives copper for this distance of the vehicle, m (common practice, no source).
_PASSIVATION = 20e6
BEARING = ("pb", "sn", "cu")


class Made(NamedTuple):
    """A metal made per distance (1/m) with its standard uncertainty. ``complete``: distance, top-up and fresh oil
    known.

    ``rate`` None: no rate, only the content. ``earlier`` is the rate of the sample before, ``left_over`` what of its
    content stays at a change of oil at most: shown, and not taken off, or a bad last sample would clear this one.
    """

    symbol: str
    content: float
    u: float
    rate: float | None
    u_rate: float
    complete: bool
    negative: bool
    earlier: float | None
    left_over: float | None


def wear_rules(case: Case, limits: Limits) -> Iterator[Finding]:
    """Judge the metals of every sample."""
    earlier: dict[str, float] = {}
    before: dict[str, float] = {}
    for sheet in case.of("oil_sample"):
        made = {symbol: one for symbol in WEAR if (one := _made(sheet, symbol, earlier, before)) is not None}
        verdicts = {symbol: _verdicts(one, sheet, case, limits) for symbol, one in made.items()}
        for symbol, one in made.items():
            yield _finding(one, verdicts[symbol], sheet)
        if made:
            yield from _bearings(made, verdicts, sheet, case)
            yield from _dirt(made, verdicts, sheet, case, limits)
        earlier = {
            **earlier,
            **{symbol: one.rate for symbol, one in made.items() if one.rate is not None and one.complete},
        }
        before = {**before, **{symbol: one.content for symbol, one in made.items()}}


def _made(sheet: Sheet, symbol: str, earlier: dict[str, float], before: dict[str, float]) -> Made | None:
    worn = metal(sheet, "metals", symbol)
    if worn is None:
        return None
    fresh = metal(sheet, "fresh_metals", symbol)
    rise = worn.value - (fresh.value if fresh is not None else 0.0)
    u = ((worn.u or 0.0) ** 2 + (fresh.u or 0.0 if fresh is not None else 0.0) ** 2) ** 0.5
    distance, volume = number(sheet.get("oil_distance")), number(sheet.get("sump_oil_volume"))
    topup = number(sheet.get("oil_topup"))
    rate = u_rate = None
    known = topup is not None and volume is not None and volume > 0.0
    if distance is not None and distance >= LEAST_DISTANCE:
        factor = wear_rate(1.0, distance, volume or 1.0, (topup or 0.0) if known else 0.0)
        rate, u_rate = max(0.0, rise) * factor, u * factor
    complete = rate is not None and known and fresh is not None and sheet.get("sample_taken") == "hot_mid_stream"
    negative = fresh is not None and rise < -2.0 * u
    return Made(
        symbol=symbol,
        content=worn.value,
        u=worn.u or 0.0,
        rate=rate,
        u_rate=u_rate or 0.0,
        complete=complete,
        negative=negative,
        earlier=earlier.get(symbol),
        left_over=RESIDUE * before[symbol] if symbol in before else None,
    )


def _verdicts(one: Made, sheet: Sheet, case: Case, limits: Limits) -> tuple[Verdict, ...]:
    found: list[Verdict] = []
    if one.rate is not None:
        factor = _BEDDING_FACTOR if _bedding_in(sheet, case) else 1.0
        for name in ("watch", "fix"):
            limit = limits[f"{ID}{one.symbol}_rate_{name}"]
            found.append(evolve(limit, value=limit.number * factor).judge(one.rate, one.u_rate))
        if one.earlier is not None and one.earlier > 0.0:
            factor_limit = limits[ID + "metal_history_factor"]
            if one.rate >= _NOISE * limits[f"{ID}{one.symbol}_rate_watch"].number:
                found.append(factor_limit.judge(one.rate / one.earlier, one.u_rate / one.earlier))
        return tuple(found)
    block = one.symbol == "al" and case.vehicle.get("aluminium_block") is True
    name = "al_absolute_block" if block else f"{one.symbol}_absolute"
    return (limits[ID + name].judge(one.content, one.u),)


def _bedding_in(sheet: Sheet, case: Case) -> bool:
    """Tell whether the engine was rebuilt less than 5 000 km before a sample."""
    if case.vehicle.get("run_in_complete") is False:
        return True
    rebuilt = [
        e.odometer for e in case.events if e.kind == "rebuild" and e.date <= sheet.date and e.odometer is not None
    ]
    return sheet.odometer is not None and any(0.0 <= sheet.odometer - at < _BEDDING for at in rebuilt)


def _readings(sheet: Sheet, symbol: str) -> tuple[Used, ...]:
    return tuple(
        used(sheet, field, one.value, one.u, "1", symbol)
        for field in ("metals", "fresh_metals")
        if (one := metal(sheet, field, symbol)) is not None
    )


def _finding(one: Made, verdicts: Sequence[Verdict], sheet: Sheet) -> Finding:
    name = WEAR[one.symbol][0]
    if one.rate is None and most(verdicts) < 0.5:
        return finding(
            f"wear_{one.symbol}",
            sheet,
            unknown="no rate: distance on the oil unknown or below 1 500 km; sample again",
            readings=_readings(sheet, one.symbol),
        )
    if one.rate is not None:
        words = f"{name} {format_value(one.rate, 'trace_distance', digits=2)}"
    else:
        words = f"{name} {format_value(one.content, 'share_trace', digits=2)} in the used oil"
    if one.rate is not None and not one.complete:
        words += ", a bound: top-up, fresh oil or way of sampling not known"
    if one.negative:
        words += "; less than in the fresh oil: doubt the baseline"
    return finding(
        f"wear_{one.symbol}",
        sheet,
        verdicts=tuple(verdicts),
        text=words,
        clears=one.complete and not one.negative,
        readings=_readings(sheet, one.symbol),
        steps=(
            *step("made per distance", one.rate, "1/m", "c (u/V) / (1 - exp(-u d/V))"),
            *step("as in the sample before", one.earlier, "1/m"),
            *step("left of the oil before, at most", one.left_over, "1", "a tenth of the content then"),
        ),
    )


def _bearings(
    made: dict[str, Made], verdicts: dict[str, tuple[Verdict, ...]], sheet: Sheet, case: Case
) -> Iterator[Finding]:
    """Twice the limit, or twice the sample before, of a bearing metal; all normal clears a little."""
    twice = 0.0
    for symbol in BEARING:
        one = made.get(symbol)
        if one is None or one.rate is None or (symbol == "cu" and _passivation(made, sheet, case)):
            continue
        limit = 2.0 * WEAR[symbol][2] * 1e-12
        p = p_above(one.rate, one.u_rate, limit)
        history = [v.p_beyond for v in verdicts[symbol] if v.limit == ID + "metal_history_factor"]
        twice = max(twice, p, *history)
    normal = 0.0
    if len(made) == len(WEAR) and all(one.complete and not one.negative for one in made.values()):
        normal = 1.0 - max(most(found) for found in verdicts.values())
    copper = made.get("cu")
    note = "; copper of a new copper cooler" if copper is not None and _passivation(made, sheet, case) else ""
    yield finding(
        "bearing_metals",
        sheet,
        verdicts=(Verdict("watch", twice),),
        text=("" if twice >= 0.5 else "no ") + "bearing metal at twice its limit or twice its own history" + note,
        bands=bands(twice=twice, normal=min(normal, 1.0 - twice)),
        clears=normal > 0.0,
    )


def _passivation(made: dict[str, Made], sheet: Sheet, case: Case) -> bool:
    """Copper alone, in a young vehicle with a copper oil cooler, is the cooler's."""
    young = sheet.odometer is not None and sheet.odometer < _PASSIVATION
    others = [made[s] for s in ("pb", "sn") if s in made]
    quiet = len(others) == 2 and all(o.rate is not None and o.rate < WEAR[o.symbol][2] * 1e-12 for o in others)
    return young and quiet and case.vehicle.get("oil_cooler_copper") is True


def _dirt(
    made: dict[str, Made], verdicts: dict[str, tuple[Verdict, ...]], sheet: Sheet, case: Case, limits: Limits
) -> Iterator[Finding]:
    """Silicon with aluminium and iron is dirt; silicon alone mostly sealant or additive. It never excuses iron."""
    si, al, fe = made.get("si"), made.get("al"), made.get("fe")
    if si is None or fe is None:
        return
    high_si, high_fe = most(verdicts["si"]), most(verdicts["fe"])
    ratio = si.content / al.content if al is not None and al.content > 0.0 else None
    low, high = limits[ID + "dirt_ratio_low"].number, limits[ID + "dirt_ratio_high"].number
    like_dirt = ratio is not None and low <= ratio <= high and high_fe >= 0.5 and high_si >= 0.05
    alone = high_si >= 0.5 and high_fe < 0.05 and _sealed(sheet, case)
    complete = si.complete and fe.complete
    normal = complete and high_si < 0.05 and high_fe < 0.05
    if like_dirt:
        text, band = "silicon, aluminium and iron as of dirt", {"dirt": high_fe}
    elif alone:
        text, band = "silicon alone, and the engine was sealed since the change", {"silicon_alone": 1.0}
    elif normal:
        text, band = "silicon and iron normal", {"normal": 1.0 - max(high_si, high_fe)}
    else:
        text, band = "silicon and iron tell nothing certain about dirt", {}
    yield finding(
        "dirt",
        sheet,
        verdicts=(Verdict("fix_first", high_fe if like_dirt else 0.0),),
        text=text,
        bands=band,
        clears=normal or alone,
        readings=(*_readings(sheet, "si"), *_readings(sheet, "al"), *_readings(sheet, "fe")),
        steps=step("silicon over aluminium", ratio, "1"),
    )


def _sealed(sheet: Sheet, case: Case) -> bool:
    """Tell whether the engine was opened and sealed since the oil change, as far as distance on the oil tells."""
    distance = number(sheet.get("oil_distance"))
    for repair in case.repairs:
        if repair.date > sheet.date:
            continue
        if sheet.odometer is None or repair.odometer is None or distance is None:
            if (sheet.date - repair.date).days <= _SEALED_FOR:
                return True
        elif sheet.odometer - repair.odometer <= distance:
            return True
    return False
