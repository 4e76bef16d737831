"""The thirteen invariants of the method over generated cases of a check of nothing in particular."""

from __future__ import annotations

from generic_check import scenario as generic

from loadworthy.testing import Invariants


class TestGenericCheck(Invariants):
    scenario = generic()
