"""Likelihood ratios of the rules on a reading as a whole, by band: judgement, all of them."""

from __future__ import annotations

from typing import Final

#: Rule -> band -> P(band | cause) / P(band | not cause), for the one cause that the rule speaks of.
RATIOS: Final = {
    "memory_age": {
        "erased_just_now": 40.0,
        "recent_not_complete": 15.0,
        "recent_complete": 4.0,
        "no_counters_not_complete": 6.0,
        "permanent_alone": 20.0,
        "known": 100.0,
        "settled": 0.05,
    },
    "reporting": {
        "monitor_missing": 12.0,
        "complete_at_once": 6.0,
        "lamp_dark_at_key_on": 4.0,
        "commanded_on_but_dark": 8.0,
        "permanent_refused": 3.0,
    },
    "provocation": {"silent": 25.0, "reported": 0.3},
}
