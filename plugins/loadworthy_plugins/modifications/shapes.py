"""Trims of all banks together and volumetric efficiency against the standard engine: their size, shape and worth."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from loadworthy.sdk import NamedTuple, p_above, p_below
from loadworthy_plugins.modifications.mixture import shape_of
from loadworthy_plugins.modifications.run import (
    U_SAME_METER,
    banks_of,
    factors_of,
    most_trusted,
    trim_conditions,
    trims_of,
    within,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

    from loadworthy_plugins.modifications.run import Run

_ROOT_TWO: Final = 2.0**0.5


class Trims(NamedTuple):
    """The trims of all banks by region. ``same``: probability that banks agree, without which nothing is averaged.

    ``low`` and ``high`` are those at idle and at the highest flow. ``unproven`` says why they clear nothing.
    """

    regions: Mapping[str, float]
    u: float
    low: float
    high: float
    same: float
    unproven: str

    @property
    def mean(self) -> float:
        """Mean over the regions."""
        return sum(self.regions.values()) / len(self.regions)

    def uniform(self, spread: float) -> float:
        """Return the probability that regions lie no further apart than ``spread``, and that banks agree."""
        apart = max(self.regions.values()) - min(self.regions.values())
        return self.same * within(apart, self.u * _ROOT_TWO, -1.0, spread)


class Air(NamedTuple):
    """Volumetric efficiency over the standard engine's: mean, and trend from the lowest flow to the highest.

    ``off``: probability that the mean is off; ``constant``: that it is one factor over speed and load.
    """

    mean: float
    u: float
    trend: float
    u_trend: float
    off: float
    constant: float
    unproven: str


def together(run: Run) -> Trims | None:
    """Return the trims of all banks; None under wrong conditions, and where idle has nothing beside it."""
    wrong, unknown = trim_conditions(run)
    if run.diesel or wrong:
        return None
    banks = banks_of(run)
    by_bank = [found for bank in banks if (found := trims_of(run, bank))]
    every = [one for found in by_bank for one in found]
    u = max((one.u for one in every), default=0.0)
    regions: dict[str, float] = {}
    same = 1.0
    for region in ("idle", "cruise", "load"):
        means = []
        for found in by_bank:
            values = [one.value for one in found if one.region == region]
            if values:
                means.append(sum(values) / len(values))
        if means:
            regions[region] = sum(means) / len(means)
            apart = max(means) - min(means)
            if len(means) > 1:
                same = min(same, within(apart, u * _ROOT_TWO, -1.0, run.limit("trim_bank_difference")))
    if "idle" not in regions or len(regions) < 2:
        return None
    unproven = most_trusted([one.refused for one in every])
    if len(by_bank) < len(banks):
        unproven = "a bank without trims"
    elif unknown:
        unproven = f"not written: {unknown}"
    highest = max(every, key=lambda one: one.flow).region
    return Trims(regions, u, regions["idle"], regions[highest], same, unproven)


def air_of(run: Run) -> Air | str:
    """Return volumetric efficiency against the standard engine, or why nothing can be said of it."""
    if run.why_scaled():
        return run.why_scaled()
    known = [one for one in factors_of(run) if one.factor is not None]
    if not known:
        return (
            "air flow, manifold pressure, charge temperature and displacement are needed, and figures to compare with"
        )
    shape = shape_of([(one.air, one.factor or 0.0) for one in known])
    # Taken at a factor of 1: a u that grew with the factor would make a larger one less certain.
    u = max(((one.u / one.ve) ** 2 + one.u_reference**2) ** 0.5 for one in known)
    u_apart = _ROOT_TWO * max((U_SAME_METER**2 + one.u_reference**2) ** 0.5 for one in known)
    low, high = run.limit("ve_factor_low"), run.limit("ve_factor_high")
    off = min(1.0, p_below(shape.mean, u, low) + p_above(shape.mean, u, high))
    constant = within(shape.spread, u_apart, -1.0, run.limit("ve_factor_spread")) if len(known) > 1 else 0.0
    unproven = most_trusted([one.refused for one in known])
    if not run.case.vehicle.get("ve_standard"):
        unproven = "no figures of the standard engine to compare with"
    elif not run.metering:
        unproven = "how the air is metered is not known: a computed air flow agrees with anything"
    elif len(known) < 2:
        unproven = "one point alone"
    elif not run.sensors_clean:
        unproven = "pressure sensors not shown to be right at key-on"
    return Air(shape.mean, u, shape.trend, u_apart, off, constant, unproven)
