"""Trims, volumetric efficiency, cross-balance and fuel pressure: what one wrong constant would explain, and what not.

These rules share air and fuel flow. Of the two that read the air meter, and of the two that read fuel, at most one
speaks for a cause: trims and the rail's flow never count twice for the injectors' size.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from loadworthy.sdk import Advice, NamedTuple, Used, Verdict, p_above, p_below
from loadworthy_plugins.modifications.entry import ID
from loadworthy_plugins.modifications.explaining import candidates, separating_test
from loadworthy_plugins.modifications.fuel import (
    balance_limit,
    balances_of,
    ethanol_agrees,
    fuel_ratio,
    pressure_on_set,
)
from loadworthy_plugins.modifications.rule_table import INJECTOR, RULES
from loadworthy_plugins.modifications.run import (
    banks_of,
    factors_of,
    finding,
    most_trusted,
    show,
    standard_calibration,
    subject_of,
    trim_conditions,
    trims_of,
    within,
)
from loadworthy_plugins.modifications.shapes import Air, air_of, together
from loadworthy_plugins.shared_results import bands, step

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from loadworthy.sdk import Finding, Result
    from loadworthy_plugins.modifications.run import Run, Trim
    from loadworthy_plugins.modifications.shapes import Trims

#: Voltages this far apart show a dead time that is wrong, V (judgement).
TWO_VOLTAGES: Final = 1.0
#: No one cause takes away more fuel than this: below it nothing is solved for (judgement).
FARTHEST_TRIM: Final = -0.9
#: Banks are taken for one from this probability that they agree.
ALIKE: Final = 0.95
#: Full-load points below this share of rated speed say nothing of what the engine can breathe.
FROM_RATED: Final = 0.6
#: The likelihood ratio of each rule's bands, by local name.
TABLE: Final = {rule.name: rule.bands for rule in RULES}


def mixture_rules(run: Run) -> Iterator[Result]:
    """Judge everything that rests on air and fuel flow, fuel composition before fuel pressure."""
    trims, air = together(run), air_of(run)
    yield from _trims(run)
    yield from _ve(run)
    yield from _ve_constant(run, air)
    yield from _meter_trend(run, trims, air)
    yield from _fuel_set(run)
    yield from _balance(run)
    size, rail = _uniform(run, trims, air), _rail(run)
    yield from _uniform_trim(run, trims, air, size, rail)
    yield from _rail_flow(run, size, rail)
    yield from _dead_time(run)
    yield from _documented(run, air, rail)


# Trims ----------------------------------------------------------------------------------------------------------------


def _trims(run: Run) -> Iterator[Finding]:
    """Judge every bank by its worst region; banks are never averaged here."""
    if run.diesel:
        return
    banks = banks_of(run)
    wrong, unknown = trim_conditions(run)
    written = any(row.get("trim_long") or row.get("trim_short") for row in run.rows)
    for bank in banks if written else ():
        subject = subject_of(bank, banks)
        found = trims_of(run, bank)
        if wrong:
            yield finding(run, "trim", subject, unknown=f"trims read under wrong conditions: {wrong}")
        elif found:
            yield _trim(run, subject, found, unknown)
        else:
            yield finding(run, "trim", subject, unknown="no trim of this bank in closed loop")


def _trim(run: Run, subject: str | None, found: Sequence[Trim], unknown: str) -> Finding:
    worst = max(found, key=lambda one: (abs(one.value), one.u, one.place))
    names = ("trim_watch", "trim_fix", *(("trim_retest",) if run.sheet.retest_of else ()))
    lacks = [f"{region} not read" for region in ("idle", "cruise") if all(one.region != region for one in found)]
    lacks += [f"not written: {unknown}"] if unknown else []
    text = "fuel trim " + ", ".join(f"{one.region} {100.0 * one.value:+.0f} %" for one in found)
    idle = max((one.value for one in found if one.region == "idle"), default=0.0)
    if idle - abs(found[-1].value) > run.limit("trim_uniform"):
        text += ": added at idle and fading with flow, an air leak behind the meter or a wrong dead time"
    return finding(
        run,
        "trim",
        subject,
        verdicts=tuple(run.limits[ID + name].judge(abs(worst.value), worst.u) for name in names),
        text=text + (f" ({'; '.join(lacks)})" if lacks else ""),
        clears=not lacks and not most_trusted([one.refused for one in found]),
        readings=tuple(Used(one.place, one.value, one.u, "1") for one in found),
    )


# Volumetric efficiency and the air meter ------------------------------------------------------------------------------


def _metered(run: Run) -> bool:
    return run.metering != "speed_density" and any(row.get("air_flow") is not None for row in run.rows)


def _ve(run: Run) -> Iterator[Finding]:
    if not _metered(run):
        return
    rated = run.fact("rated_speed")
    at_load = [one for one in factors_of(run) if one.region == "load"]
    if not at_load or run.why_scaled():
        why = (
            run.why_scaled() or "no full-load point with air flow, manifold pressure, charge temperature, displacement"
        )
        yield finding(run, "ve", unknown=why)
        return
    if rated is None:
        yield finding(run, "ve", unknown="speed of the standard peak power not known")
        return
    judged = [one for one in at_load if one.speed > FROM_RATED * rated.value]
    if not judged:
        yield finding(run, "ve", unknown="no full-load point above 60 % of rated speed")
        return
    limits = (run.limits[ID + "ve_low"], run.limits[ID + "ve_high"])
    verdicts = tuple(limit.judge(one.ve, one.u) for one in judged for limit in limits)
    yield finding(
        run,
        "ve",
        verdicts=verdicts,
        text="volumetric efficiency at full load "
        + ", ".join(f"{one.ve:.3f} at {60 * one.speed:.0f} rpm" for one in judged),
        clears=run.sensors_clean and bool(run.metering) and not most_trusted([one.refused for one in judged]),
        readings=tuple(Used(one.place, one.air, None, "kg/s") for one in judged),
    )


def _ve_constant(run: Run, air: Air | str) -> Iterator[Finding]:
    if not _metered(run):
        return
    if isinstance(air, str) or run.scaled is None:
        why = air if isinstance(air, str) else "pressure sensors not read at key-on: a false one looks the same"
        yield finding(run, "ve_constant", unknown=why)
        return
    if air.off < 0.5 and not run.case.vehicle.get("ve_standard"):
        why = "no figures of the standard engine to compare with: nothing less than a gross error would show"
        yield finding(run, "ve_constant", unknown=why)
        return
    sound = 1.0 - run.scaled
    limits = (run.limits[ID + "ve_factor_low"], run.limits[ID + "ve_factor_high"])
    text = f"volumetric efficiency {air.mean:.3f} times the standard engine's"
    if air.off >= 0.5:
        text += (
            ", one factor over speed and load: displacement, meter or sensor constant"
            if air.constant >= 0.5
            else ", changing with flow or known at one point only: no constant"
        )
    yield finding(
        run,
        "ve_constant",
        verdicts=tuple(limit.judge(air.mean, air.u) for limit in limits),
        text=text,
        bands=bands(constant=air.off * air.constant * sound, clean=(1.0 - air.off) * air.constant * sound),
        clears=not air.unproven,
        readings=tuple(Used(one.place, one.air, None, "kg/s") for one in factors_of(run) if one.factor is not None),
        steps=step("factor", air.mean, "1", "VE over standard VE; VE = m R T/(p V N/2)"),
    )


def _meter_trend(run: Run, trims: Trims | None, air: Air | str) -> Iterator[Finding]:
    """Whether a trim moves away from zero as flow grows and volumetric efficiency moves the other way.

    A trim that is large at idle and fades is a leak or a dead time, not the meter.
    """
    if run.diesel or not _metered(run):
        return
    if trims is None or isinstance(air, str):
        why = air if isinstance(air, str) else "no closed-loop trims at idle and at flow under valid conditions"
        yield finding(run, "meter_trend", unknown=why)
        return
    limit, u = run.limit("trim_uniform"), trims.u * 2.0**0.5
    moved = trims.high - trims.low
    grows = p_above(abs(trims.high) - abs(trims.low), u, limit)
    against = -air.trend if moved > 0.0 else air.trend
    follows = p_above(against, air.u_trend, 0.5 * abs(moved))
    p = grows * follows * trims.same * (1.0 - (run.scaled or 0.0))
    flat = within(moved, u, -limit, limit) * within(air.trend, air.u_trend, -2.0 * limit, 2.0 * limit)
    unproven = trims.unproven or air.unproven or _adapted(run)
    yield finding(
        run,
        "meter_trend",
        verdicts=(Verdict("watch", p),),
        text=f"trim from {100 * trims.low:+.0f} % at idle to {100 * trims.high:+.0f} % at the highest flow, "
        f"volumetric efficiency {100 * air.trend:+.0f} %",
        bands=bands(trend=p, clean=min(1.0 - p, flat * trims.same)),
        clears=not unproven,
    )


def _adapted(run: Run) -> str:
    """Return why trims without fault clear nothing: software made for a part reads perfect."""
    return "" if standard_calibration(run) else "the calibration is not known to be the standard one"


# Fuel -----------------------------------------------------------------------------------------------------------------


def _fuel_set(run: Run) -> Iterator[Finding]:
    if run.direct or run.diesel:
        return
    ratio, told = fuel_ratio(run), run.sheet.get("fuel_pressure_on_set")
    referenced = run.case.vehicle.get("fuel_system") == "return_referenced"
    if ratio is not None and run.why_scaled() and referenced:
        yield finding(run, "fuel_set", unknown=run.why_scaled())
    elif ratio is not None:
        verdict = run.limits[ID + "fuel_set_tol"].judge(abs(ratio.value - 1.0), ratio.u)
        off = verdict.p_beyond
        yield finding(
            run,
            "fuel_set",
            verdicts=(verdict,),
            text=f"fuel pressure at idle {ratio.value:.3f} times its set point",
            bands=bands(off=off, clean=1.0 - off),
            clears=not ratio.refused and (run.sensors_clean or not referenced),
            readings=(show(ratio, "1"),),
        )
    elif told is not None:
        yield finding(
            run,
            "fuel_set",
            verdicts=(Verdict("watch", float(not told)),),
            text="fuel pressure found at its set point" if told else "fuel pressure found off its set point",
            bands=bands(off=float(not told), clean=float(told)),
        )
    elif any(row.get("rail_pressure") is not None for row in run.rows):
        yield finding(
            run, "fuel_set", unknown="set point, or fuel pressure at idle with manifold and ambient, not known"
        )


def _balance(run: Run) -> Iterator[Finding]:
    if run.diesel or not any(row.get("pulse_width") is not None for row in run.rows):
        return
    found = balances_of(run)
    if not found or (run.why_scaled() and not run.direct):
        why = run.why_scaled() or (
            "stated injector flow with its pressure, pulse and whether dead time is in it, air flow, lambda and fuel "
            "pressure are needed at cruise or load"
        )
        yield finding(run, "balance", unknown=why)
        return
    names = (balance_limit(run), *((ID + "balance_retest",) if run.sheet.retest_of else ()))
    limits = tuple(run.limits[name] for name in names)
    yield finding(
        run,
        "balance",
        verdicts=tuple(limit.judge(abs(one.value - 1.0), one.u) for one in found for limit in limits),
        text="metered air over the air that the injected fuel takes: "
        + ", ".join(f"{one.region} {one.value:.3f}" for one in found)
        + ("; dead time of the injectors not known, a typical one taken" if any(one.guessed for one in found) else ""),
        clears=not most_trusted([one.refused for one in found])
        and not any(one.guessed for one in found)
        and (run.direct or run.sensors_clean),
        readings=tuple(Used(one.place, one.value, one.u, "1") for one in found),
        steps=step("balance", max(found, key=lambda one: abs(one.value - 1.0)).value, "1", "air/(lambda AFR fuel)"),
    )


class _Rail(NamedTuple):
    """How probably fuel is off everywhere with the rail on its target, and nowhere; ``why`` where it cannot be said."""

    off: float
    clean: float
    why: str
    refused: str


def _uniform(run: Run, trims: Trims | None, air: Air | str) -> tuple[float, float] | None:
    """Return P(uniform trim with everything else right) and P(no trim with everything else right)."""
    pressure, ethanol = pressure_on_set(run), ethanol_agrees(run)
    if trims is None or pressure is None or ethanol is None:
        return None
    if run.metering == "speed_density":
        # No meter: what can be wrong instead is the pressure sensor, or the volumetric efficiency that is stored.
        normal = 1.0 - run.scaled if run.scaled is not None and standard_calibration(run) else None
    else:
        normal = None if isinstance(air, str) or run.scaled is None else (1.0 - air.off) * (1.0 - run.scaled)
    if normal is None:
        return None
    right = pressure * ethanol * normal * trims.uniform(run.limit("trim_uniform"))
    beyond = p_above(abs(trims.mean), trims.u, run.limit("trim_watch"))
    return beyond * right, (1.0 - beyond) * right


def _rail(run: Run) -> _Rail | None:
    """Return what the rail's flow says; None where fuel is not injected into the cylinder of a spark engine."""
    if not run.direct or run.diesel or not any(row.get("pulse_width") is not None for row in run.rows):
        return None
    found, ratio = balances_of(run), fuel_ratio(run)
    if len(found) < 2 or ratio is None:
        return _Rail(0.0, 0.0, "two points with balance, rail pressure and its target are needed", "")
    tol, near = run.limits[balance_limit(run)].number, run.limit("fuel_set_tol")
    on = within(ratio.value, ratio.u, 1.0 - near, 1.0 + near)
    low = min(p_below(one.value, one.u, 1.0 - tol) for one in found)
    high = min(p_above(one.value, one.u, 1.0 + tol) for one in found)
    none = min(within(one.value, one.u, 1.0 - tol, 1.0 + tol) for one in found)
    refused = most_trusted([ratio.refused, *(one.refused for one in found)])
    return _Rail(on * max(low, high), on * none, "", refused)


def _counted(size: tuple[float, float] | None, rail: _Rail | None) -> tuple[bool, bool]:
    """Return whether trims, and whether the rail, speak for the injectors' size: the stronger of them, never both."""
    trim = _ratio("uniform_trim", "uniform", size[0]) if size is not None else 1.0
    flow = _ratio("rail_flow", "off", rail.off) if rail is not None else 1.0
    return trim >= flow, flow > trim


def _ratio(rule: str, band: str, p: float) -> float:
    return 1.0 + p * (TABLE[rule][band][INJECTOR] - 1.0)


def _uniform_trim(
    run: Run, trims: Trims | None, air: Air | str, size: tuple[float, float] | None, rail: _Rail | None
) -> Iterator[Result]:
    if trims is None:
        return
    beyond = p_above(abs(trims.mean), trims.u, run.limit("trim_watch")) * trims.uniform(run.limit("trim_uniform"))
    words, test = "", ""
    if beyond >= 0.05 and trims.mean > FARTHEST_TRIM:
        found = candidates(run, trims.mean, air)
        survivors = tuple(one for one in found if one.state != "out")
        test = separating_test(survivors)
        words = "alone it would need " + "; or ".join(f"{one.words} ({one.state})" for one in found)
    if trims.same < 0.5:
        words = "banks differ: a fault of one bank, no wrong constant"
    head = f"trim {100 * trims.mean:+.0f} % over idle, cruise and load; "
    if size is None:
        lacks = "fuel pressure, ethanol or volumetric efficiency, or key-on readings, not known"
        yield finding(run, "uniform_trim", unknown=head + (words + "; " if words else "") + lacks)
    else:
        fired, clean = size
        yield finding(
            run,
            "uniform_trim",
            verdicts=(Verdict("note", fired),),
            text=head + (words or "nothing to explain"),
            bands=bands(uniform=fired if _counted(size, rail)[0] else 0.0, clean=clean),
            clears=trims.same >= ALIKE and not (trims.unproven or _air_unproven(run, air) or _adapted(run)),
            steps=step("trim", trims.mean, "1"),
        )
    if test:
        yield Advice(
            f"two explanations or more of a uniform trim survive: {words}; the cheapest test that parts them first",
            test=test,
            sheet=run.sheet.id,
        )


def _air_unproven(run: Run, air: Air | str) -> str:
    if run.metering == "speed_density":
        return "" if run.sensors_clean else "pressure sensors not shown to be right at key-on"
    return air if isinstance(air, str) else air.unproven


def _rail_flow(run: Run, size: tuple[float, float] | None, rail: _Rail | None) -> Iterator[Finding]:
    if rail is None:
        return
    if rail.why:
        yield finding(run, "rail_flow", unknown=rail.why)
        return
    speaks = _counted(size, rail)[1]
    cleared = size is not None and size[1] > 0.0
    yield finding(
        run,
        "rail_flow",
        verdicts=(Verdict("watch", rail.off),),
        text="rail on its target; fuel by balance "
        + ("off everywhere: rail pressure read wrong, or other injectors" if rail.off >= 0.5 else "as stated"),
        bands=bands(
            off=rail.off if speaks else 0.0,
            off_size_counted=0.0 if speaks else rail.off,
            clean=0.0 if cleared else rail.clean,
            clean_size_counted=rail.clean if cleared else 0.0,
        ),
        clears=not rail.refused,
    )


def _dead_time(run: Run) -> Iterator[Finding]:
    """Trims alike at idle and load and at two voltages clear the dead time; nothing here accuses it."""
    wrong, unknown = trim_conditions(run)
    if run.diesel or wrong:
        return
    found = [one for bank in banks_of(run) for one in trims_of(run, bank)]
    volts = [one.voltage for one in found if one.voltage is not None]
    if not volts or max(volts) - min(volts) < TWO_VOLTAGES or not {"idle", "load"} <= {one.region for one in found}:
        return
    values = [one.value for one in found]
    u = max(one.u for one in found) * 2.0**0.5
    alike = within(max(values) - min(values), u, -1.0, run.limit("trim_uniform"))
    yield finding(
        run,
        "dead_time",
        verdicts=(Verdict("note", 1.0 - alike),),
        text="trims at idle and load and at two voltages " + ("alike" if alike >= 0.5 else "not alike"),
        bands=bands(alike=alike),
        clears=not unknown and not most_trusted([one.refused for one in found]),
    )


def _documented(run: Run, air: Air | str, rail: _Rail | None) -> Iterator[Finding]:
    """Data sheets held against the parts clear the data, but only where the readings say the same.

    What the same balance has cleared by the rail's flow is not cleared once more.
    """
    if run.sheet.get("data_documented") is not True:
        return
    found, ambient = balances_of(run), run.ambient
    read = [one for name in ("map_key_on", "boost_key_on") if (one := run.read(name)) is not None]
    if not found or not read or ambient is None or isinstance(air, str):
        yield finding(
            run,
            "data_documented",
            unknown="documents alone clear nothing: balance, key-on readings, volumetric "
            "efficiency over speed are needed",
        )
        return
    near, offset = run.limit("balance_documented"), run.limit("key_on_documented")
    stands = (1.0 - air.off) * air.constant
    for balance in found:
        stands = min(stands, within(balance.value, balance.u, 1.0 - near, 1.0 + near))
    for one in read:
        stands = min(stands, within(one.value - ambient.value, (one.u**2 + ambient.u**2) ** 0.5, -offset, offset))
    refused = most_trusted([*(one.refused for one in found), *(one.refused for one in read), ambient.refused])
    yield finding(
        run,
        "data_documented",
        verdicts=(Verdict("note", 0.0),),
        text="data sheets as on the parts"
        + (", and the readings agree" if stands >= 0.5 else ", but the readings do not agree"),
        bands=bands(**{"stands" if rail is None or rail.why else "stands_rail_counted": stands}),
        clears=not (refused or air.unproven),
    )
