"""Parts that share the air in parallel, and the torque that an air flow carries."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy_plugins.modifications import flow_limits
from loadworthy_plugins.shared_results import step

if TYPE_CHECKING:
    from collections.abc import Sequence

    from loadworthy.sdk import Step
    from loadworthy_plugins.modifications.inventory import Part
    from loadworthy_plugins.modifications.setting import Setting


def parallel_count(s: Setting, parts: Sequence[Part]) -> int:
    """Return how many of these parts stand side by side in the air.

    Only named places count as several; what is said of all of them is no further one, and stages in series add nothing.
    """
    places = {part.position for part in parts if part.position}
    return 1 if s.case.vehicle.get("induction") == "twin" else max(1, len(places))


def together(
    s: Setting, parts: Sequence[Part], known: Sequence[tuple[Part, tuple[float, float]]]
) -> tuple[Part, float, float, bool]:
    """Return the smallest of parallel parts, what all carry together, its relative u, and whether that may clear.

    They share the air alike: the smallest is full first. One without figures may be smaller yet.
    """
    count = parallel_count(s, parts)
    part, (least, _) = min(known, key=lambda one: (one[1][0], one[0].position))
    u = max(u / most for _, (most, u) in known)
    sure = len(known) == len(parts) and not any(one.doubtful for one in parts)
    return part, count * least, u, sure


def chain_of_air(s: Setting, air: float, i: int) -> tuple[Step, ...]:
    """Return what crank torque an air flow carries, by the demand's own specific air consumption at the plan."""
    level, power = s.at_plan("air_flow", i), s.at_plan("power", i)
    if level is None or power is None or power.value <= 0.0:
        return ()
    carried = flow_limits.power_of_air(air, level.value / power.value)
    torque = flow_limits.torque_of_power(carried, s.speeds[i])
    return step("crank torque that it carries", torque, "N m", "P/(2 pi n)")
