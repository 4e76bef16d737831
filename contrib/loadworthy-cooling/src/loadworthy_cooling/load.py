"""What plan and today's torque ask of the cooling system, from the table of demand, in W of power at the crank.

The heat that goes into the coolant is taken in proportion to power, as the run showed it on this very engine. A plan
that burns more fuel for each unit of power than today (richer, later spark) brings more heat along: it counts with
that much more power.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Sequence

    from loadworthy.sdk import Band, Demand


class Asked(NamedTuple):
    """The largest load over speed, W, with its standard uncertainty as a share of it.

    ``extra``, at least 1, is the plan's heat per power over today's where that is largest; ``load`` contains it.
    """

    load: float
    u: float
    extra: float


def planned(demand: Demand | None) -> Asked | None:
    """Return what the plan asks for; None where no table of demand tells."""
    if demand is None or "power" not in demand.quantities:
        return None
    return _largest(demand, demand.quantities["power"], demand.plan, _extras(demand))


def of_today(demand: Demand | None) -> Asked | None:
    """Return what today's torque asks for; None where that is not known."""
    if demand is None or demand.base is None or "power" not in demand.quantities:
        return None
    return _largest(demand, demand.quantities["power"], demand.base, (1.0,) * len(demand.speeds))


def _extras(demand: Demand) -> tuple[float, ...]:
    """Return by speed how much more heat per power the plan gives off than today; never less than as much."""
    heat, power = demand.quantities.get("heat_load"), demand.quantities["power"]
    if heat is None or demand.base is None:
        return (1.0,) * len(demand.speeds)
    extras = []
    for i, (plan, base) in enumerate(zip(demand.plan, demand.base, strict=True)):
        then = _quotient(demand.torque[i], heat.nominal[i], power.nominal[i], plan)
        now = _quotient(demand.torque[i], heat.nominal[i], power.nominal[i], base)
        extras.append(max(1.0, then / now) if then and now else 1.0)
    return tuple(extras)


def _quotient(torques: Sequence[float], heat: Sequence[float], power: Sequence[float], torque: float) -> float | None:
    q, p = _between(torques, heat, torque), _between(torques, power, torque)
    return q / p if q is not None and p else None


def _largest(demand: Demand, power: Band, torques: Sequence[float], extras: Sequence[float]) -> Asked | None:
    found = []
    for i, torque in enumerate(torques):
        low, nominal, high = (
            _between(demand.torque[i], rows[i], torque) for rows in (power.low, power.nominal, power.high)
        )
        if nominal and low is not None and high is not None:
            found.append(Asked(nominal * extras[i], (high - low) / 4.0 / nominal, max(extras)))
    return max(found, default=None)


def _between(xs: Sequence[float], ys: Sequence[float], x: float) -> float | None:
    """Interpolate linearly; None outside. A torque that was converted from other units may lie a hair outside.

    >>> _between((100.0, 200.0), (1.0, 2.0), 150.0), _between((100.0, 200.0), (1.0, 2.0), 250.0)
    (1.5, None)
    """
    if not xs or not xs[0] * (1.0 - 1e-9) <= x <= xs[-1] * (1.0 + 1e-9):
        return None
    for i in range(1, len(xs)):
        if x <= xs[i]:
            share = max(0.0, (x - xs[i - 1]) / (xs[i] - xs[i - 1]))
            return ys[i - 1] + share * (ys[i] - ys[i - 1])
    return ys[-1]
