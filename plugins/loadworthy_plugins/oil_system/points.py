"""One sheet of oil pressures in plain numbers: points, oil, what the sender is worth, what is missing."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from loadworthy.sdk import NamedTuple
from loadworthy_plugins.oil_system.oil import Oil, oil_of
from loadworthy_plugins.shared_results import number

if TYPE_CHECKING:
    from loadworthy.sdk import Case, Limits, Reading, Sheet

ID = "oil_system."
#: Standard uncertainty of the vehicle's own sender (Pa), and of oil temperatures only assumed (K): judgement.
U_SENDER, U_ASSUMED = 20e3, 9.0
#: What the minimum set asks for, rev/s: the highest speed that still counts as idle, then 2 000 and 3 000 rpm +-25 %
#: (judgement).
IDLE_UP_TO = 1200 / 60
MID, HIGH = (1500 / 60, 2500 / 60), (2250 / 60, 3750 / 60)
#: Engines that turn no faster than this have their highest point from 0.85 of it on (judgement).
_SLOW, _SHARE_OF_TOP = 4400 / 60, 0.85
#: A point further than this from the temperature of its reference is measured again, K: no pass (judgement).
FARTHEST = 40.0
#: Temperature to which pressures are corrected where the maker names none, K.
REFERENCE = 373.15
IDLE_WORD, MID_WORD, HIGH_WORD, TOP_WORD = "hot idle", "2 000 rpm", "3 000 rpm", "highest speed"


class Point(NamedTuple):
    """A pressure (Pa gauge) at a speed (rev/s), with the oil as it was then; None where something is not known."""

    speed: float
    pressure: float
    u: float
    temperature: float | None
    u_temperature: float
    mu: float | None
    flutter: float | None
    stage: str
    commanded: float | None
    gauge: bool
    refused: str
    key: str


class Sweep(NamedTuple):
    """A sheet of oil pressures. ``struck``: points of a sender that failed its tests, which neither pass nor fail."""

    sheet: Sheet
    points: tuple[Point, ...]
    struck: tuple[Point, ...]
    oil: Oil | None
    assumed_temperature: bool
    sender: str
    cold: tuple[Point, ...]
    lacks: tuple[str, ...]
    unjudged: tuple[str, ...]

    @property
    def idle(self) -> Point | None:
        """The point at hot idle, of several the lowest pressure."""
        found = [p for p in self.points if p.speed <= IDLE_UP_TO]
        return min(found, key=lambda p: p.pressure, default=None)

    @property
    def known(self) -> bool:
        """Whether viscosity and temperature were both measured."""
        return self.oil is not None and self.oil.measured and not self.assumed_temperature

    @property
    def trusted(self) -> bool:
        """Whether what was read can clear: by gauge, or by a sender that passed both its tests."""
        return bool(self.points) and (self.sender == "passed" or all(p.gauge for p in self.points))

    @property
    def refused(self) -> str:
        """Why the readings may clear nothing, empty where they may."""
        return next((p.refused for p in self.points if p.refused), "")

    def hot(self, limits: Limits) -> bool:
        """Tell whether every point was taken on hot oil."""
        least = limits[ID + "oil_temp_low"].number
        return all(p.temperature is not None and p.temperature >= least for p in self.points)


def read_sweep(sheet: Sheet, case: Case, limits: Limits, top_speed: float | None = None) -> Sweep:
    """Work out one sheet. ``top_speed`` (rev/s) is the highest that the plan asks for."""
    oil = oil_of(sheet, case)
    assumed = sheet.get("oil_temp_source") == "coolant_assumed"
    everywhere = sheet.reading("oil_temp")
    rows = tuple(sheet.get("oil_pressure_points") or ())
    found = [_point(row, i, oil, everywhere, assumed, sheet) for i, row in enumerate(rows, 1)]
    points = sorted((p for p in found if p is not None), key=lambda p: (p.speed, p.pressure, p.key))
    sender = sender_state(sheet, limits)
    good = tuple(p for p in points if p.gauge or sender != "failed")
    struck = tuple(p for p in points if not p.gauge and sender == "failed")
    cold_rows = tuple(sheet.get("cold_start_points") or ())
    cold = [_point(row, i, oil, None, False, sheet, "cold_start_points") for i, row in enumerate(cold_rows, 1)]
    return Sweep(
        sheet=sheet,
        points=good,
        struck=struck,
        oil=oil,
        assumed_temperature=assumed or any(p.temperature is None for p in good),
        sender=sender,
        cold=tuple(sorted((p for p in cold if p is not None), key=lambda p: (p.speed, p.pressure, p.key))),
        lacks=_lacks(good, top_speed),
        unjudged=tuple(f"point {i}" for i, p in enumerate(found, 1) if p is None),
    )


def _point(
    row: Any,
    index: int,
    oil: Oil | None,
    everywhere: Reading | None,
    assumed: bool,
    sheet: Sheet,
    field: str = "oil_pressure_points",
) -> Point | None:
    """Return a point, or None where its pressure has no known uncertainty."""
    speed, pressure = row.get("rpm"), row.get("pressure")
    if speed is None or pressure is None:
        return None
    gauge = row.get("source") == "mechanical_gauge" or (row.get("source") is None and field == "cold_start_points")
    u = pressure.u
    if u is None:
        return None
    if not gauge and [name for name, _ in pressure.u_parts] == ["section default"]:
        u = U_SENDER
    temperature = row.get("oil_temp") or everywhere
    value = number(temperature)
    u_temperature = (getattr(temperature, "u", None) or 3.0) if value is not None else U_ASSUMED
    if assumed:
        u_temperature = max(u_temperature, U_ASSUMED)
    scatter = number(row.get("std"))
    return Point(
        speed=speed.value,
        pressure=pressure.value,
        u=u,
        temperature=value,
        u_temperature=u_temperature,
        mu=oil.mu(value) if oil is not None and value is not None else None,
        flutter=scatter / pressure.value if scatter is not None and pressure.value > 0.0 else None,
        stage=str(row.get("commanded_stage") or ""),
        commanded=number(row.get("commanded_pressure")),
        gauge=gauge,
        refused=pressure.refused or (temperature.refused if temperature is not None else ""),
        key=f"{field}[{index}].pressure",
    )


def sender_state(sheet: Sheet, limits: Limits) -> str:
    """Return ``failed``, ``passed`` (both its tests) or an empty text."""
    gauge, sender = sheet.reading("mechanical_gauge_pressure"), sheet.reading("sender_pressure")
    off = sheet.reading("sender_engine_off")
    compared = None
    if gauge is not None and sender is not None:
        compared = abs(sender.value - gauge.value) <= allowed_difference(gauge.value, limits)
    zero = None if off is None else abs(off.value) <= limits[ID + "sender_zero"].number
    if compared is False or zero is False:
        return "failed"
    return "passed" if compared and zero else ""


def allowed_difference(gauge: float, limits: Limits) -> float:
    """Return by how much a sender may differ from a gauge, Pa."""
    share = limits[ID + "sender_disagree_share"].number
    return max(limits[ID + "sender_disagree"].number, share * abs(gauge))


def _lacks(points: tuple[Point, ...], top_speed: float | None) -> tuple[str, ...]:
    """Return what the minimum set lacks, in words."""
    speeds = [p.speed for p in points]
    highest = HIGH[1] if top_speed is None or top_speed > _SLOW else _SHARE_OF_TOP * top_speed
    wanted = (
        (IDLE_WORD, any(s <= IDLE_UP_TO for s in speeds)),
        (MID_WORD, any(MID[0] <= s <= MID[1] for s in speeds)),
        (HIGH_WORD, any(HIGH[0] <= s <= HIGH[1] for s in speeds)),
        (TOP_WORD, any(s > highest for s in speeds)),
    )
    return tuple(word for word, there in wanted if not there)
