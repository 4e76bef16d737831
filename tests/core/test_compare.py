"""When one register rests on worse evidence than another, and what counts as better."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from generic_check import BASE, PLAN
from generic_check import scenario as generic

from loadworthy.testing import Bench, improvements, is_worse
from loadworthy.testing.scenario import FIRST_DAY

if TYPE_CHECKING:
    from loadworthy.register import Register

BENCH = Bench(generic())


def register(second: str) -> Register:
    """Of three parts of which the second reads so, or is not measured."""
    level = {"1": "15 bar", "2": second, "3": "15 bar"}
    sheet = {"id": "g", "date": FIRST_DAY, "level": {part: value for part, value in level.items() if value}}
    return BENCH.register({"vehicle": {"base_torque_measured": BASE}, "plan": {"torque": PLAN}, "gauge": [sheet]})


@pytest.mark.parametrize(
    ("before", "after", "worse"),
    [
        ("14 bar", "6 bar", True),
        ("14 bar", "14 bar", True),
        ("6 bar", "14 bar", False),
        ("14 bar", "", False),
        ("", "6 bar", True),
        ("", "14 bar", False),
    ],
    ids=["lower", "the same", "higher", "no longer known", "known to be bad", "known to be sound"],
)
def test_what_is_worse(before: str, after: str, worse: bool) -> None:
    assert is_worse(register(before), register(after)) is worse


def test_what_improved() -> None:
    sound, bad = register("14 bar"), register("6 bar")
    assert improvements(sound, bad) == []
    found = improvements(bad, sound)
    assert any(line.startswith("outcome hold") for line in found)
    assert any(line.startswith("P of worn@part 2") for line in found)
    assert any(line.startswith("allowed at") for line in found)
