"""Reading the demand table: quantities at a torque, ratios of plan to base, plan class (method, sections 5 and 8).

The core knows no quantity by name. The catalogue says which one is the speed axis and which is the load itself; every
other one is a table over both.
"""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING

from loadworthy.findings import Assumption, AtLeast
from loadworthy.record import NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from loadworthy.declarations import PlanClass, Quantity
    from loadworthy.findings import Demand

#: Ratios are formed only where base torque is above this share of its peak (method, section 5).
COMPARED_ABOVE = 0.2
#: Taken where the driver's demand is unknown, and where base is (judgement).
UNKNOWN_RATIO, UNKNOWN_BASE_RATIO = 1.3, 1.6
#: Largest torque ratio of each class of plan but the last (judgement).
CLASS_LIMITS: tuple[tuple[PlanClass, float], ...] = (("none", 1.02), ("mild", 1.15), ("strong", 1.35))
_CLASSES: tuple[PlanClass, ...] = ("none", "mild", "strong", "extreme")
#: Differences below this share are rounding (a figure converted from another unit), not evidence.
ROUNDING = 1e-9


def exceeds(a: float, b: float) -> bool:
    """Return whether ``a`` is greater than ``b`` by more than rounding.

    >>> exceeds(390.0000001, 390.0), exceeds(390.001, 390.0)
    (False, True)
    """
    return a > b + ROUNDING * abs(b)


def at_torque(steps: Sequence[float], row: Sequence[float], torque: float) -> float | None:
    """Return a quantity at ``torque``: linear between load steps, None outside them or where it is not a number.

    >>> at_torque((250.0, 300.0), (200.0, 240.0), 275.0), at_torque((250.0, 300.0), (200.0, 240.0), 310.0)
    (220.0, None)
    """
    if not steps or exceeds(steps[0], torque) or exceeds(torque, steps[-1]):
        return None
    torque = min(max(torque, steps[0]), steps[-1])
    for i, step in enumerate(steps):
        if torque <= step:
            if torque == step or i == 0:
                return row[i] if isfinite(row[i]) else None
            share = (torque - steps[i - 1]) / (step - steps[i - 1])
            found = row[i - 1] + share * (row[i] - row[i - 1])
            return found if isfinite(found) else None
    return None


class Level(NamedTuple):
    """A quantity at one speed and torque, with its band of two standard uncertainties."""

    low: float
    nominal: float
    high: float


def demanded(demand: Demand, quantity: str, i: int, torque: float, quantities: Mapping[str, Quantity]) -> Level | None:
    """Return what ``quantity`` is at the i-th speed and ``torque``, or None where the table does not tell.

    The speed axis and the load itself are exact unless the table gives them a band.
    """
    band = demand.quantities.get(quantity)
    if band is not None:
        steps = demand.torque[i]
        found = [at_torque(steps, rows[i], torque) for rows in (band.low, band.nominal, band.high)]
        low, nominal, high = found
        return None if low is None or nominal is None or high is None else Level(low, nominal, high)
    role = quantities[quantity].role if quantity in quantities else ""
    if role == "load":
        return Level(torque, torque, torque)
    if role == "speed":
        return Level(demand.speeds[i], demand.speeds[i], demand.speeds[i])
    return None


def _nominal(demand: Demand, quantity: str, i: int, torque: float, quantities: Mapping[str, Quantity]) -> float | None:
    """Return the nominal value of ``demanded`` alone."""
    band = demand.quantities.get(quantity)
    if band is not None:
        return at_torque(demand.torque[i], band.nominal[i], torque)
    found = demanded(demand, quantity, i, torque, quantities)
    return found.nominal if found is not None else None


def compared_speeds(demand: Demand) -> tuple[int, ...]:
    """Return the indices of the speeds at which plan and base may be compared: base above 20 % of its own peak."""
    if demand.base is None:
        return ()
    floor = COMPARED_ABOVE * max(demand.base, default=0.0)
    return tuple(i for i, base in enumerate(demand.base) if base > floor and base > 0.0)


def raised_speeds(demand: Demand) -> tuple[int, ...]:
    """Return the indices of the speeds at which the plan asks for more than base (base unknown: for anything)."""
    base = demand.base or (0.0,) * len(demand.plan)
    return tuple(i for i, plan in enumerate(demand.plan) if exceeds(plan, base[i]))


def plan_ratio(demand: Demand | None) -> float | None:
    """Return the largest ratio of planned to base torque over speed, or None where base is unknown."""
    if demand is None or demand.base is None:
        return None
    return max((demand.plan[i] / demand.base[i] for i in compared_speeds(demand)), default=None)


class Ratio(NamedTuple):
    """How much more of a cause's driver the plan asks for than base does; ``speed`` where it is largest, if one is."""

    value: float
    speed: float | None = None
    assumption: Assumption | None = None


def unknown_ratio(what: str, demand: Demand | None) -> Ratio:
    """Return the ratio that stands for an unknown one: max(1.3, torque ratio), or 1.6 where base is unknown."""
    torque = plan_ratio(demand)
    if torque is None:
        value, why = UNKNOWN_BASE_RATIO, "today's torque is unknown"
    else:
        value, why = max(UNKNOWN_RATIO, torque), "its demand is unknown"
    assumption = Assumption(f"ratio of {what}, plan to today", value, "1", f"{why} (method, section 5)")
    return Ratio(value, None, assumption)


def driver_ratio(driver: str, demand: Demand | None, quantities: Mapping[str, Quantity]) -> Ratio:
    """Return the largest ratio over speed of the driver's nominal demand, plan to base (method, section 5).

    Formed where base torque is above 20 % of its peak. Without a driver it is 1. A speed at which the table does not
    tell counts as unknown, and the larger of known and unknown ratio is returned, with the assumption. On the speed
    axis itself it is the highest speed with planned torque over the highest with base torque, at least 1.
    """
    if driver in ("", "none"):
        return Ratio(1.0)
    if plan_ratio(demand) is None or demand is None or demand.base is None:
        return unknown_ratio(driver, demand)
    if driver not in demand.quantities and driver in quantities and quantities[driver].role == "speed":
        return _axis_ratio(demand)
    known: list[tuple[float, float]] = []
    compared = compared_speeds(demand)
    for i in compared:
        plan, base = (_nominal(demand, driver, i, torque, quantities) for torque in (demand.plan[i], demand.base[i]))
        if plan is not None and base is not None and base > 0.0:
            known.append((plan / base, -demand.speeds[i]))
    value, speed = max(known, default=(0.0, 0.0))
    if len(known) < len(compared):
        assumed = unknown_ratio(driver, demand)
        if assumed.value >= value:
            return assumed
        return Ratio(value, -speed, assumed.assumption)
    return Ratio(value, -speed)


def _axis_ratio(demand: Demand) -> Ratio:
    compared = compared_speeds(demand)
    base = demand.base or ()
    floor = COMPARED_ABOVE * max(base, default=0.0)
    highest = max((n for n, plan in zip(demand.speeds, demand.plan, strict=True) if plan > floor), default=0.0)
    return Ratio(max(1.0, highest / demand.speeds[compared[-1]]), highest or None)


class PlanClassed(NamedTuple):
    """The class of a plan with the largest torque ratio (None: base unknown) and what makes it so."""

    plan_class: PlanClass
    ratio: float | None
    why: tuple[str, ...]


def plan_class(ratio: float | None, floors: Iterable[AtLeast] = ()) -> PlanClassed:
    """Return the larger of the torque ratio's class and every floor: none, mild, strong, extreme (method, section 8).

    An unknown ratio is at least ``strong``. Bounds are judgement.

    >>> [plan_class(r).plan_class for r in (1.02, 1.15, 1.16, 1.35, 1.36)]
    ['none', 'mild', 'strong', 'strong', 'extreme']
    """
    if ratio is None:
        found: PlanClass = "strong"
        why = "today's torque is unknown"
    else:
        found = next((name for name, limit in CLASS_LIMITS if not exceeds(ratio, limit)), "extreme")
        why = f"planned torque is up to {ratio:.3g} times today's"
    listed = sorted(floors, key=lambda f: (-_CLASSES.index(f.plan_class), f.reason))
    highest = max((_CLASSES.index(found), *(_CLASSES.index(f.plan_class) for f in listed)))
    reasons = [f.reason for f in listed if _CLASSES.index(f.plan_class) == highest]
    if _CLASSES.index(found) == highest:
        reasons.insert(0, why)
    return PlanClassed(_CLASSES[highest], ratio, tuple(dict.fromkeys(reasons)))


def own_floors(demand: Demand | None) -> tuple[AtLeast, ...]:
    """Return the class floors that the torque curves themselves set: base unknown, torque at speeds that base lacks.

    A speed lacks base where base is 0, or so low that no ratio is formed while the plan is not.
    """
    if demand is None or demand.base is None or plan_ratio(demand) is None:
        return (AtLeast("strong", "today's torque is unknown"),)
    floor = COMPARED_ABOVE * max(demand.base)
    lacking = [
        n
        for n, plan, base in zip(demand.speeds, demand.plan, demand.base, strict=True)
        if exceeds(plan, base) and base <= floor and (base <= 0.0 or plan > floor)
    ]
    if not lacking:
        return ()
    reason = f"the plan has torque at speeds that today lack it, from {lacking[0] * 60.0:.0f} rev/min"
    return (AtLeast("strong", reason),)
