from __future__ import annotations

from types import ModuleType
from typing import Any

import pytest

from loadworthy.case import Case
from loadworthy.findings import Band, Demand, Finding, Verdict
from loadworthy.hookspecs import hookimpl
from loadworthy.host import HookRun, Host
from loadworthy.limits import Limits


def make_plugin(**hooks: Any) -> ModuleType:
    """Return a module with these functions, each marked as a hook of its name."""
    module = ModuleType("a_plugin")
    for name, function in hooks.items():
        setattr(module, name, hookimpl(function))
    return module


def make_host(budget: float = 10.0, timed: bool = False, **plugins: Any) -> Host:
    return Host(plugins, entry_points=False, budget=budget, timed=timed)


def make_finding(rule: str, **more: Any) -> Finding:
    return Finding(rule, **{"sheet": "s1", "verdicts": (Verdict("watch", 1.0),), "text": "found", **more})


def make_demand(**more: Any) -> Demand:
    grid = ((40.0, 80.0, 100.0), (50.0, 90.0, 120.0))
    band = Band(grid, grid, tuple(tuple(2.0 * x for x in row) for row in grid))
    return Demand(
        **{
            "speeds": (20.0, 50.0),
            "torque": grid,
            "plan": (100.0, 120.0),
            "base": (80.0, 90.0),
            "quantities": {"load": band},
            **more,
        }
    )


def examined(host: Host) -> HookRun:
    return host.examine(Case(), None, Limits({}))


@pytest.fixture
def plugin() -> Any:
    return make_plugin


@pytest.fixture
def host_of() -> Any:
    return make_host


@pytest.fixture
def finding() -> Any:
    return make_finding


@pytest.fixture
def demand() -> Any:
    return make_demand


@pytest.fixture
def examine() -> Any:
    return examined
