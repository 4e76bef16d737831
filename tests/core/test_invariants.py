"""The thirteen invariants of the method over generated cases of checks of nothing in particular."""

from __future__ import annotations

import drawn_check
import pytest
from generic_check import scenario as generic
from hypothesis import Phase, find, settings

from loadworthy.decide import OUTCOMES
from loadworthy.testing import Bench, Invariants


class TestGenericCheck(Invariants):
    scenario = generic()


class TestDrawnCheck(Invariants):
    """Other limits, ratios, causes, symptoms and ceilings in every example."""

    scenario = drawn_check.scenarios()


@pytest.mark.parametrize("outcome", OUTCOMES)
def test_drawn_cases_reach_every_outcome(outcome: str) -> None:
    """Else the invariants would say little: a case that holds cannot get worse."""
    bench = Bench(generic())
    quick = settings(max_examples=400, deadline=None, database=None, derandomize=True, phases=[Phase.generate])
    tables = find(bench.scenario.tables, lambda drawn: bench.register(drawn).outcome == outcome, settings=quick)
    assert bench.register(tables).outcome == outcome
