"""The engine as the case describes it, in plain numbers: what is known, what is assumed, what is missing."""

from __future__ import annotations

from math import pi, radians
from typing import TYPE_CHECKING, Any

from loadworthy.sdk import NamedTuple
from loadworthy_plugins.compression.geometry import (
    DEFAULT_ROD_TO_STROKE,
    UNKNOWN_CLOSING,
    Cylinder,
    closing_bounds,
)
from loadworthy_plugins.shared_layout import banks
from loadworthy_plugins.shared_results import number

if TYPE_CHECKING:
    from collections.abc import Mapping

#: Static ratio and closing (rad) where not given, only for what a leak costs (judgement: it hardly depends on them).
_ASSUMED_RATIO = {False: 10.0, True: 17.0}
_ASSUMED_CLOSING = {False: radians(50.0), True: radians(35.0)}


class Engine(NamedTuple):
    """What the rules need of ``[vehicle]``.

    ``cylinder`` and ``closing`` (low, best, high in rad) are None unless given; ``leaking`` is the best cylinder for
    the cost of a leak, with what was ``assumed`` for it in words. ``banks`` is empty where nobody says how the
    cylinders stand.
    """

    cylinders: int | None
    banks: tuple[tuple[int, ...], ...]
    diesel: bool | None
    covered: bool
    cylinder: Cylinder | None
    closing: tuple[float, float, float] | None
    leaking: Cylinder | None
    leaking_closing: float
    assumed: tuple[str, ...]
    ratio: float | None
    values: Mapping[str, Any]

    def flag(self, name: str) -> bool | None:
        """Return a flag of the vehicle; None where it is not given."""
        value = self.values.get(name)
        return value if isinstance(value, bool) else None

    def word(self, name: str) -> str:
        """Return a choice of the vehicle, empty where it is not given."""
        value = self.values.get(name)
        return value if isinstance(value, str) else ""

    def value(self, name: str) -> float | None:
        """Return a number of the vehicle, SI; None where it is not given."""
        return number(self.values.get(name))

    @property
    def numbers(self) -> tuple[int, ...]:
        """Every cylinder's number, none where the count is unknown."""
        return tuple(range(1, (self.cylinders or 0) + 1))

    def by_cylinder(self, values: Mapping[str, Any] | None) -> dict[int, Any]:
        """Return a per-cylinder field by number, in order, without cylinders that the engine does not have."""
        own = self.numbers
        found = {int(key): value for key, value in (values or {}).items() if str(key).isdigit()}
        return {n: found[n] for n in sorted(found) if n in own}

    @property
    def deactivation_set(self) -> tuple[int, ...]:
        """Cylinders that the engine can cut off."""
        return tuple(sorted(int(n) for n in self.values.get("deactivation_set") or ()))

    def subject(self, number: int) -> str | None:
        """Return the subject id of a cylinder; None for the only one."""
        return None if self.cylinders == 1 else f"cylinder {number}"

    def late_closing(self, limit_degrees: float) -> bool | None:
        """Tell whether the intake closes late by design, or the starter is a hybrid's; None where unknown."""
        if self.flag("motor_generator_start"):
            return True
        closing = self.value("intake_closing")
        return None if closing is None else closing > limit_degrees


def read_engine(vehicle: Mapping[str, Any]) -> Engine:
    """Read the engine from the vehicle's fields. Values that contradict each other are left out."""
    count = number(vehicle.get("cylinder_count"))
    fuel = vehicle.get("fuel")
    diesel = str(fuel).startswith("diesel") if isinstance(fuel, str) else None
    ratio = number(vehicle.get("compression_ratio"))
    bore, stroke = number(vehicle.get("bore")), number(vehicle.get("stroke"))
    cylinder = None
    if bore and stroke and ratio:
        rod = number(vehicle.get("rod_length")) or DEFAULT_ROD_TO_STROKE * stroke
        offset = number(vehicle.get("pin_offset")) or 0.0
        if rod > stroke / 2.0 + abs(offset):
            cylinder = Cylinder(bore, stroke, rod, ratio, offset)
    closing = None
    angle = number(vehicle.get("intake_closing"))
    if angle is not None:
        # Another camshaft closes elsewhere than the papers say.
        basis = "unknown" if vehicle.get("cam_changed") else vehicle.get("intake_closing_basis")
        closing = closing_bounds(radians(angle), basis or "unknown")
    leaking, assumed = _leaking(vehicle, cylinder, count, ratio, bool(diesel))
    if closing is None:
        assumed = (*assumed, "intake closing")
    return Engine(
        cylinders=int(count) if count is not None else None,
        banks=banks(vehicle),
        diesel=diesel,
        covered=vehicle.get("engine_cycle") in (None, "four_stroke"),
        cylinder=cylinder,
        closing=closing,
        leaking=leaking,
        leaking_closing=closing[1] if closing else _ASSUMED_CLOSING[bool(diesel)],
        assumed=assumed,
        ratio=ratio,
        values=vehicle,
    )


def band_closing(engine: Engine) -> tuple[float, float, float]:
    """Return bounds of the intake closing for the sanity band: as given, else 40 to 65 degrees."""
    low, high = UNKNOWN_CLOSING
    return engine.closing or (low, (low + high) / 2.0, high)


def _leaking(
    vehicle: Mapping[str, Any], cylinder: Cylinder | None, count: float | None, ratio: float | None, diesel: bool
) -> tuple[Cylinder | None, tuple[str, ...]]:
    """Return a cylinder good enough for the cost of a leak, and what was assumed for it."""
    if cylinder is not None:
        return cylinder, ()
    assumed = ["compression ratio"] if ratio is None else []
    ratio = ratio or _ASSUMED_RATIO[diesel]
    bore, stroke = number(vehicle.get("bore")), number(vehicle.get("stroke"))
    if not (bore and stroke):
        displacement = number(vehicle.get("displacement"))
        if not displacement or not count:
            return None, ()
        bore = stroke = (4.0 * displacement / count / pi) ** (1.0 / 3.0)
        assumed.append("bore and stroke equal")
    return Cylinder(bore, stroke, DEFAULT_ROD_TO_STROKE * stroke, ratio), tuple(assumed)
