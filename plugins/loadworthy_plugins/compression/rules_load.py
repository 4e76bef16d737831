"""What the plan means inside the cylinders, what a raised ratio allows, and what is known of the engine's past."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from loadworthy.sdk import Ceiling, Curve, NamedTuple, Used, Verdict, p_above
from loadworthy_plugins.compression.causes import BROADER
from loadworthy_plugins.compression.geometry import effective_ratio
from loadworthy_plugins.compression.load_context import (
    delay_factor,
    end_of_compression,
    estimated_ratio,
    head_force,
    octane_pressure_pair,
    peak_factor,
    peak_ratio,
)
from loadworthy_plugins.compression.results import ID, bands, finding, percent, seen, step
from loadworthy_plugins.compression.rules_balance import liquid_excluded
from loadworthy_plugins.compression.rules_pattern import all_high, level, sound_for_high
from loadworthy_plugins.shared_results import number

if TYPE_CHECKING:
    import datetime
    from collections.abc import Iterator, Sequence

    from loadworthy.sdk import Case, Demand, Finding, Result, Step
    from loadworthy_plugins.compression.dry import DrySet
    from loadworthy_plugins.compression.engine import Engine
    from loadworthy_plugins.compression.session import Session

#: Static ratio and charge temperature (K) where nobody gives them (judgement).
_ASSUMED_RATIO = {False: 10.0, True: 17.0}
_ASSUMED_CHARGE = 310.0


class Load(NamedTuple):
    """Manifold pressure over speed, plan and base, with the relative uncertainty of the planned one."""

    speeds: tuple[float, ...]
    plan: tuple[float, ...]
    base: tuple[float, ...] | None
    u: tuple[float, ...]
    charge: tuple[float, ...]


def load_of(demand: Demand | None) -> Load | None:
    """Return the manifold pressures that the demand holds; None where it holds none."""
    band = demand.quantities.get("manifold_pressure") if demand is not None else None
    if demand is None or band is None:
        return None
    charge = demand.quantities.get("charge_temperature")
    rows = range(len(demand.speeds))
    plan = tuple(_at(demand.torque[i], band.nominal[i], demand.plan[i]) for i in rows)
    width = tuple(_at(demand.torque[i], band.high[i], demand.plan[i]) for i in rows)
    base = demand.base
    return Load(
        speeds=demand.speeds,
        plan=plan,
        base=tuple(_at(demand.torque[i], band.nominal[i], base[i]) for i in rows) if base is not None else None,
        u=tuple(max(0.0, high / nominal - 1.0) / 2.0 for high, nominal in zip(width, plan, strict=True)),
        charge=tuple(
            _at(demand.torque[i], charge.nominal[i], demand.plan[i]) if charge is not None else _ASSUMED_CHARGE
            for i in rows
        ),
    )


def _at(torques: Sequence[float], values: Sequence[float], torque: float) -> float:
    """Return a quantity at a torque: linear between load steps, the end value beyond them."""
    if torque <= torques[0]:
        return values[0]
    for i in range(1, len(torques)):
        if torque <= torques[i]:
            share = (torque - torques[i - 1]) / (torques[i] - torques[i - 1])
            return values[i - 1] + share * (values[i] - values[i - 1])
    return values[-1]


def load_rules(session: Session, demand: Demand | None) -> Iterator[Finding]:
    """Report end of compression, peak pressure and head force of the plan, always when its pressure is known."""
    load = load_of(demand)
    engine, limits = session.engine, session.limits
    if load is None:
        return
    limit = limits["compression.head_force_ratio"]
    worst = max(range(len(load.speeds)), key=lambda i: load.plan[i])
    ratio = u = None
    if load.base is not None:
        gained = [(peak_ratio(p / b), i) for i, (p, b) in enumerate(zip(load.plan, load.base, strict=True)) if b > 0.0]
        ratio, worst = max(gained)
        u = ratio * load.u[worst]
    effective = None
    if engine.cylinder is not None and engine.closing is not None:
        effective = effective_ratio(engine.cylinder, engine.closing[1])
    state = end_of_compression(load.plan[worst], effective, diesel=bool(engine.diesel)) if effective else None
    steps = (
        *step("planned manifold pressure", load.plan[worst], "Pa absolute"),
        *step("effective compression ratio", effective, "1"),
        *step(
            "pressure at the end of compression", state.pressure if state else None, "Pa absolute", "MAP CR_eff^1.30"
        ),
        *step("core temperature there", state.temperature if state else None, "temperature"),
        *step("peak pressure, low estimate", state.peak_low if state else None, "Pa absolute"),
        *step("peak pressure, high estimate", state.peak_high if state else None, "Pa absolute"),
        *step(
            "gas force on the head, bore for gasket",
            head_force(state.peak_high, engine.cylinder.bore) if state and engine.cylinder else None,
            "N",
            "p_max pi/4 d^2",
        ),
        *step("head force, plan over base", ratio, "1", "MAP_plan/MAP_base at equal timing and mixture"),
    )
    if ratio is None or u is None:
        yield finding("load_context", None, unknown="manifold pressure of base not known", steps=steps)
        return
    proven = engine.flag("head_fixings_proven") is True
    verdict = limit.judge(ratio, max(u, 1e-6))
    if proven:
        verdict = verdict._replace(p_beyond=0.0)
    yield finding(
        "load_context",
        None,
        verdicts=(verdict,),
        text=f"gas force on the head {percent(ratio - 1.0)} above base; the reserve of unknown bolts cannot be computed"
        + (" (fixings proven)" if proven else ""),
        steps=steps,
    )


def high_ceilings(dry: DrySet, session: Session, demand: Demand | None) -> Iterator[Result]:
    """Return the ceilings on manifold pressure that a raised compression ratio asks for."""
    load = load_of(demand)
    limits = session.limits
    sound = sound_for_high(dry)
    if all_high(dry, limits) and sound is not None:
        yield from _ceilings(dry, "map_ceiling_compression", "all_high", None, level(dry), sound, load)
    for place in dry.places:
        if place.high and liquid_excluded(dry, place.cylinder) and dry.balance is not None:
            subject = dry.engine.subject(place.cylinder)
            reference = dry.balance.high_reference
            yield from _ceilings(
                dry, "map_ceiling_single_high", "single_high", subject, place.standard, reference, load
            )


def _ceilings(
    dry: DrySet, name: str, rule: str, subject: str | None, reading: float, sound: float, load: Load | None
) -> Iterator[Ceiling]:
    """Return the hard ceiling, and for petrol the lower one at which the calibration starts.

    Petrol: the pair by octane slopes and by ignition delay; diesel: equal peak pressure.
    """
    engine = dry.engine
    diesel = bool(engine.diesel)
    effective = _effective(engine)
    raised = estimated_ratio(effective, reading, sound, 101325.0)
    static = engine.ratio or _ASSUMED_RATIO[diesel]
    grown = static * raised / effective
    steps = (
        *step("reading at standard atmosphere", reading, "Pa gauge"),
        *step("sound value", sound, "Pa gauge"),
        *step("effective compression ratio", effective, "1"),
        *step("estimated from the reading", raised, "1", "CR ((p+p_a)/(p_sound+p_a))^(1/1.25)"),
        *step("static ratio that this stands for", grown, "1"),
    )

    def ceiling(called: str, quantity: str, value: object, reason: str, *more: Step, advisory: bool = False) -> Ceiling:
        return Ceiling(
            called,
            quantity,
            value,
            reason,
            subject,
            kind="advisory" if advisory else "hard",
            until="dry-compression",
            finding=(ID + rule, subject, dry.sheet.id),
            outside="none",
            steps=(*steps, *more),
        )

    if load is None:
        yield ceiling(name, "torque", "as_received", "compression raised, manifold pressure of the plan unknown")
        return
    if diesel:
        factor = peak_factor(effective, raised)
        yield ceiling(
            name,
            "manifold_pressure",
            Curve(load.speeds, tuple(p * factor for p in load.plan)),
            f"compression raised: equal peak pressure at {factor:.3f} of the planned manifold pressure",
            *step("factor", factor, "1", "(CR0/CR1)^1.3"),
        )
        return
    pairs = [octane_pressure_pair(static, grown, charge) for charge in load.charge]
    printed = step("by delay at the end of compression (does not bind)", delay_factor(effective, raised), "1")
    for which, (called, words) in enumerate(((name, "not above"), (f"{name}_start", "start at"))):
        factors = [pair[which] for pair in pairs]
        yield ceiling(
            called,
            "manifold_pressure",
            Curve(load.speeds, tuple(p * f for p, f in zip(load.plan, factors, strict=True))),
            f"compression raised: {words} {min(factors):.3f} of the planned manifold pressure",
            *step("factor", min(factors), "1"),
            *printed,
            advisory=which == 1,
        )


def _effective(engine: Engine) -> float:
    """Return the effective ratio; from the assumed static one where the geometry is not known."""
    if engine.cylinder is not None and engine.closing is not None:
        return effective_ratio(engine.cylinder, engine.closing[1])
    if engine.leaking is not None:
        return effective_ratio(engine.leaking, engine.leaking_closing)
    return 0.88 * (engine.ratio or _ASSUMED_RATIO[bool(engine.diesel)])


#: Flag of the vehicle, rule, cause, kinds of event that say the same, words.
_PAST: Final = (
    ("knock_history", "history_knock", "piston-or-ring-land-broken", ("knock",), "known to have knocked under load"),
    ("water_ingress", "history_water", "bent-connecting-rod", ("hydrolock",), "swallowed water or stood in it"),
    ("timing_drive_work", "history_timing_drive", "valve-timing-off", (), "belt or chain worked on recently"),
    ("coolant_loss", "history_coolant_loss", "head-gasket-or-crack-to-coolant", (), "loses coolant, no leak outside"),
)


def history_rules(case: Case, engine: Engine) -> Iterator[Finding]:
    """Report what the vehicle's own papers and events say for or against a cause.

    A repair sets aside what was known before it. What the papers say has no date: it counts as before; what happened
    since is written down as an event.
    """
    for flag, rule, cause, kinds, text in _PAST:
        value = engine.flag(flag)
        if not value:
            found = tuple(_by_event(case, engine, rule, cause, kinds))
            if found:
                yield from found
                continue
        if value:
            yield from _known(case, engine, rule, cause, text)
        elif value is not None:
            yield finding(rule, None, verdicts=seen(False), text=f"not {text}")
    if engine.flag("short_trips") or engine.flag("oil_use_high"):
        what = "short trips" if engine.flag("short_trips") else "oil use"
        yield from _known(case, engine, "history_carbon", "carbon-in-chamber", what)
    yield from _over_speed(case, engine)
    standard = engine.word("pistons_changed") == "standard" and engine.flag("head_skimmed") is False
    if standard:
        yield finding(
            "history_standard", None, verdicts=seen(False), text="pistons and head standard", bands={"known": 1.0}
        )
    if engine.flag("run_in_complete"):
        yield finding("history_run_in", None, verdicts=seen(False), text="run-in complete", bands={"known": 1.0})


def _known(
    case: Case,
    engine: Engine,
    rule: str,
    cause: str,
    text: str,
    since: datetime.date | None = None,
    verdict: Verdict | None = None,
    **more: Any,
) -> Iterator[Finding]:
    """Report what speaks for a cause, but where that cause has been repaired ``since`` (None: at any time)."""
    wider = [broader.id for broader in BROADER if cause in broader.covers]
    mended = {
        treat.subject
        for repair in case.repairs
        for treat in repair.treats
        if treat.what in (cause, ID + rule, *wider) and (since is None or repair.date > since)
    }
    places = [engine.subject(n) for n in engine.numbers]
    left = [None] if not mended else [] if None in mended else [place for place in places if place not in mended]
    verdicts = seen(True) if verdict is None else (verdict,)
    known = bands(known=verdicts[0].p_beyond)
    for place in left:
        yield finding(rule, None, place, verdicts=verdicts, text=text, bands=known, **more)


def _by_event(case: Case, engine: Engine, rule: str, cause: str, kinds: Sequence[str]) -> Iterator[Finding]:
    """Report the last event that speaks for a cause."""
    event = max((e for e in case.events if e.kind in kinds), key=lambda e: (e.date, e.kind), default=None)
    if event is not None:
        text = f"{event.kind} on {event.date.isoformat()}"
        yield from _known(case, engine, rule, cause, text, event.date)


def _over_speed(case: Case, engine: Engine) -> Iterator[Finding]:
    """Report an engine speed beyond what the maker allows, logged or written down as an event."""
    rule, cause = "history_over_speed", "over-speed-event"
    found = tuple(_by_event(case, engine, rule, cause, ("over_speed",)))
    logged, limit = engine.values.get("highest_logged_speed"), engine.value("engine_speed_limit")
    speed = number(logged)
    if found or speed is None or limit is None:
        yield from found
        return
    u = getattr(logged, "u", None)
    if u is None:
        yield finding(rule, None, unknown="uncertainty of the logged speed not known")
        return
    yield from _known(
        case,
        engine,
        rule,
        cause,
        f"{60.0 * speed:.0f} rpm logged, {60.0 * limit:.0f} rpm allowed",
        verdict=Verdict("note", p_above(speed, u, limit)),
        readings=(Used("vehicle.highest_logged_speed", speed, u, "rev/s"),),
    )
