"""One mixture run in plain numbers: ambient, trims by bank, volumetric efficiency, fuel pressure, conditions."""

from __future__ import annotations

from itertools import pairwise
from math import hypot
from typing import TYPE_CHECKING, Any, Final

from loadworthy.sdk import Finding, NamedTuple, Used, normal_cdf
from loadworthy_plugins.modifications.mixture import (
    CYLINDER_PRESSURE,
    air_fuel_balance,
    flow_at,
    fuel_injected,
    port_differential,
    typical_dead_time,
    volumetric_efficiency,
)
from loadworthy_plugins.physics.atmosphere import standard_air, station_pressure
from loadworthy_plugins.physics.fuels import FUELS, petrol_blend
from loadworthy_plugins.shared_fields import DIESEL_FUELS
from loadworthy_plugins.shared_results import number

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from loadworthy.sdk import Case, Limits, Sheet

ID = "modifications."
#: Of two readings of one air meter, relative; of a pulse or lambda read again (judgement).
U_SAME_METER: Final = 0.01
#: Air pressure taken from the altitude alone, Pa; per metre of altitude where a report was reduced to sea level.
U_FROM_ALTITUDE: Final = 1000.0
PER_METRE: Final = 12.0
#: Of a typical dead time, s (judgement).
U_DEAD_TIME: Final = 0.2e-3
#: Volumetric efficiency at full load where nobody gives the standard engine's, spark and diesel, and its u (judgement).
TYPICAL_VE: Final = (0.93, 0.87)
U_TYPICAL_VE: Final = 0.07


class Value(NamedTuple):
    """A number with its standard uncertainty, where it was read, and why it may clear nothing."""

    value: float
    u: float
    place: str = ""
    refused: str = ""


class Trim(NamedTuple):
    """Short and long trim of one bank at one point."""

    region: str
    flow: float
    value: float
    u: float
    voltage: float | None
    place: str
    refused: str


class Factor(NamedTuple):
    """Volumetric efficiency of a point and what it is over the standard engine's (None: no figure to compare)."""

    region: str
    speed: float
    air: float
    ve: float
    u: float
    factor: float | None
    u_reference: float
    place: str
    refused: str


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


class Run(NamedTuple):
    """A sheet with the facts that its rules are held to.

    ``scaled`` is the probability that a pressure sensor is off by a ratio; None where none was read at key-on.
    """

    sheet: Sheet
    case: Case
    limits: Limits
    ambient: Value | None
    scaled: float | None = None

    @property
    def rows(self) -> Sequence[Mapping[str, Any]]:
        """The points as written; one that is not finished has no region yet, and counts for none."""
        return tuple(row if "region" in row else {**row, "region": ""} for row in self.sheet.get("points") or ())

    @property
    def diesel(self) -> bool:
        """Whether the engine burns diesel: it has no trims to judge."""
        return self.case.vehicle.get("fuel") in DIESEL_FUELS

    @property
    def metering(self) -> str:
        """How the air is metered, empty where nobody says."""
        return str(self.case.vehicle.get("air_metering") or "")

    @property
    def direct(self) -> bool:
        """Whether fuel is injected into the cylinder."""
        return self.case.vehicle.get("fuel_system") == "direct"

    @property
    def charged(self) -> bool:
        """Whether a turbocharger stands in the air path."""
        return self.case.vehicle.get("induction") in ("turbo", "twin")

    def limit(self, name: str) -> float:
        """Return a threshold of this check by its local name."""
        return self.limits[ID + name].number

    def fact(self, name: str) -> Value | None:
        """Return a stated fact of the vehicle, exact where it has no uncertainty of its own."""
        found = self.case.vehicle.get(name)
        value = number(found)
        return None if value is None else Value(value, getattr(found, "u", None) or 0.0)

    def read(self, name: str) -> Value | None:
        """Return a reading of the sheet; None where missing or without known uncertainty."""
        return value_of(self.sheet.get(name), f"{self.sheet.id}.{name}")

    def why_scaled(self) -> str:
        """Return why nothing that uses manifold pressure can be judged, empty where it can."""
        fired = self.scaled is not None and self.scaled >= 0.5
        return "a pressure sensor is off by a ratio at key-on: manifold pressure cannot be used" if fired else ""

    @property
    def sensors_clean(self) -> bool:
        """Whether the pressure sensors were read at key-on and found right."""
        return self.scaled is not None and self.scaled < 0.05


def value_of(found: Any, place: str) -> Value | None:
    """Return a reading as a value; None where missing or without known uncertainty."""
    if not hasattr(found, "u_parts") or found.u is None:
        return None
    return Value(found.value, found.u, place, found.refused)


def show(one: Value, unit: str = "") -> Used:
    """Return a value as it was used."""
    return Used(one.place, one.value, one.u, unit)


def finding(run: Run, rule: str, subject: str | None = None, **more: Any) -> Finding:
    """Return a finding of this check's own ``rule`` on the run's sheet."""
    return Finding(ID + rule, run.sheet.id, subject, **more)


def within(value: float, u: float, low: float, high: float) -> float:
    """Return the probability that the true value lies between two bounds."""
    if u == 0.0:
        return float(low <= value <= high)
    return max(0.0, normal_cdf((high - value) / u) - normal_cdf((low - value) / u))


def most_trusted(refused: Sequence[str]) -> str:
    """Return the first reason why something may clear nothing."""
    return next((one for one in refused if one), "")


def ambient_of(sheet: Sheet) -> Value | None:
    """Return the air pressure at the place, Pa absolute; None where the sheet does not settle it.

    A figure reduced to sea level needs the altitude; one whose kind nobody wrote is not used.
    """
    pressure = value_of(sheet.get("ambient_pressure"), f"{sheet.id}.ambient_pressure")
    height = value_of(sheet.get("altitude"), f"{sheet.id}.altitude")
    kind = sheet.get("ambient_pressure_kind")
    if pressure is not None and kind == "station":
        return pressure
    if pressure is not None and kind == "sea_level_reduced":
        if height is None:
            return None
        u = (pressure.u**2 + (PER_METRE * height.u) ** 2) ** 0.5
        return Value(station_pressure(pressure.value, height.value), u, pressure.place, pressure.refused)
    if height is None:
        return None
    return Value(standard_air(height.value).pressure, U_FROM_ALTITUDE, height.place, height.refused)


# Trims ----------------------------------------------------------------------------------------------------------------


def banks_of(run: Run) -> tuple[str, ...]:
    """Return the keys of the banks: those of the vehicle, and those that have trims."""
    banks = run.case.vehicle.get("cylinder_banks") or ()
    found = {str(i) for i, _ in enumerate(banks, 1)}
    for row in run.rows:
        for name in ("trim_short", "trim_long"):
            found |= set(row.get(name) or ())
    return tuple(sorted(found))


def subject_of(bank: str, banks: Sequence[str]) -> str | None:
    """Return the subject of a bank; None where there is only one."""
    return f"bank {bank}" if len(banks) > 1 else None


def trims_of(run: Run, bank: str) -> tuple[Trim, ...]:
    """Return the closed-loop trims of one bank, lowest flow first. A point needs its long trim, or its short one."""
    found = []
    for i, row in enumerate(run.rows, 1):
        loop = row.get("closed_loop")
        if (run.sheet.get("closed_loop") if loop is None else loop) is False:
            continue
        parts = [
            part
            for name in ("trim_short", "trim_long")
            if (part := value_of((row.get(name) or {}).get(bank), f"{run.sheet.id}.points[{i}].{name}.{bank}"))
        ]
        if not parts or not row["region"]:
            continue
        found.append(
            Trim(
                row["region"],
                _flow_rank(row),
                sum(part.value for part in parts),
                sum(part.u**2 for part in parts) ** 0.5,
                number(row.get("injector_voltage")),
                parts[-1].place,
                most_trusted([part.refused for part in parts]),
            )
        )
    return tuple(sorted(found, key=lambda one: one.flow))


def _flow_rank(row: Mapping[str, Any]) -> float:
    """Return what orders points by flow: metered air, else speed times manifold pressure, else the region."""
    air = number(row.get("air_flow"))
    if air is not None:
        return air
    speed, pressure = number(row.get("engine_speed")), number(row.get("map"))
    if speed is not None and pressure is not None:
        return speed * pressure * 1e-9
    return {"idle": 1e-9, "cruise": 1e-6, "load": 1e-3}.get(row["region"], 0.0)


def trim_conditions(run: Run) -> tuple[str, str]:
    """Return what makes every trim of the sheet worthless, and what nobody wrote down, each empty or in words."""
    sheet = run.sheet
    wrong, unknown = [], []
    for name, bad, words in (
        ("warm", False, "engine not warm"),
        ("purge_active", True, "fuel-vapour purge open"),
        ("misfire_seen", True, "misfire"),
        ("exhaust_leak_seen", True, "exhaust leak before the sensor"),
    ):
        found = sheet.get(name)
        if found is bad:
            wrong.append(words)
        elif found is None:
            unknown.append(name.replace("_", " "))
    driven = number(sheet.get("distance_since_clear"))
    if driven is None:
        unknown.append("distance since clear")
    elif driven < run.limit("trim_distance"):
        wrong.append("just cleared: still learning")
    loops = [sheet.get("closed_loop") if row.get("closed_loop") is None else row["closed_loop"] for row in run.rows]
    if any(loop is None for loop in loops):
        unknown.append("closed loop")
    elif loops and not any(loops):
        wrong.append("open loop")
    return "; ".join(wrong), ", ".join(unknown)


# Air and fuel ---------------------------------------------------------------------------------------------------------


def factors_of(run: Run) -> tuple[Factor, ...]:
    """Return the volumetric efficiency of every point that has one, lowest flow first."""
    displacement = run.fact("displacement")
    if displacement is None:
        return ()
    found = []
    for i, row in enumerate(run.rows, 1):
        place = f"{run.sheet.id}.points[{i}]"
        air, pressure = value_of(row.get("air_flow"), place + ".air_flow"), value_of(row.get("map"), place + ".map")
        gas = value_of(row.get("charge_temp"), place + ".charge_temp")
        speed = number(row.get("engine_speed"))
        if air is None or pressure is None or gas is None or speed is None or air.value <= 0.0:
            continue
        ve = volumetric_efficiency(air.value, pressure.value, gas.value, displacement.value, speed)
        u = ((air.u / air.value) ** 2 + (pressure.u / pressure.value) ** 2 + (gas.u / gas.value) ** 2) ** 0.5
        reference = _standard_ve(run, row["region"], speed)
        found.append(
            Factor(
                row["region"],
                speed,
                air.value,
                ve,
                u * ve,
                ve / reference.value if reference is not None else None,
                reference.u / reference.value if reference is not None else 0.0,
                air.place,
                most_trusted([air.refused, pressure.refused, gas.refused]),
            )
        )
    return tuple(sorted(found, key=lambda one: one.air))


def _standard_ve(run: Run, region: str, speed: float) -> Value | None:
    """Return the standard engine's volumetric efficiency, linear in speed; without figures a typical one at load."""
    given = run.case.vehicle.get("ve_standard") or ()
    known = sorted(
        (row["engine_speed"].value, row["ve"].value, row["ve"].u or 0.0)
        for row in given
        if row.get("region") == region and "engine_speed" in row and "ve" in row
    )
    if not given:
        return Value(TYPICAL_VE[run.diesel], U_TYPICAL_VE) if region == "load" else None
    if not known or not 0.95 * known[0][0] <= speed <= 1.05 * known[-1][0]:
        return None
    for (a, ve_a, u_a), (b, ve_b, u_b) in pairwise(known):
        if a <= speed <= b:
            share = (speed - a) / (b - a)
            return Value(ve_a + share * (ve_b - ve_a), max(u_a, u_b))
    _, ve, u = known[0] if speed <= known[0][0] else known[-1]
    return Value(ve, u)


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


#: Numbers of the control unit and where the maker's list has them.
NUMBERS: Final = (("calibration_id", "maker_calibration_id"), ("verification_number", "maker_verification_number"))


def compared(sheet: Sheet) -> dict[str, bool]:
    """Return which numbers of a record of the calibration are the maker's; only those that both sides give.

    Blanks, hyphens and case are set aside.
    """
    found = {}
    for name, maker in NUMBERS:
        read, listed = ("".join(str(sheet.get(key) or "").split()).replace("-", "").upper() for key in (name, maker))
        if read and listed:
            found[name] = read == listed
    return found


def standard_calibration(run: Run) -> bool | None:
    """Return whether the calibration was the standard one: by the latest record up to the run's day; None: unknown.

    A later record that finds it changed counts too: nobody knows since when.
    """
    told: bool | None = None
    for sheet in run.case.of("calibration"):
        said = {"standard": True, "changed_by": False}.get(str(sheet.get("present_calibration")))
        if not all(compared(sheet).values()):
            said = False
        if said is not None and (sheet.date <= run.sheet.date or not said):
            told = said
    return told
