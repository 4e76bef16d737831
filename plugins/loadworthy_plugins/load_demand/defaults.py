"""What an engine of a kind needs where nothing of this car is known: air, filling, losses. All judgement.

``u`` figures are relative standard uncertainties. Each pair is (at peak torque, at rated power).
"""

from __future__ import annotations

from typing import Final, Literal

from loadworthy.sdk import NamedTuple

Charging = Literal["none", "turbo", "supercharger"]
Family = Literal["spark", "diesel"]
Pair = tuple[float, float]


class Row(NamedTuple):
    """One engine type. ``specific`` is air for spark ignition and fuel for diesel, both kg/kWh at full load."""

    text: str
    family: Family
    charging: Charging
    specific: Pair
    mixture: Pair
    filling: Pair
    u_specific: float
    u_filling: float


PETROL_PHASED: Final = Row(
    "petrol, naturally aspirated, 4 valves, phased cams", "spark", "none",
    (3.45, 3.65), (0.90, 0.88), (1.00, 0.95), 0.05, 0.06,
)  # fmt: skip
PETROL_FIXED: Final = Row(
    "petrol, naturally aspirated, 4 valves, fixed cams", "spark", "none",
    (3.50, 3.70), (0.90, 0.88), (0.94, 0.90), 0.05, 0.06,
)  # fmt: skip
PETROL_TWO_VALVE: Final = Row(
    "petrol, naturally aspirated, 2 valves", "spark", "none",
    (3.55, 3.80), (0.89, 0.87), (0.87, 0.80), 0.06, 0.07,
)  # fmt: skip
PETROL_TURBO: Final = Row(
    "petrol, turbo, 4 valves", "spark", "turbo",
    (3.70, 3.85), (0.88, 0.82), (0.95, 0.90), 0.05, 0.06,
)  # fmt: skip
PETROL_SUPERCHARGED: Final = Row(
    "petrol, mechanical supercharger", "spark", "supercharger",
    (3.95, 4.30), (0.88, 0.84), (0.93, 0.88), 0.07, 0.06,
)  # fmt: skip
DIESEL_COMMON_RAIL: Final = Row(
    "diesel, turbo, common rail", "diesel", "turbo",
    (0.208, 0.225), (1.20, 1.28), (0.92, 0.88), 0.06, 0.06,
)  # fmt: skip
DIESEL_OLD: Final = Row(
    "diesel, turbo, old indirect or 2 valves", "diesel", "turbo",
    (0.245, 0.270), (1.25, 1.35), (0.86, 0.80), 0.08, 0.07,
)  # fmt: skip
DIESEL_ASPIRATED: Final = Row(
    "diesel, naturally aspirated", "diesel", "none",
    (0.255, 0.275), (1.20, 1.25), (0.86, 0.80), 0.08, 0.07,
)  # fmt: skip
ROWS: Final = (
    PETROL_PHASED, PETROL_FIXED, PETROL_TWO_VALVE, PETROL_TURBO, PETROL_SUPERCHARGED,
    DIESEL_COMMON_RAIL, DIESEL_OLD, DIESEL_ASPIRATED,
)  # fmt: skip

#: Added to both uncertainties where no row fits and the nearest one serves.
NEAREST_ROW_U: Final = 0.03


class Choice(NamedTuple):
    """The row that serves an engine, with uncertainties widened where it is only the nearest, and why."""

    row: Row
    exact: bool
    why: str

    @property
    def u_specific(self) -> float:
        """Relative standard uncertainty of the specific consumption."""
        return self.row.u_specific + (0.0 if self.exact else NEAREST_ROW_U)

    @property
    def u_filling(self) -> float:
        """Relative standard uncertainty of the volumetric efficiency."""
        return self.row.u_filling + (0.0 if self.exact else NEAREST_ROW_U)


def choose_row(kind: str, induction: str, valves: int | None, cam_phasing: bool | None) -> Choice:
    """Pick the row of an engine: fuel kind (petrol, diesel, gas, alcohol), induction, valves per cylinder, cam phasing.

    Unknown valves or phasing take the row with the lower volumetric efficiency. Gas and alcohol use petrol rows,
    a twin-charged engine the turbo row, as the nearest.

    >>> choose_row("petrol", "turbo", 4, None).row.text, choose_row("petrol", "none", None, None).row.text
    ('petrol, turbo, 4 valves', 'petrol, naturally aspirated, 2 valves')
    """
    if induction not in ("none", "turbo", "supercharger", "twin"):
        raise ValueError(f"unknown induction {induction!r}")
    four = valves is not None and valves >= 4
    reasons = []
    if induction == "twin":
        reasons.append("no row for twin charging: nearest is turbo")
    if kind == "diesel":
        if induction == "none":
            row = DIESEL_ASPIRATED
        else:
            row = DIESEL_COMMON_RAIL if four else DIESEL_OLD
            if induction == "supercharger":
                reasons.append("no row for a supercharged diesel: nearest is turbo")
    else:
        if kind != "petrol":
            reasons.append(f"no row for {kind}: nearest is petrol")
        if induction == "none":
            row = (PETROL_PHASED if cam_phasing else PETROL_FIXED) if four else PETROL_TWO_VALVE
        elif induction == "supercharger":
            row = PETROL_SUPERCHARGED
        else:
            row = PETROL_TURBO
            if not four:
                seen = "valves per cylinder not stated" if valves is None else f"{valves} valves per cylinder"
                reasons.append(f"{seen}: the row is for 4")
    return Choice(row, not reasons, "; ".join(reasons) or "row of this engine type")


def at_speed(pair: Pair, speed: float, torque_speed: float, power_speed: float) -> float:
    """Value at a speed: linear between the speeds of peak torque and rated power, the end values outside.

    >>> at_speed((1.0, 2.0), 40.0, 30.0, 50.0), at_speed((1.0, 2.0), 20.0, 30.0, 50.0)
    (1.5, 1.0)
    """
    if speed >= power_speed:
        return pair[1]
    if speed <= torque_speed:
        return pair[0]
    return pair[0] + (speed - torque_speed) / (power_speed - torque_speed) * (pair[1] - pair[0])


def alcohol_air_factor(ethanol_fraction: float) -> float:
    """Factor on the specific air of petrol for its ethanol share: 1 up to 0.10, 0.97 from 0.85, linear between.

    >>> alcohol_air_factor(0.05), alcohol_air_factor(1.0), round(alcohol_air_factor(0.475), 3)
    (1.0, 0.97, 0.985)
    """
    share = (ethanol_fraction - 0.10) / (0.85 - 0.10)
    return 1.0 - 0.03 * min(1.0, max(0.0, share))


#: Factor on the volumetric efficiency of port-injected gas, which takes the room of air.
GAS_FILLING: Final[dict[str, float]] = {"lpg": 0.96, "cng": 0.91}

# Compressor, cooler and losses.
EFFICIENCY_MECHANICAL: Final = 0.60
EFFICIENCY_LOW_SPEED: Final = 0.70
EFFICIENCY_RATED: Final[dict[Family, float]] = {"spark": 0.72, "diesel": 0.70}
COOLER_EFFECTIVENESS: Final = 0.75
FILTER_DROP: Final = 3e3
COOLER_DROP: Final = 10e3
#: K above ambient: air at the compressor inlet, the cooling air, the coolant of an air-water cooler, and the
#: manifold air of an engine without charging.
INLET_WARMING: Final = 5.0
COOLING_AIR_WARMING: Final = 5.0
COOLANT_WARMING: Final = 15.0
ASPIRATED_WARMING: Final = 10.0
#: Manifold over ambient pressure of an engine without charging at full load, and its relative uncertainty: two of
#: them reach from 0.94 to ambient itself.
ASPIRATED_PRESSURE: Final = 0.97
ASPIRATED_PRESSURE_U: Final = 0.015


def compressor_efficiency(
    family: Family, charging: str, speed: float, torque_speed: float, power_speed: float
) -> float:
    """Isentropic efficiency of the compressor over speed (0.60 to 0.78 occur); mechanical ones 0.60.

    >>> round(compressor_efficiency("spark", "turbo", 5500 / 60, 2000 / 60, 5500 / 60), 2)
    0.72
    """
    if charging == "supercharger":
        return EFFICIENCY_MECHANICAL
    pair = (EFFICIENCY_LOW_SPEED, EFFICIENCY_RATED[family])
    return at_speed(pair, speed, torque_speed, power_speed)


class Shape(NamedTuple):
    """Where the peaks of a torque curve lie if not stated: rated speed (rev/s), peak torque over torque at rated
    power, and speed of peak torque over rated speed. The ratio has a relative u of 10 %.
    """

    power_speed: float
    torque_ratio: float
    speed_ratio: float


SHAPE_U: Final = 0.10
_SHAPES: Final[dict[str, Shape]] = {
    "aspirated": Shape(6200.0 / 60.0, 1.10, 0.72),
    "turbo": Shape(5500.0 / 60.0, 1.25, 0.45),
    "diesel": Shape(4000.0 / 60.0, 1.30, 0.48),
}


def curve_shape(family: Family, induction: str) -> Shape:
    """Shape of the full-load curve by engine kind; a mechanical supercharger keeps the shape of the bare engine.

    >>> shape = curve_shape("spark", "turbo")
    >>> round(60 * shape.power_speed), shape.torque_ratio
    (5500, 1.25)
    """
    if family == "diesel":
        return _SHAPES["diesel"]
    return _SHAPES["turbo" if induction in ("turbo", "twin") else "aspirated"]


#: Loss from crank to wheel (share) by drive: value and limits of error. Common practice, no source.
WHEEL_LOSS: Final[dict[str, tuple[float, float]]] = {
    "manual": (0.12, 0.04),
    "automatic": (0.15, 0.05),
    "all_wheel": (0.18, 0.05),
}
