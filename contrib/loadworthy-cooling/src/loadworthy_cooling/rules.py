"""One function per rule: a sheet in, findings and what follows from them out."""

from __future__ import annotations

from math import hypot
from typing import TYPE_CHECKING, NamedTuple

from loadworthy.sdk import Capacity, Ceiling, Finding, Step, Symptom, Used, format_value
from loadworthy_cooling.boiling import Boiling, boiling_of, latest
from loadworthy_cooling.causes import RUN
from loadworthy_cooling.conditions import Conditions, conditions_of
from loadworthy_cooling.formulas import rise_factor, settled_temperature, sustained_load
from loadworthy_cooling.load import of_today, planned
from loadworthy_cooling.workshop import NOT_SHOWN

if TYPE_CHECKING:
    from collections.abc import Iterator

    from loadworthy.sdk import Case, Demand, Limits, Reading, ResolvedLimit, Result, Sheet, Verdict
    from loadworthy_cooling.load import Asked

#: Below this probability a limit is kept: no symptom, no ceiling (method, section 2).
CLEAN_BELOW = 0.05


class Run(NamedTuple):
    """A run that can be carried to other loads, K and W. ``today`` is None where today's torque is not known."""

    sheet: Sheet
    coolant: Reading
    ambient: Reading
    power: Reading
    plan: Asked
    today: Asked | None
    hot_day: float
    thermostat_open: float | None
    limit: ResolvedLimit
    boiling: Boiling
    conditions: Conditions

    @property
    def rise(self) -> float:
        """Coolant over ambient, K."""
        return self.coolant.value - self.ambient.value

    @property
    def rise_u(self) -> float:
        """Its standard uncertainty, K."""
        return hypot(self.coolant.u or 0.0, self.ambient.u or 0.0)

    @property
    def power_u(self) -> float:
        """Standard uncertainty of the power, as a share of it."""
        return (self.power.u or 0.0) / self.power.value


class Forecast(NamedTuple):
    """Where the coolant settles on the hot day, K, with its standard uncertainty and derivation."""

    temperature: float
    u: float
    steps: tuple[Step, ...]


def judge(case: Case, demand: Demand | None, limits: Limits) -> Iterator[Result]:
    """Judge every sheet. Where none of them shows what the plan's heat does, say so."""
    shown = False
    for sheet in case.of("cooling"):
        for result in (*run_rules(case, sheet, demand, limits), *cold_rules(sheet, limits)):
            shown = shown or (isinstance(result, Finding) and result.rule == "cooling.plan" and bool(result.verdicts))
            yield result
    if not shown:
        yield NOT_SHOWN


def run_rules(case: Case, sheet: Sheet, demand: Demand | None, limits: Limits) -> Iterator[Result]:
    """Judge a run at today's and at the planned heat; nothing for a sheet that holds only the cold tests."""
    if not any(sheet.reading(name) for name in ("coolant_temperature", "ambient_temperature", "power")):
        return
    run = _read(case, sheet, demand, limits)
    if isinstance(run, str):
        for rule in ("cooling.today", "cooling.plan"):
            yield Finding(rule, sheet.id, unknown=run, readings=_used(sheet))
        return
    yield from _today(run, limits)
    yield from _plan(run, limits)


def _read(case: Case, sheet: Sheet, demand: Demand | None, limits: Limits) -> Run | str:
    """Return the run, or why it says nothing."""
    coolant, ambient = sheet.reading("coolant_temperature"), sheet.reading("ambient_temperature")
    power = sheet.reading("power")
    if coolant is None or ambient is None or power is None:
        missing = [name for name in ("coolant_temperature", "ambient_temperature", "power") if not sheet.reading(name)]
        return f"not on the sheet: {', '.join(missing)}"
    if coolant.u is None or ambient.u is None or power.u is None:
        return "uncertainty of the readings not known"
    if coolant.value <= ambient.value:
        return "coolant no warmer than the air: one of the two is wrong"
    plan = planned(demand)
    if plan is None:
        return "the power of the plan is not known: no table of demand"
    hot_day, opening = latest(case, "hot_day"), latest(case, "thermostat_open_temperature")
    maker, limit = latest(case, "maker_temperature_limit"), limits["cooling.coolant_temperature"]
    opened = opening.value if opening is not None else None
    return Run(
        sheet,
        coolant,
        ambient,
        power,
        plan,
        of_today(demand),
        hot_day.value if hot_day is not None else limits["cooling.hot_day"].number,
        opened,
        limit.maker(maker.value) if maker is not None else limit,
        boiling_of(case, limits),
        conditions_of(sheet, opened, limits),
    )


def _forecast(run: Run, asked: Asked) -> Forecast:
    """Carry the run to another load on the hot day; never below what the thermostat holds."""
    ratio = asked.load / run.power.value
    factor = rise_factor(ratio)
    settled = settled_temperature(run.hot_day, run.rise, ratio)
    u = hypot(factor * run.rise_u, factor * run.rise * hypot(run.power_u, asked.u))
    return Forecast(
        max(settled, run.thermostat_open or 0.0),
        u,
        (
            Step("rise over ambient in the run", run.rise, "temperature_difference", "coolant - ambient"),
            Step("power of the run", run.power.value, "W"),
            Step("heat per power over today's", asked.extra, "1", "at least 1", "table of demand"),
            Step("power asked for", asked.load, "W", "largest over speed, with the extra heat", "table of demand"),
            Step("ratio", ratio, "1"),
            Step("rise grows by", factor, "1", "r above 1, r^0.75 below", "Incropera and DeWitt; exponent from memory"),
            Step("hot day", run.hot_day, "temperature"),
            Step("settles at", settled, "temperature", "hot day + rise x factor"),
            Step("standard uncertainty", u, "temperature_difference"),
        ),
    )


def _finding(rule: str, run: Run, forecast: Forecast, verdicts: tuple[Verdict, ...], load: str) -> Finding:
    """Word a forecast as a finding, as far as the conditions of its run allow."""
    conditions = run.conditions
    worst = max(verdict.p_beyond for verdict in verdicts)
    bands = {"clean": 1.0 - worst}
    if conditions.full:
        bands["fired"] = worst
    shown = "" if conditions.full else "headroom not shown; at most: "
    words = f"{shown}coolant settles at {format_value(forecast.temperature, 'temperature')} at {load}"
    words += f" on a day of {format_value(run.hot_day, 'temperature')}"
    return Finding(
        rule,
        run.sheet.id,
        verdicts=verdicts,
        text="; ".join((words, *conditions.words)),
        bands=bands if rule == "cooling.today" else {},
        readings=_used(run.sheet),
        steps=(*forecast.steps, *run.boiling.steps),
        max_grade=None if conditions.full else "watch",
        accept=not conditions.full,
        clears=conditions.clears,
    )


def _today(run: Run, limits: Limits) -> Iterator[Result]:
    """Too hot at the load that it carries today: something is wrong, whatever the plan."""
    if run.today is None:
        yield Finding("cooling.today", run.sheet.id, unknown="today's torque is not known", readings=_used(run.sheet))
        return
    forecast = _forecast(run, run.today)
    margin_u = hypot(forecast.u, run.boiling.u)
    verdicts = (
        run.limit.judge(forecast.temperature, forecast.u),
        limits["cooling.boil_margin_least"].judge(run.boiling.temperature - forecast.temperature, margin_u),
    )
    found = _finding("cooling.today", run, forecast, verdicts, "today's full load")
    yield found
    worst = max(verdict.p_beyond for verdict in verdicts)
    if run.conditions.full and worst >= CLEAN_BELOW:
        yield Symptom("cooling-hot-under-load", found.rule, run.sheet.id, worst, group="run", text=found.text)


def _plan(run: Run, limits: Limits) -> Iterator[Result]:
    """Settled temperature and margin to boiling at the planned heat, and up to which heat both hold."""
    forecast = _forecast(run, run.plan)
    margin, margin_u = run.boiling.temperature - forecast.temperature, hypot(forecast.u, run.boiling.u)
    watch, least = limits["cooling.boil_margin"], limits["cooling.boil_margin_least"]
    firm = (run.limit.judge(forecast.temperature, forecast.u), least.judge(margin, margin_u))
    found = _finding("cooling.plan", run, forecast, (*firm, watch.judge(margin, margin_u)), "the planned heat")
    yield found
    key = (found.rule, None, run.sheet.id)
    fired = run.conditions.full and max(verdict.p_beyond for verdict in firm) >= 0.5
    # A run that may not clear says of the capacity only that it is too small, never that it is large enough.
    if fired or (run.conditions.full and run.conditions.clears):
        yield _capacity(run, least)
    if fired:
        yield Ceiling("plan.as_received", "power", "as_received", found.text, until=RUN, finding=key)
    if max(verdict.p_beyond for verdict in found.verdicts) < CLEAN_BELOW:
        return
    highest = min(run.limit.number, run.boiling.temperature - watch.number)
    load = sustained_load(run.power.value, run.rise, highest - run.hot_day) / run.plan.extra
    yield Ceiling(
        "plan.sustained_power",
        "power",
        load,
        f"coolant settles at {format_value(highest, 'temperature')} under this power on the hot day",
        until=RUN,
        finding=key,
        origin="fault" if run.conditions.full else "gap",
        # A run under doubtful conditions shows less than the car can do: what it does today it has shown it can.
        basis="" if run.conditions.full else "demonstrated",
        steps=(
            Step("highest temperature", highest, "temperature", "limit, or boiling less its margin"),
            Step("room above the hot day", highest - run.hot_day, "temperature_difference"),
            Step("power that settles there", load, "W", "P (room / rise)^(1/n) / extra heat"),
        ),
    )


def _capacity(run: Run, least: ResolvedLimit) -> Capacity:
    """The heat at which the coolant reaches its limit, or comes too near to boiling."""
    highest, highest_u = run.limit.number, 0.0
    if run.boiling.temperature - least.number < highest:
        highest, highest_u = run.boiling.temperature - least.number, run.boiling.u
    room = highest - run.hot_day
    load = sustained_load(run.power.value, run.rise, room) / run.plan.extra
    relative = hypot(run.power_u, run.rise_u / run.rise, highest_u / room if room > 0.0 else 0.0)
    return Capacity(
        "cooling-core-too-small",
        "power",
        load,
        load * relative,
        finding=f"cooling.plan#{run.sheet.id}",
        text="power under which the coolant settles at its limit on the hot day",
        until=RUN,
        source="steady run",
    )


def cold_rules(sheet: Sheet, limits: Limits) -> Iterator[Finding]:
    """Judge what the cold engine told: whether the system holds pressure, and the cap against its mark."""
    loss = sheet.reading("hold_loss")
    if loss is not None:
        text = f"loses {format_value(loss.value, 'pressure_difference')} in 10 min"
        yield _cold("hold", sheet, "hold_loss", loss, limits["cooling.hold_loss"], loss.value, loss.u, text)
    marked, tested = sheet.reading("cap_marked"), sheet.reading("cap_tested")
    if tested is None:
        return
    if marked is None or marked.value <= 0.0:
        yield Finding("cooling.cap", sheet.id, unknown="the cap's mark is not on the sheet")
        return
    # The mark is a nominal figure: only the tester is uncertain.
    short = 1.0 - tested.value / marked.value
    u = None if tested.u is None else tested.u / marked.value
    text = f"cap opens at {format_value(tested.value, 'pressure_gauge')}"
    yield _cold("cap", sheet, "cap_tested", tested, limits["cooling.cap_short"], short, u, text)


def _cold(
    rule: str,
    sheet: Sheet,
    field: str,
    reading: Reading,
    limit: ResolvedLimit,
    y: float,
    u: float | None,
    text: str,
) -> Finding:
    used = (Used(f"{sheet.id}.{field}", reading.value, reading.u, "Pa"),)
    if u is None:
        return Finding(f"cooling.{rule}", sheet.id, unknown="uncertainty of the reading not known", readings=used)
    verdict = limit.judge(y, u)
    return Finding(
        f"cooling.{rule}",
        sheet.id,
        verdicts=(verdict,),
        text=text,
        bands={"fired": verdict.p_beyond, "clean": 1.0 - verdict.p_beyond},
        readings=used,
        clears=not reading.refused,
    )


def _used(sheet: Sheet) -> tuple[Used, ...]:
    units = {"coolant_temperature": "temperature", "ambient_temperature": "temperature", "power": "power"}
    readings = ((name, unit, sheet.reading(name)) for name, unit in units.items())
    return tuple(Used(f"{sheet.id}.{name}", r.value, r.u, unit) for name, unit, r in readings if r is not None)
