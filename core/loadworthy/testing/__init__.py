"""Helpers for the tests of plugin authors: a case builder, hosts with chosen plugins, and the invariants.

Three lines hold a rule to everything that the method promises::

    class TestMyRule(Invariants):
        scenario = Scenario(plugins={"mine": my_plugin}, tables=my_case_tables)

Needs the extra ``testing`` (pytest and hypothesis).
"""

from __future__ import annotations

from loadworthy.testing.bench import Bench
from loadworthy.testing.build import CaseBuilder, host_with
from loadworthy.testing.compare import improvements, is_worse
from loadworthy.testing.invariants import Invariants
from loadworthy.testing.scenario import Scenario, case_tables

__all__ = ["Bench", "CaseBuilder", "Invariants", "Scenario", "case_tables", "host_with", "improvements", "is_worse"]
