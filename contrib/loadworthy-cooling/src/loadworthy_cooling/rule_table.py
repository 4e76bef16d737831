"""The rules with their likelihood ratios, P(result | cause) / P(result | not cause): all judgement.

The forecast for the plan has none: it compares a capacity with demand and says nothing about what is broken.
"""

from __future__ import annotations

from typing import Final

from loadworthy.sdk import Rule
from loadworthy_cooling.causes import HOLD, RUN

RULES: Final = (
    Rule(
        "today",
        "cooling",
        "coolant at today's own full load on a hot day",
        RUN,
        "run",
        {
            "fired": {
                "cooling-core-blocked-outside": 3.0,
                "cooling-core-blocked-inside": 3.0,
                "cooling-pump-weak": 3.0,
                "cooling-thermostat-part-open": 3.0,
                "cooling-fan-weak": 2.0,
                "cooling-leak-or-low-level": 2.0,
            },
            # On the road the fan hardly matters and a slow leak is not yet felt: a cool run clears those two less.
            "clean": {
                "cooling-core-blocked-outside": 0.3,
                "cooling-core-blocked-inside": 0.3,
                "cooling-pump-weak": 0.2,
                "cooling-thermostat-part-open": 0.2,
                "cooling-fan-weak": 0.7,
                "cooling-leak-or-low-level": 0.5,
            },
        },
        "judgement",
    ),
    Rule("plan", "cooling", "coolant at the planned heat on a hot day", RUN, "run", source="judgement"),
    Rule(
        "hold",
        "cooling",
        "cold system under pressure for 10 min",
        HOLD,
        "hold",
        {
            "fired": {"cooling-leak-or-low-level": 15.0, "cooling-cap-not-holding": 2.0},
            "clean": {"cooling-leak-or-low-level": 0.1},
        },
        "judgement",
    ),
    Rule(
        "cap",
        "cooling",
        "opening pressure of the cap against its mark",
        HOLD,
        "cap",
        {"fired": {"cooling-cap-not-holding": 15.0}, "clean": {"cooling-cap-not-holding": 0.1}},
        "judgement",
    ),
)
