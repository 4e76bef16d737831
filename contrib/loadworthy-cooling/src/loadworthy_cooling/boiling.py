"""At what temperature this coolant boils under this cap, at the altitude of use."""

from __future__ import annotations

from math import hypot
from typing import TYPE_CHECKING, NamedTuple

from loadworthy.sdk import Step, p_above
from loadworthy_cooling.formulas import air_pressure, boiling_point

if TYPE_CHECKING:
    from loadworthy.sdk import Case, Limits, Reading

#: Standard uncertainty of the formulas in K: water alone, and the ideal mixture (judgement: between the public tables
#: for coolant and the activity models lie some 3 K).
WATER_U, MIXTURE_U = 0.3, 2.0
#: A cap that nobody tested is taken this far below its mark (judgement).
UNTESTED = 0.9
#: The glycol share that is credited at most: more does not stay mixed, or freezes earlier.
MOST_SHARE = 0.6


class Boiling(NamedTuple):
    """Boiling point in K with its standard uncertainty and derivation."""

    temperature: float
    u: float
    steps: tuple[Step, ...]


def latest(case: Case, name: str) -> Reading | None:
    """Return a fact from the latest cooling sheet that states it, unless something falsifies it."""
    found = None
    for sheet in case.of("cooling"):
        found = sheet.reading(name) or found
    return found if found is not None and not found.refused else None


def boiling_of(case: Case, limits: Limits) -> Boiling:
    """Return the boiling point at the coolant's pressure; what is not known counts as the worst: no glycol, no cap."""
    stated = latest(case, "altitude_of_use")
    altitude = stated.value if stated is not None else limits["cooling.altitude_of_use"].number
    cap, cap_u, why = _cap(case, limits)
    share = latest(case, "glycol_share")
    glycol, glycol_u = (min(share.value, MOST_SHARE), share.u or 0.0) if share is not None else (0.0, 0.0)
    air = air_pressure(altitude)
    point = boiling_point(air + cap, glycol)
    by_pressure = (boiling_point(air + cap + cap_u, glycol) - point) if cap_u else 0.0
    by_glycol = point - boiling_point(air + cap, max(0.0, glycol - glycol_u))
    model = MIXTURE_U if glycol else WATER_U
    return Boiling(
        point,
        hypot(by_pressure, by_glycol, model),
        (
            Step("altitude of use", altitude, "m", source="sheet" if stated is not None else "cooling.altitude_of_use"),
            Step("air pressure", air, "Pa absolute", "101325 (1 - 2.25577e-5 h)^5.25588", "ISO 2533:1975"),
            Step("cap holds", cap, "Pa gauge", why),
            Step("glycol by volume", glycol, "1", "" if share is not None else "not known: taken as water"),
            Step(
                "boils at", point, "temperature", "x_w p_w + x_g p_g = p", "IAPWS R7-97(2012); Perry 8th ed., table 2-8"
            ),
        ),
    )


def _cap(case: Case, limits: Limits) -> tuple[float, float, str]:
    """Return the gauge pressure that the cap holds for certain, its u, and why."""
    loss = latest(case, "hold_loss")
    if loss is not None and p_above(loss.value, loss.u or 0.0, limits["cooling.hold_loss"].number) >= 0.5:
        return 0.0, 0.0, "none: the system does not hold pressure"
    marked, tested = latest(case, "cap_marked"), latest(case, "cap_tested")
    if tested is not None:
        lower = min((r for r in (tested, marked) if r is not None), key=lambda r: r.value)
        return lower.value, lower.u or 0.0, "the lower of mark and test"
    if marked is not None:
        return UNTESTED * marked.value, marked.u or 0.0, "not tested: its mark less a tenth"
    return 0.0, 0.0, "none: neither marked nor tested"
