"""What is said about the plan itself. Everything here is predicted, so nothing is graded above watch."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.sdk import Ceiling, Curve, Finding, Gap, Step, Used, Verdict, format_value
from loadworthy_plugins.load_demand.inputs import number
from loadworthy_plugins.load_demand.model import build
from loadworthy_plugins.load_demand.totals import totals

if TYPE_CHECKING:
    from collections.abc import Iterator

    from loadworthy.sdk import Case, Limits, Result
    from loadworthy_plugins.load_demand.inputs import Lack
    from loadworthy_plugins.load_demand.model import Model
    from loadworthy_plugins.load_demand.point import Demanded

_ID = "load_demand."
#: Heating value, J/kg, at which the limit of specific fuel for spark ignition is meant: petrol E10.
_REFERENCE_HEAT = 41.65e6


def examine_plan(case: Case, limits: Limits) -> Iterator[Result]:
    """Findings, gaps and ceilings about the plan and what the case says for it."""
    built = build(case)
    yield from (_gap(lack) for lack in built.lacks)
    displacement = number(case.vehicle, "displacement")
    if displacement is not None:
        yield _displacement(displacement)
    model = built.model
    if model is None:
        return
    points = tuple(model.at(i, t) for i, t in enumerate(model.plan))
    yield totals(model, points)
    yield from _mean_pressure(model, points, limits)
    yield _specific_fuel(model, points, limits)
    if model.engine.charged:
        yield from _stages(model, points, limits)
        boost = number(case.plan, "boost")
        if boost is not None and not model.boost_stated:
            yield _boost(model, points, boost, limits)
        if model.rise is None:
            yield Gap(
                _ID + "compressor_speed",
                "compressor speed against a demonstrated one is unknown: no full-load point of this car's log",
                write="[[vehicle.baseline_log_point]] with speed, torque, manifold_pressure and charge_temperature",
                test="full-load-log",
            )
    else:
        yield from _filling(model, points, limits)
    if model.trust.factor != 1.0:
        yield _corrected(model)


def _gap(lack: Lack) -> Gap:
    return Gap(lack.id, lack.text, required=lack.required, write=lack.write)


def _rpm(speed: float) -> str:
    return f"{speed * 60.0:.0f} rpm"


def _displacement(displacement: float) -> Finding:
    """A displacement of whole tenths of a litre is a trade name; the true figure is 1 to 2 % off."""
    tenths = displacement / 1e-4
    is_round = abs(tenths - round(tenths)) < 1e-6
    return Finding(
        _ID + "displacement_round",
        verdicts=(Verdict("note", float(is_round)),),
        text=f"displacement given as {displacement * 1e6:.0f} cm3: the papers' figure is probably 1 to 2 % off it"
        if is_round
        else "displacement is a true figure",
        readings=(Used("vehicle.displacement", displacement, None, "m3"),),
    )


def _mean_pressure(model: Model, points: tuple[Demanded, ...], limits: Limits) -> Iterator[Result]:
    family = model.engine.choice.row.family
    name = f"mean_pressure_{'charged' if model.engine.charged else 'aspirated'}_{family}"
    watch, refuse = limits[f"{_ID}{name}_watch"], limits[f"{_ID}{name}_refuse"]
    judged = []
    for i, point in enumerate(points):
        value, u = point.mean_pressure.nominal, model.power_u[i] * point.mean_pressure.nominal
        verdicts = (watch.judge(value, u), refuse.judge(value, u))
        judged.append((verdicts[0].p_beyond, value, -i, verdicts, u))
    _, value, minus_i, verdicts, u = max(judged, key=lambda j: j[:3])
    speed = model.speeds[-minus_i]
    refused = any(p.mean_pressure.low > refuse.number for p in points)
    finding = Finding(
        _ID + "mean_pressure",
        verdicts=verdicts,
        text=f"planned mean effective pressure {format_value(value, 'pressure_difference')} at {_rpm(speed)}"
        + (": not believed" if refused else ""),
        steps=(
            Step("torque", model.plan[-minus_i], "N m"),
            Step("displacement", model.engine.displacement, "m3"),
            Step("mean effective pressure", value, "Pa", "4 pi T / V_d"),
            Step("its standard uncertainty", u, "Pa"),
        ),
    )
    yield finding
    if not refused:
        return
    yield Ceiling(
        "mean_pressure",
        "mean_pressure",
        refuse.number,
        "the planned mean effective pressure is beyond what such engines reach",
        origin="gap",
        until=_ID + "plan_not_believed",
        finding=(finding.rule, None, ""),
    )
    yield Gap(
        _ID + "plan_not_believed",
        f"{model.plan[-minus_i]:.0f} N m from {model.engine.displacement * 1e6:.0f} cm3 are "
        f"{format_value(value, 'pressure_difference')} of mean effective pressure, even its low end beyond "
        f"{format_value(refuse.number, 'pressure_difference')}: check torque, displacement and induction",
        required=True,
        write="the true plan.torque (or peaks), vehicle.displacement and vehicle.induction",
    )


def _specific_fuel(model: Model, points: tuple[Demanded, ...], limits: Limits) -> Finding:
    """The least fuel per work over speed. Heat decides: a limit for petrol is scaled to the fuel's heating value."""
    engine = model.engine
    values = [p.fuel_flow.nominal / p.power.nominal for p in points]
    i = min(range(len(values)), key=values.__getitem__)
    if engine.choice.row.family == "diesel":
        limit, scale = limits[_ID + "specific_fuel_diesel_watch"], 1.0
    else:
        limit = limits[_ID + "specific_fuel_spark_watch"]
        scale = _REFERENCE_HEAT / engine.lower_heating_value
        # Petrols from E0 to E10 are one fuel here: the limit names petrol.
        scale = 1.0 if 0.95 <= scale <= 1.0 else scale
    value = values[i] / scale
    # On the nominal value: the plan's own figures are what is doubted, not their spread.
    return Finding(
        _ID + "specific_fuel",
        verdicts=(limit.judge(value, 0.0),),
        text=f"the plan implies {format_value(values[i], 'consumption_energy')} at {_rpm(model.speeds[i])}",
        steps=(
            Step("fuel per work", values[i], "kg/J", "m_f / P"),
            Step("scaled to petrol E10 by heating value", value, "kg/J"),
        ),
    )


def _filling(model: Model, points: tuple[Demanded, ...], limits: Limits) -> Iterator[Result]:
    doubtful = limits[_ID + "plan_doubtful"]
    unreachable = limits[_ID + "plan_not_reachable_without_boost"]
    excess = [(p.filling / p.filling_default - 1.0) / p.filling_u for p in points]
    i = max(range(len(points)), key=excess.__getitem__)
    j = max(range(len(points)), key=lambda k: points[k].filling)
    finding = Finding(
        _ID + "filling",
        verdicts=(doubtful.judge(excess[i], 0.0), unreachable.judge(points[j].filling, 0.0)),
        text=f"the plan needs a volumetric efficiency of {points[j].filling:.2f} at {_rpm(model.speeds[j])}",
        steps=(
            Step("air flow", points[j].air_flow.nominal, "kg/s"),
            Step("manifold pressure", points[j].manifold_pressure.nominal, "Pa absolute"),
            Step("manifold temperature", points[j].charge_temperature.nominal, "temperature"),
            Step("needed volumetric efficiency", points[j].filling, "1", "2 m_a / (rho_m V_d n)"),
            Step("usual one of the engine type", points[i].filling_default, "1"),
            Step("needed above usual, in its u", excess[i], "1"),
        ),
    )
    yield finding
    if points[j].filling > unreachable.number:
        yield Ceiling(
            "air_without_boost",
            "torque",
            Curve(
                model.speeds,
                tuple(t * unreachable.number / p.filling for t, p in zip(model.plan, points, strict=True)),
            ),
            "more torque needs more air than an engine without charging can take",
            finding=(finding.rule, None, ""),
            outside="hold",
        )


def _stages(model: Model, points: tuple[Demanded, ...], limits: Limits) -> Iterator[Result]:
    """One stage above a ratio of about 3.2 is a hint that another was overlooked; two are modelled as one."""
    ratios = [p.pressure_ratio for p in points if p.pressure_ratio is not None]
    if model.engine.induction != "turbo":
        return
    i = max(range(len(ratios)), key=lambda k: ratios[k].nominal)
    worst = ratios[i]
    limit = limits[_ID + "single_stage_ratio_max"]
    yield Finding(
        _ID + "stages",
        verdicts=(limit.judge(worst.nominal, (worst.high - worst.low) / 4.0),),
        text=f"planned compressor pressure ratio {worst.nominal:.2f} at {_rpm(model.speeds[i])}",
        steps=(Step("pressure ratio", worst.nominal, "1", "(p_m + dp_cooler) / (p_a - dp_filter)"),),
    )


def _boost(model: Model, points: tuple[Demanded, ...], boost: float, limits: Limits) -> Finding:
    stated = boost + model.breathing.ambient_pressure
    i = max(range(len(points)), key=lambda k: points[k].manifold_pressure.nominal)
    pressure = points[i].manifold_pressure
    u = max(points[i].pressure_u * pressure.nominal, 0.01 * pressure.nominal)
    away = abs(stated - pressure.nominal) / u
    needed = format_value(pressure.nominal - model.breathing.ambient_pressure, "pressure_gauge")
    return Finding(
        _ID + "boost_and_torque",
        verdicts=(limits[_ID + "boost_disagreement"].judge(away, 0.0),),
        text=f"the plan states {format_value(boost, 'pressure_gauge')} of boost; "
        f"its torque needs {needed} at {_rpm(model.speeds[i])}",
        readings=(Used("plan.boost", boost, None, "Pa gauge"),),
        steps=(
            Step("manifold pressure from torque", pressure.nominal, "Pa absolute"),
            Step("its standard uncertainty", u, "Pa"),
            Step("stated, absolute", stated, "Pa absolute"),
        ),
    )


def _corrected(model: Model) -> Finding:
    trust = model.trust
    return Finding(
        _ID + "corrected_figures",
        verdicts=(Verdict("note", 1.0),),
        text=f"figures corrected by {trust.rule} with {trust.factor:.3f}: a charged engine that holds its manifold "
        "pressure does not feel the ambient, so the observed figures are used"
        + ("; the rule allows no factor of this size" if trust.outside_rule else ""),
        steps=(Step("correction factor", trust.factor, "1", trust.rule),),
    )
