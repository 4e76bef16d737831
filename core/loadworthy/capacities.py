"""Chance of harm at the planned load, and of a sound part being too small for it (method, section 5)."""

from __future__ import annotations

from math import expm1, inf, isfinite, log1p, sqrt
from types import MappingProxyType
from typing import TYPE_CHECKING

from loadworthy.case import Curve
from loadworthy.findings import Step
from loadworthy.loads import Level, demanded, raised_speeds, unknown_ratio
from loadworthy.record import NamedTuple
from loadworthy.stats import p_above

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from loadworthy.declarations import Quantity
    from loadworthy.findings import Assumption, Capacity, Demand


class Hazardous(NamedTuple):
    """A hazard class: chance ``h0`` of harm within the horizon at today's load, and how steeply load raises it."""

    h0: float
    exponent: float


#: Hazard classes within the first 5 000 km (judgement).
HAZARDS: Mapping[str, Hazardous] = MappingProxyType(
    {
        "none": Hazardous(0.0, 1.0),
        "rare": Hazardous(0.001, 2.0),
        "slow": Hazardous(0.02, 2.0),
        "load": Hazardous(0.05, 4.0),
        "heat": Hazardous(0.05, 5.0),
        "speed": Hazardous(0.05, 6.0),
        "sudden": Hazardous(0.15, 3.0),
        "already failing": Hazardous(0.60, 2.0),
    }
)
#: P of an unknown capacity: never better than a clean one (judgement).
UNKNOWN_CAPACITY_P = 0.05


def h_plan(h0: float, exponent: float, ratio: float) -> float:
    """Return the chance of harm within the horizon at ``ratio`` times today's load: 1 - (1 - h0)^(r^m).

    A negative ratio counts as 0. Raises ValueError for h0 outside 0 to 1 or a ratio that is not a number.
    Source: proportional hazards with a power law of stress (Nelson, Accelerated Testing, 1990, from memory); the
    classes are judgement. The figures were computed with numpy.

    >>> round(h_plan(0.05, 4, 1.3), 4), round(h_plan(0.15, 3, 1.25), 4), round(h_plan(0.05, 4, 0.8), 4)
    (0.1363, 0.272, 0.0208)
    """
    if not 0.0 <= h0 <= 1.0 or ratio != ratio:
        raise ValueError(f"no chance of harm from h0 {h0} and ratio {ratio}")
    if h0 == 0.0 or ratio <= 0.0:
        return 0.0
    if h0 == 1.0:
        return 1.0
    try:
        stress = ratio**exponent
    except OverflowError:
        stress = inf
    return -expm1(stress * log1p(-h0))


class CapacityRisk(NamedTuple):
    """P that a part's own limit lies below demand, and the chance of failure from that.

    ``judged`` is False where the plan asks nowhere for more than base. ``known`` False: capacity or demand is unknown
    somewhere, and the figures there are those of an unknown capacity. ``ratio`` is demand over capacity at the speed
    (rev/s) that decides ``failure``.
    """

    probability: float
    failure: float
    ratio: float
    h_plan: float
    speed: float | None = None
    judged: bool = True
    known: bool = True
    assumption: Assumption | None = None
    steps: tuple[Step, ...] = ()


class _Point(NamedTuple):
    p: float
    ratio: float
    h: float
    known: bool = True
    ratio_known: bool = True
    speed: float | None = None
    stress: Level | None = None


def capacity(
    one: Capacity,
    demand: Demand | None,
    hazard: Hazardous,
    prior: float,
    quantities: Mapping[str, Quantity],
) -> CapacityRisk:
    """Compare a part's own limit with demand at every speed where the plan asks for more than base.

    P_C = max over speed of Phi((D - C)/sqrt(u_D^2 + u_C^2)), D the nominal demand times the use factor, u_D a quarter
    of its band of +-2 u; a plugin's own P(C < D) replaces it. P_fail = max of P_C h_plan(max(1, D/C)). Where anything
    needed is unknown P_C is max(prior, 0.05) and the ratio that of an unknown driver.
    Source: stress-strength interference of normal variables (Kapur and Lamberson 1977, chapter 6, from memory).
    """
    doubtful = max(prior, UNKNOWN_CAPACITY_P)
    fallback = unknown_ratio(one.quantity, demand)
    h_doubtful = h_plan(*hazard, fallback.value)
    unknown = _Point(doubtful, fallback.value, h_doubtful, known=False, ratio_known=False)
    points = [unknown] if demand is None else []
    for i in raised_speeds(demand) if demand is not None else ():
        assert demand is not None
        stress = demanded(demand, one.quantity, i, demand.plan[i], quantities)
        strength = _strength(one.value, demand.speeds[i])
        p = _p_below_demand(one, i, stress, strength)
        ratio = None if stress is None or strength is None else _over(stress.nominal * one.use_factor, strength)
        points.append(
            _Point(
                p=doubtful if p is None else p,
                ratio=fallback.value if ratio is None else ratio,
                h=h_doubtful if ratio is None else h_plan(*hazard, ratio),
                known=p is not None,
                ratio_known=ratio is not None,
                speed=demand.speeds[i],
                stress=stress,
            )
        )
    if not points:
        return CapacityRisk(0.0, 0.0, 1.0, 0.0, judged=False)
    assumed = not all(point.ratio_known for point in points)
    return _worst(points, fallback.assumption if assumed else None)


def _strength(value: object, speed: float) -> float | None:
    if isinstance(value, Curve):
        value = value.at(speed, None)
    if isinstance(value, (int, float)) and isfinite(value):
        return float(value)
    return None


def _p_below_demand(one: Capacity, i: int, stress: Level | None, strength: float | None) -> float | None:
    if one.probability:
        given = one.probability[i] if i < len(one.probability) else -1.0
        return given if 0.0 <= given <= 1.0 else None
    if stress is None or strength is None or not (isfinite(one.u) and one.u >= 0.0):
        return None
    u_stress = max(0.0, stress.high - stress.low) / 4.0 * one.use_factor
    return p_above(stress.nominal * one.use_factor, sqrt(u_stress * u_stress + one.u * one.u), strength)


def _over(stress: float, strength: float) -> float:
    """Return what is asked over what the part can take, at least 1; infinite where it can take nothing."""
    return max(1.0, stress / strength) if strength > 0.0 else inf


def _worst(points: Sequence[_Point], assumption: Assumption | None) -> CapacityRisk:
    at = max(points, key=lambda x: (x.p * x.h, x.p, x.ratio, -(x.speed or 0.0)))
    p_c = max(point.p for point in points)
    steps = [Step("P_C", p_c, "1", "largest P(capacity < demand) over speed", "method, section 5")]
    if at.stress is not None:
        u_stress = (at.stress.high - at.stress.low) / 4.0
        steps.append(Step("demand D before the use factor", at.stress.nominal, "SI", "nominal, at the plan", "demand"))
        steps.append(Step("u_D before the use factor", u_stress, "SI", "(high - low)/4", "method, section 5"))
    formula = "Phi((D - C)/sqrt(u_D^2 + u_C^2)), or the check's own" if at.known else "unknown: max(prior, 0.05)"
    steps += [
        Step("P_C at the deciding speed", at.p, "1", formula, "stress-strength interference"),
        Step("r", at.ratio, "1", "max(1, D/C)" if at.ratio_known else "unknown", "method, section 5"),
        Step("h_plan", at.h, "1", "1 - (1 - h0)^(r^m)", "method, section 5"),
    ]
    return CapacityRisk(
        probability=p_c,
        failure=at.p * at.h,
        ratio=at.ratio,
        h_plan=at.h,
        speed=at.speed,
        known=all(point.known for point in points),
        assumption=assumption,
        steps=tuple(steps),
    )
