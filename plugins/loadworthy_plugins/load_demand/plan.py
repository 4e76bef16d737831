"""The torque that the plan means and the torque of today, over speed: crank figures as observed, SI."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.sdk import NamedTuple
from loadworthy_plugins.load_demand import envelope
from loadworthy_plugins.load_demand.defaults import curve_shape
from loadworthy_plugins.load_demand.formulas import linear, peak_conflict, torque_of
from loadworthy_plugins.load_demand.inputs import number, read_trust, stated_u

if TYPE_CHECKING:
    from collections.abc import Mapping
    from typing import Any

    from loadworthy.sdk import Case, Curve
    from loadworthy_plugins.load_demand.defaults import Family, Shape
    from loadworthy_plugins.load_demand.envelope import Peaks, Points
    from loadworthy_plugins.load_demand.inputs import Notes, Surroundings, Trust

#: Two stated peaks may contradict each other by what rounding explains.
PEAK_TOLERANCE = 0.02
#: Goals that ask for no more torque than today.
KEEPING_GOALS = ("repair", "economy")


class Base(NamedTuple):
    """Today's torque: points over speed and the field that they come from."""

    points: Points
    source: str

    def at(self, speed: float) -> float:
        """Torque at a speed, 0 outside the points: nothing was shown there."""
        if not self.points[0][0] <= speed <= self.points[-1][0]:
            return 0.0
        return linear(self.points, speed)


class Planned(NamedTuple):
    """The plan as a curve or as peaks; one of the two is set.

    ``boost`` (Pa gauge) is set instead of both where the plan states nothing else.
    """

    points: Points | None
    peaks: Peaks | None
    boost: float | None
    trust: Trust


def scaled(curve: Curve, scale: float) -> Points:
    """Points of a curve with every torque multiplied."""
    return tuple((n, t * scale) for n, t in zip(curve.speeds, curve.values, strict=True))


def log_points(case: Case, scale: float) -> tuple[tuple[float, float, Mapping[str, Any]], ...]:
    """Baseline log points that hold a torque: speed, crank torque and the point itself, rising in speed."""
    found = []
    for point in case.vehicle.get("baseline_log_point") or ():
        speed, torque = number(point, "speed"), number(point, "torque")
        if speed is None or speed <= 0.0:
            continue
        if torque is None:
            power = number(point, "power")
            torque = None if power is None else torque_of(power, speed)
        if torque is not None and torque > 0.0:
            found.append((speed, torque * scale, point))
    found.sort(key=lambda p: p[:2])
    return tuple(found)


def read_base(case: Case, trust: Trust) -> Base | None:
    """Today's torque: the best stated curve, else the baseline log points."""
    stated = case.base_torque()
    if stated is not None:
        curve, source = stated
        if curve.speeds:
            return Base(scaled(curve, trust.scale), source)
    points: dict[float, float] = {}
    for speed, torque, _ in log_points(case, trust.scale):
        # Two points of one speed: the lower torque, so that a ceiling "as received" is not raised.
        points[speed] = min(torque, points.get(speed, torque))
    if len(points) < 2:
        return None
    return Base(tuple(sorted(points.items())), "baseline_log_point")


def base_from_gain(case: Case, plan: Points, scale: float) -> Base | None:
    """Today's torque as plan minus declared gain, where nothing else is known of it."""
    factor = _gain_factor(case, envelope.peaks_of(plan), scale, inverse=True)
    if factor is None or factor <= 0.0:
        return None
    return Base(tuple((n, t * factor) for n, t in plan), "plan minus declared gain")


def _gain_factor(case: Case, peaks: Peaks, scale: float, *, inverse: bool = False) -> float | None:
    """Plan over base by the declared gains (base over plan if inverse); of several the larger gain."""
    sign = -1.0 if inverse else 1.0
    factors = []
    gain = number(case.plan, "gain")
    if gain is not None:
        factors.append(1.0 / (1.0 + gain) if inverse else 1.0 + gain)
    torque, power = number(case.plan, "gain_torque"), number(case.plan, "gain_power")
    if torque is not None:
        factors.append(1.0 + sign * torque * scale / peaks.torque)
    if power is not None:
        factors.append(1.0 + sign * power * scale / peaks.power)
    if not factors:
        return None
    return min(factors) if inverse else max(factors)


def read_plan(case: Case, base: Base | None, family: Family, air: Surroundings, notes: Notes) -> Planned | None:
    """The plan in this order: curve, peaks, gain on today's torque, boost; None with a required gap otherwise."""
    plan, induction = case.plan, case.vehicle["induction"]
    charged_spark = induction != "none" and family == "spark"
    curve: Curve | None = plan.get("torque")
    if curve is not None and curve.speeds:
        trust = read_trust(case, "plan", charged_spark, air, notes)
        return Planned(scaled(curve, trust.scale), None, None, trust)
    figure = "peak_power" if plan.get("peak_power") is not None else "peak_torque"
    trust = read_trust(case, "plan", charged_spark, air, notes, stated_u(plan, figure))
    if plan.get(figure) is not None:
        return _from_peaks(case, curve_shape(family, induction), trust, notes)
    if any(plan.get(name) is not None for name in ("gain", "gain_torque", "gain_power")):
        if base is None:
            notes.lack(
                "load_demand.base_torque",
                "the plan states only a gain, and today's torque is not known: no demand",
                'vehicle.base_torque_measured = {"2000 rpm" = "280 N m", "4000 rpm" = "300 N m"}',
                required=True,
            )
            return None
        trust = read_trust(case, "vehicle", charged_spark, air, notes)
        factor = _gain_factor(case, envelope.peaks_of(base.points), trust.scale) or 1.0
        notes.assume("plan over today's torque", factor, "1", "declared gain, the same share at every speed")
        return Planned(tuple((n, t * factor) for n, t in base.points), None, None, trust)
    boost = number(plan, "boost")
    if boost is not None:
        if induction == "none":
            notes.lack(
                "load_demand.boost",
                "the plan states boost, but the engine is said to have no charging: no demand",
                'vehicle.induction = "turbo", or another plan',
                required=True,
            )
            return None
        return Planned(None, None, boost, trust)
    if plan.get("goal") in KEEPING_GOALS and base is not None:
        notes.assume("planned torque", "today's", "", f"goal {plan['goal']}: no more torque asked")
        return Planned(base.points, None, None, read_trust(case, "vehicle", charged_spark, air, notes))
    notes.lack(
        "load_demand.plan",
        "the plan states no torque, power, gain or boost: no demand",
        'plan.torque = {"2000 rpm" = "336 N m", "4000 rpm" = "390 N m"}, or plan.peak_power = "180 kW"',
        required=True,
    )
    return None


def contradiction(power: float, power_speed: float, torque: float, torque_speed: float) -> str:
    """Say with both numbers how two peaks contradict each other by more than 2 %; empty where they do not.

    >>> contradiction(150e3, 5000 / 60, 250.0, 2000 / 60)
    '150.0 kW at 5000 rpm need 286 N m, and peak torque is 250 N m'
    """
    conflict = peak_conflict(power, power_speed, torque, torque_speed)
    if conflict.worst <= 1.0 + PEAK_TOLERANCE:
        return ""
    if conflict.torque_ratio >= conflict.power_ratio:
        return (
            f"{power / 1e3:.1f} kW at {power_speed * 60:.0f} rpm need "
            f"{torque_of(power, power_speed):.0f} N m, and peak torque is {torque:.0f} N m"
        )
    return (
        f"{torque:.0f} N m at {torque_speed * 60:.0f} rpm are "
        f"{power * conflict.power_ratio / 1e3:.1f} kW, and peak power is {power / 1e3:.1f} kW"
    )


def _from_peaks(case: Case, shape: Shape, trust: Trust, notes: Notes) -> Planned | None:
    plan = case.plan
    power, torque = number(plan, "peak_power"), number(plan, "peak_torque")
    power = None if power is None else power * trust.scale
    torque = None if torque is None else torque * trust.scale
    power_speed, torque_speed = number(plan, "peak_power_speed"), number(plan, "peak_torque_speed")
    if power is not None and torque is not None and power_speed is not None and torque_speed is not None:
        words = contradiction(power, power_speed, torque, torque_speed)
        if words:
            notes.lack(
                "load_demand.peaks",
                f"the planned peaks contradict each other: {words}; no demand",
                "the true plan.peak_power, plan.peak_torque and their speeds",
                required=True,
            )
            return None
    peaks = envelope.complete_peaks(shape, power, power_speed, torque, torque_speed)
    for a in peaks.assumed:
        notes.assume(*a[:5])
    return Planned(None, peaks, None, trust)
