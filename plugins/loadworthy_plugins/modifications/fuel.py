"""The fuel of one mixture run: ethanol, pressure over the injectors, and the cross-balance with the metered air."""

from __future__ import annotations

from math import hypot
from typing import TYPE_CHECKING, Any, Final

from loadworthy.sdk import NamedTuple
from loadworthy_plugins.modifications.entry import ID
from loadworthy_plugins.modifications.mixture import (
    CYLINDER_PRESSURE,
    air_fuel_balance,
    flow_at,
    fuel_injected,
    port_differential,
    typical_dead_time,
)
from loadworthy_plugins.modifications.run import U_SAME_METER, Value, most_trusted, value_of, within
from loadworthy_plugins.physics.fuels import FUELS, petrol_blend
from loadworthy_plugins.shared_results import number

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from loadworthy_plugins.modifications.run import Run

#: Of a typical dead time, s (judgement).
U_DEAD_TIME: Final = 0.2e-3


class Balance(NamedTuple):
    """Cross-balance of a point: metered air over the air that the injected fuel takes.

    ``guessed``: the dead time in the pulse was taken from typical figures.
    """

    region: str
    value: float
    u: float
    place: str
    refused: str
    guessed: bool


def stated_ethanol(run: Run) -> float | None:
    """Return the ethanol share of the fuel as stated; None where it is no petrol blend or nobody says."""
    given = number(run.case.vehicle.get("ethanol_fraction"))
    fuel = FUELS.get(str(run.case.vehicle.get("fuel") or ""))
    return given if given is not None else (fuel.ethanol_fraction if fuel is not None else None)


def ethanol_agrees(run: Run) -> float | None:
    """Return the probability that the tank holds the ethanol that is stated; None without a test."""
    tested, stated = run.read("ethanol_measured"), stated_ethanol(run)
    if tested is None or stated is None or tested.refused:
        return None
    tol = run.limit("ethanol_tol")
    return within(tested.value, tested.u, stated - tol, stated + tol)


def differential(run: Run, row: Mapping[str, Any]) -> Value | None:
    """Return the differential pressure over the injectors at a point, Pa; None where it is not known."""
    rail, pressure = value_of(row.get("rail_pressure"), ""), value_of(row.get("map"), "")
    if rail is None:
        return None
    if run.direct:
        found = Value(rail.value - CYLINDER_PRESSURE, rail.u, "", rail.refused)
    elif pressure is None or run.ambient is None:
        return None
    else:
        dp = port_differential(rail.value, pressure.value, run.ambient.value)
        u = (rail.u**2 + pressure.u**2 + run.ambient.u**2) ** 0.5
        found = Value(dp, u, "", most_trusted([rail.refused, pressure.refused, run.ambient.refused]))
    return found if found.value > 0.0 else None


def fuel_ratio(run: Run) -> Value | None:
    """Return the fuel pressure at idle over its set point (direct injection: rail over its target, worst point)."""
    found = []
    fixed = run.fact("fuel_pressure_set")
    system = run.case.vehicle.get("fuel_system")
    if system is None:
        return None
    referenced = system == "return_referenced"
    for i, row in enumerate(run.rows, 1):
        rail = value_of(row.get("rail_pressure"), f"{run.sheet.id}.points[{i}].rail_pressure")
        if rail is None:
            continue
        target = number(row.get("rail_target"))
        if run.direct or (target is not None and system == "returnless_variable"):
            measured, over = rail, target
        elif row["region"] != "idle" or fixed is None:
            continue
        else:
            dp = differential(run, row) if referenced else rail
            if dp is None:
                continue
            measured, over = dp._replace(place=rail.place), fixed.value
        if over is not None and over > 0.0:
            found.append(Value(measured.value / over, measured.u / over, rail.place, measured.refused))
    return max(found, key=lambda one: abs(one.value - 1.0), default=None)


def pressure_on_set(run: Run) -> float | None:
    """Return the probability that fuel pressure stands at its set point: by the numbers, else by what was written.

    None where neither is there, or a declared part falsifies the numbers.
    """
    ratio = fuel_ratio(run)
    if ratio is not None and ratio.refused:
        return None
    if ratio is not None:
        tol = run.limit("fuel_set_tol")
        return within(ratio.value, ratio.u, 1.0 - tol, 1.0 + tol)
    told = run.sheet.get("fuel_pressure_on_set")
    return None if told is None else float(told)


def balances_of(run: Run) -> tuple[Balance, ...]:
    """Return the cross-balance of every cruise and load point of a spark engine that has all it needs.

    Its u holds what changes from reading to reading; what meter, flow data and dead time may err is in the limit.
    """
    return () if run.diesel else tuple(_balances(run))


def _balances(run: Run) -> Iterator[Balance]:
    flow, at, cylinders = run.fact("injector_flow"), run.fact("injector_flow_pressure"), run.fact("cylinder_count")
    ethanol = run.read("ethanol_measured")
    stated = stated_ethanol(run)
    share = ethanol.value if ethanol is not None else stated
    if flow is None or at is None or cylinders is None or share is None:
        return
    blend = petrol_blend(share)
    tested, rated = run.read("fuel_density"), run.fact("injector_flow_density")
    density = tested.value if tested is not None else blend.density
    for i, row in enumerate(run.rows, 1):
        place = f"{run.sheet.id}.points[{i}]"
        air, pulse = value_of(row.get("air_flow"), place + ".air_flow"), value_of(row.get("pulse_width"), place)
        mixture, dp = value_of(row.get("lambda_measured"), place), differential(run, row)
        speed = number(row.get("engine_speed"))
        if (
            row["region"] not in ("cruise", "load")
            or air is None
            or pulse is None
            or mixture is None
            or dp is None
            or speed is None
        ):
            continue
        dead = _dead_time(run, row, dp.value)
        if dead is None or pulse.value <= dead or mixture.value <= 0.0:
            continue
        q = flow_at(flow.value, at.value, dp.value, rated.value if rated is not None else density, density)
        fuel = fuel_injected(q, pulse.value - dead, speed, round(cylinders.value))
        value = air_fuel_balance(air.value, mixture.value, blend.stoichiometric_air, fuel)
        guessed = dead > 0.0 and run.fact("injector_dead_time") is None
        u_open = hypot(pulse.u, U_DEAD_TIME if guessed else 0.0) / (pulse.value - dead)
        u = hypot(U_SAME_METER, u_open, mixture.u / mixture.value)
        refused = most_trusted([air.refused, pulse.refused, mixture.refused, dp.refused])
        yield Balance(row["region"], value, u * value, air.place, refused, guessed)


def _dead_time(run: Run, row: Mapping[str, Any], pressure: float) -> float | None:
    """Return the dead time in a commanded pulse, s: 0 if it is not in it, None if nobody says whether it is."""
    inside = row.get("pulse_includes_dead_time")
    if inside is None:
        return None
    stated, voltage = run.fact("injector_dead_time"), number(row.get("injector_voltage"))
    if not inside:
        return 0.0
    if run.direct:
        return stated.value if stated is not None else None
    if voltage is None:
        return None
    typical = typical_dead_time(voltage, pressure)
    # A maker's figure is for 14 V: what the voltage adds is the typical course.
    return typical if stated is None else stated.value + typical - typical_dead_time(14.0, pressure)


def balance_limit(run: Run) -> str:
    """Return the limit of the cross-balance, by whether density and ethanol of the fuel were tested."""
    tested = run.read("fuel_density") is not None and run.read("ethanol_measured") is not None
    return ID + ("balance_tol" if tested else "balance_tol_untested")
