"""What one drawn example of an invariant works on: a scenario, its host and the tables of one case."""

from __future__ import annotations

import copy
import datetime
import json
import os
import pickle
import subprocess
import sys
from types import ModuleType
from typing import TYPE_CHECKING, Any

from hypothesis import strategies as st

from loadworthy.assessing import assess
from loadworthy.casefile import from_dict
from loadworthy.hookspecs import hookimpl
from loadworthy.host import Host
from loadworthy.testing.scenario import LAST_DAY

if TYPE_CHECKING:
    from collections.abc import Mapping

    from loadworthy.findings import Result
    from loadworthy.register import Register
    from loadworthy.testing.scenario import Scenario

#: Time (s) that one call of a plugin may take where one of them never comes to an end.
SHORT_BUDGET = 1.0
#: The reader's own "today": later than everything drawn.
_TODAY = datetime.date(2027, 1, 1)
#: Tables of a case that are not sheets.
SHEETLESS = ("as_of", "name", "vehicle", "plan", "repair", "event", "waiver", "void", "instrument")


class Raising:
    """A plugin that raises in the middle."""

    @hookimpl
    def examine(self, case: Any) -> Any:
        """Raise."""
        raise RuntimeError("on purpose")


class Talking:
    """A plugin that returns what no plugin may return."""

    @hookimpl
    def examine(self, case: Any) -> Any:
        """Give no results."""
        yield object()
        yield float("nan")


class Looping:
    """A plugin that never comes to an end."""

    @hookimpl
    def examine(self, case: Any) -> Any:
        """Go on until stopped."""
        while True:
            pass


class Silent:
    """A plugin that has nothing to say."""

    @hookimpl
    def examine(self, case: Any) -> tuple[Result, ...]:
        """Give nothing."""
        return ()


class Bench:
    """One scenario with its host; ``tables`` are those drawn for this example."""

    def __init__(self, scenario: Scenario, host: Host | None = None) -> None:
        self.scenario = scenario
        self.host = host or Host(scenario.plugins, entry_points=False)

    def register(
        self, tables: dict[str, Any], host: Host | None = None, day: datetime.date | None = None, **more: Any
    ) -> Register:
        """Read the tables as a file would be read, and assess them on the last day or on ``day``."""
        host = host or self.host
        case = from_dict(tables, catalogue=host.catalogue, today=_TODAY)
        return assess(case, host=host, as_of=day or LAST_DAY, **more)

    def host_with(self, id: str, plugin: Any, budget: float = 10.0) -> Host:
        """Return a host with one more plugin."""
        return Host({**self.scenario.plugins, id: plugin}, entry_points=False, budget=budget)

    def host_without(self, id: str) -> Host:
        """Return a host that lacks one plugin."""
        return Host({k: v for k, v in self.scenario.plugins.items() if k != id}, entry_points=False)


def readable(tables: Mapping[str, Any], host: Host) -> dict[str, Any]:
    """Return the tables without sections and fields that no plugin of the host declares."""
    catalogue = host.catalogue
    left = {k: copy.deepcopy(v) for k, v in tables.items() if k in SHEETLESS or k in catalogue.sections}
    for table, fields in (("vehicle", catalogue.vehicle), ("plan", catalogue.plan)):
        if table in left:
            left[table] = {k: v for k, v in left[table].items() if k in fields}
    return left


def as_text(register: Register, *without: str) -> str:
    """Return the register as JSON, less some keys."""
    data = register.to_dict()
    return json.dumps({key: value for key, value in data.items() if key not in without}, sort_keys=True)


# Another process -----------------------------------------------------------------------------------------------------


def in_another_process(bench: Bench, many: list[dict[str, Any]], hash_seed: int) -> list[str]:
    """Return the registers of several cases as a process with this hash seed writes them.

    Plugins must be modules, or objects that can be pickled.
    """
    plugins = {
        id: ("module", plugin.__name__) if isinstance(plugin, ModuleType) else ("object", plugin)
        for id, plugin in bench.scenario.plugins.items()
    }
    # The path goes first and by itself: what follows can be unpickled only with it.
    given = pickle.dumps(sys.path) + pickle.dumps((plugins, many))
    code = "from loadworthy.testing.bench import _child; _child()"
    start = f"import sys, pickle; sys.path[:] = pickle.load(sys.stdin.buffer); {code}"
    done = subprocess.run(
        [sys.executable, "-c", start],
        input=given,
        capture_output=True,
        env={**os.environ, "PYTHONHASHSEED": str(hash_seed)},
        check=False,
        timeout=120,
    )
    if done.returncode:
        raise RuntimeError(done.stderr.decode(errors="replace"))
    found: list[str] = json.loads(done.stdout)
    return found


def _child() -> None:
    """Assess what the standard input holds, and write all registers to the standard output."""
    from importlib import import_module

    from loadworthy.testing.scenario import Scenario

    plugins, many = pickle.load(sys.stdin.buffer)
    loaded = {id: import_module(it) if kind == "module" else it for id, (kind, it) in plugins.items()}
    bench = Bench(Scenario(loaded, st.nothing()))
    sys.stdout.write(json.dumps([as_text(bench.register(tables)) for tables in many]))
