"""Under what conditions a sheet was taken: what was wrong, what nobody wrote down, and the air of the day."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.sdk import NamedTuple
from loadworthy_plugins.physics.atmosphere import standard_air, station_pressure
from loadworthy_plugins.shared_results import number

if TYPE_CHECKING:
    from loadworthy.sdk import Limits, Sheet
    from loadworthy_plugins.compression.engine import Engine


class Conditions(NamedTuple):
    """Conditions that were wrong, and those that nobody wrote down, in words.

    Wrong ones take the sharpest verdict away; wrong or unknown ones take every acquittal away.
    """

    wrong: tuple[str, ...] = ()
    unknown: tuple[str, ...] = ()

    @property
    def clear(self) -> bool:
        """Tell whether the sheet may clear anything."""
        return not self.wrong and not self.unknown

    @property
    def words(self) -> str:
        """What stands against the sheet, in one line."""
        parts = [*self.wrong, *(f"{what} not known" for what in self.unknown)]
        return "; ".join(parts)


def ambient(sheet: Sheet) -> float | None:
    """Return the air pressure at the place, Pa absolute; None where the sheet does not settle it.

    A pressure reduced to sea level needs the altitude; one whose kind is not given is not used, unless the altitude
    stands beside it.
    """
    pressure, height = number(sheet.get("ambient_pressure")), number(sheet.get("altitude"))
    kind = sheet.get("ambient_pressure_kind")
    if pressure is not None and kind == "station":
        return pressure
    if pressure is not None and kind == "sea_level_reduced":
        return station_pressure(pressure, height) if height is not None else None
    return standard_air(height).pressure if height is not None else None


def speeds(sheet: Sheet) -> tuple[float, ...]:
    """Return the cranking speeds that the sheet holds, rev/s: by cylinder, else the one of all."""
    each = sheet.get("cranking_speeds") or {}
    found = [number(each[key]) for key in sorted(each)] or [number(sheet.get("cranking_speed"))]
    return tuple(speed for speed in found if speed is not None)


def speed_floor(engine: Engine, limits: Limits) -> float:
    """Return the least cranking speed of a valid test, rev/s; the petrol one where the fuel is not known."""
    return limits[f"compression.speed_floor_{'diesel' if engine.diesel else 'petrol'}"].number


def cranked_slowly(sheet: Sheet, engine: Engine, limits: Limits) -> bool | None:
    """Tell whether the engine was cranked too slowly; None where nobody measured the speed."""
    found = speeds(sheet)
    return min(found) < speed_floor(engine, limits) if found else None


def dry_conditions(sheet: Sheet, engine: Engine, limits: Limits) -> Conditions:
    """Judge the conditions of a compression test: throttle, strokes, speed, temperature, air, fuel."""
    wrong, unknown = [], []
    throttle = sheet.get("throttle_state")
    if throttle == "closed":
        wrong.append("throttle closed")
    elif throttle != "wide_open" and not (throttle == "none" and engine.diesel):
        unknown.append("throttle")
    strokes = number(sheet.get("compression_strokes"))
    if strokes is None:
        unknown.append("compression strokes")
    elif strokes < limits["compression.least_strokes"].number:
        wrong.append("too few compression strokes")
    found = speeds(sheet)
    if not found:
        unknown.append("cranking speed")
    else:
        if cranked_slowly(sheet, engine, limits):
            wrong.append("cranked too slowly")
        spread = max(found) - min(found)
        mean = sum(found) / len(found)
        most = min(limits["compression.speed_spread_abs"].number, limits["compression.speed_spread"].number * mean)
        if spread > most:
            wrong.append("cranking speed differs between cylinders")
    coolant = number(sheet.get("coolant_temp"))
    if coolant is None:
        unknown.append("engine temperature")
    elif coolant < limits["compression.least_coolant_temp"].number:
        wrong.append("engine cold")
    if ambient(sheet) is None:
        unknown.append("air pressure at the place")
    if engine.diesel is None:
        unknown.append("fuel")
    return Conditions(tuple(wrong), tuple(unknown))


def leak_conditions(sheet: Sheet) -> Conditions:
    """Judge the conditions of a leak-down test: top dead centre held, engine warm."""
    wrong, unknown = [], []
    held, warm = sheet.get("leak_tdc_held"), sheet.get("leak_engine_warm")
    if held is False:
        wrong.append("not held at top dead centre")
    elif held is None:
        unknown.append("top dead centre")
    if warm is False:
        wrong.append("engine cold")
    elif warm is None:
        unknown.append("engine temperature")
    return Conditions(tuple(wrong), tuple(unknown))
