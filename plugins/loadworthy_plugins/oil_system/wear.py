"""Wear metals as made per distance: what top-up dilutes counts too. SI: mass shares, m, m3."""

from __future__ import annotations

from math import exp

#: Below this distance on the oil there is no rate, m (judgement).
LEAST_DISTANCE = 1.5e6
#: Old oil that stays at a change, share (common practice, no source: 5 to 15 %).
RESIDUE = 0.1


def wear_rate(rise: float, distance: float, volume: float, topup: float) -> float:
    """Return the mass share of a metal made per distance, 1/m, from its rise over the fresh oil.

    g = c (u/V) / (1 - exp(-u d/V)), the solution of V dc/dd = G - u c with continuous top-up u per distance; u towards
    0: c/d. ``topup`` is all that was added over the distance, m3; ``volume`` V in m3. A negative rise counts as none.
    Raises ValueError for a distance or volume that is not positive, and for negative top-up.

    >>> round(wear_rate(42e-6, 12e6, 5e-3, 3.6e-3) * 1e12, 2), round(wear_rate(42e-6, 12e6, 5e-3, 0.0) * 1e12, 2)
    (4.91, 3.5)
    """
    if distance <= 0.0 or volume <= 0.0 or topup < 0.0:
        raise ValueError("distance and volume must be positive, and what was added not negative")
    c, share = max(0.0, rise), topup / volume
    if share < 1e-9:
        return c / distance
    return c * share / distance / (1.0 - exp(-share))
