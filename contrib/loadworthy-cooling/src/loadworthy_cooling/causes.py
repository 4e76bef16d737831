"""What may be wrong, and what a coolant that runs too hot under load points to.

Priors, weights of candidates and hours are judgement. The ids begin with ``cooling-`` so that they meet nobody else's.
"""

from __future__ import annotations

from typing import Final

from loadworthy.sdk import Cause, SymptomSet

RUN, HOLD = "cooling-steady-load-run", "cooling-cap-and-hold-test"


def _fault(
    id: str, text: str, prior: float, hours: float, cost: int, remedy: str, retest: str = RUN, severity: int = 2
) -> Cause:
    return Cause(
        id,
        text,
        prior,
        severity,
        "heat",
        driver="heat_load",
        repair_hours=hours,
        cost_class=cost,
        remedy=remedy,
        retest=(retest,),
        events=("overheating", "collision"),
    )


CAUSES: Final = (
    _fault(
        "cooling-core-blocked-outside",
        "radiator fins blocked or bent",
        0.06,
        1.0,
        1,
        "wash the pack of coolers from behind, straighten fins, restore ducts and seals",
    ),
    _fault(
        "cooling-core-blocked-inside",
        "radiator furred or silted inside",
        0.04,
        4.0,
        3,
        "flush; where that does not help renew the radiator",
    ),
    _fault(
        "cooling-fan-weak",
        "radiator fan slow, late or dead",
        0.03,
        1.5,
        3,
        "renew fan, coupling or its control",
    ),
    _fault("cooling-pump-weak", "coolant pump weak", 0.03, 5.0, 3, "renew the pump and its drive"),
    _fault(
        "cooling-thermostat-part-open",
        "thermostat does not open fully",
        0.03,
        1.5,
        1,
        "renew the thermostat",
    ),
    _fault(
        "cooling-leak-or-low-level",
        "coolant lost, low or full of air",
        0.03,
        2.0,
        2,
        "find and cure the leak, fill, bleed",
        HOLD,
    ),
    _fault(
        "cooling-cap-not-holding",
        "pressure cap opens too early",
        0.06,
        0.1,
        1,
        "renew the cap, of the same mark",
        HOLD,
        severity=3,
    ),
    Cause(
        "cooling-core-too-small",
        "sound cooling system too small for the planned heat",
        0.05,
        2,
        "heat",
        driver="heat_load",
        capacity=True,
        repair_hours=4.0,
        cost_class=3,
        remedy="larger radiator or better ducts, or a plan within the ceiling",
        retest=(RUN,),
    ),
)

SYMPTOMS: Final = (
    SymptomSet(
        "cooling-hot-under-load",
        "coolant too hot at today's own full load",
        (
            ("cooling-core-blocked-outside", 0.25),
            ("cooling-core-blocked-inside", 0.15),
            ("cooling-fan-weak", 0.12),
            ("cooling-thermostat-part-open", 0.12),
            ("cooling-leak-or-low-level", 0.12),
            ("cooling-pump-weak", 0.10),
        ),
    ),
)
