"""A sheet of oil pressures with the figures that it is held to."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.sdk import NamedTuple
from loadworthy_plugins.oil_system.points import FARTHEST, REFERENCE, Sweep
from loadworthy_plugins.oil_system.reference import Figure
from loadworthy_plugins.shared_results import number

if TYPE_CHECKING:
    from loadworthy.sdk import Case, Limits, Sheet

REGULATED = ("two_stage", "variable")


class Held(NamedTuple):
    """A sweep with the figures that it is held to. ``pump`` is empty where nobody says which kind it is."""

    sweep: Sweep
    case: Case
    limits: Limits
    minimum: tuple[Figure, ...]
    maximum: tuple[Figure, ...]
    record: tuple[Figure, ...]
    share: float
    pump: str
    top_speed: float | None

    @property
    def sheet(self) -> Sheet:
        """The sheet itself."""
        return self.sweep.sheet

    @property
    def regulated(self) -> bool:
        """Whether the pump holds a commanded pressure."""
        return self.pump in REGULATED

    @property
    def cap(self) -> str:
        """The sharpest grade that rules for fixed pumps may give: ``watch`` where the kind of pump is not known."""
        return "" if self.pump == "fixed" else "watch"

    @property
    def relief(self) -> float | None:
        """The relief setting by maker or record, Pa gauge."""
        return number(self.case.vehicle.get("relief_pressure"))

    def why_not_clear(self) -> str:
        """Return why the sheet can clear nothing, empty where it can."""
        sweep = self.sweep
        if not sweep.points:
            return "no point that can be judged"
        if sweep.lacks:
            return "not measured at " + ", ".join(sweep.lacks)
        if not sweep.hot(self.limits):
            return "oil not hot at every point, or its temperature not written beside it"
        if sweep.refused:
            return sweep.refused
        if any(p.temperature is not None and abs(p.temperature - REFERENCE) > FARTHEST for p in sweep.points):
            return "oil temperature too far from the reference: measure again at temperature"
        return "" if sweep.trusted else "neither by gauge nor by a sender that passed both its tests"
