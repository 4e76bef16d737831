"""The two tests that fill a ``[[cooling]]`` sheet. Minutes are judgement; the cautions are printed with the test."""

from __future__ import annotations

from typing import Final

from loadworthy.sdk import Gap, WorkshopTest
from loadworthy_cooling.causes import HOLD, RUN

TESTS: Final = (
    WorkshopTest(
        HOLD,
        "pressure cap on the tester, cold system under pressure for 10 min",
        20,
        "cold engine",
        "Engine cold. Never open a hot cap: the coolant boils out at once and scalds.",
        before=(RUN,),
    ),
    WorkshopTest(
        RUN,
        "steady run under load until the coolant temperature stands still",
        30,
        "rollers or closed road",
        "Hot coolant under pressure: never open a hot cap, keep clear of hoses and fans. End the run at the warning "
        "temperature. On rollers a strong fan before the radiator; on the road somebody else reads the gauge.",
        after=(HOLD,),
    ),
)

NOT_SHOWN: Final = Gap(
    "cooling.margin",
    "what the coolant does at the planned heat is not shown",
    section="cooling",
    test=RUN,
    write="[[cooling]] with coolant_temperature, ambient_temperature, power, steady_time, air and "
    "thermostat_open_temperature",
)
