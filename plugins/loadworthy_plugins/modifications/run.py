"""One mixture run in plain numbers: ambient, trims by bank and their conditions, volumetric efficiency."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final

from loadworthy.sdk import Finding, NamedTuple, Used, normal_cdf
from loadworthy_plugins.modifications.entry import ID
from loadworthy_plugins.modifications.mixture import volumetric_efficiency
from loadworthy_plugins.modifications.rules_calibration import compared
from loadworthy_plugins.physics.atmosphere import standard_air, station_pressure
from loadworthy_plugins.shared_fields import DIESEL_FUELS
from loadworthy_plugins.shared_results import number

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from loadworthy.sdk import Case, Limits, Sheet

#: Of two readings of one air meter, relative; of a pulse or lambda read again (judgement).
U_SAME_METER: Final = 0.01
#: Air pressure taken from the altitude alone, Pa; per metre of altitude where a report was reduced to sea level.
U_FROM_ALTITUDE: Final = 1000.0
PER_METRE: Final = 12.0
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


# Air --------------------------------------------------------------------------------------------------------------


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
