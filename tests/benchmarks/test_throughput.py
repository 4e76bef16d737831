"""Framework overhead, memory over many cases and growth with the number of sheets, each as a ratio in one run."""

from __future__ import annotations

import gc
import inspect
import statistics
import time
import tracemalloc
from typing import TYPE_CHECKING, Any

from attrs import evolve

from loadworthy import Case, Host, assess
from loadworthy.house import House
from loadworthy.weigh import weigh
from support import DEMOS, bundled, bundled_modules

if TYPE_CHECKING:
    from collections.abc import Callable

RICH = max(DEMOS, key=lambda path: path.stat().st_size)


def rich_case() -> Case:
    return Case.load(RICH, catalogue=bundled().catalogue)


def median(function: Callable[[], Any], rounds: int = 40) -> float:
    times = []
    for _ in range(rounds):
        begin = time.process_time()
        function()
        times.append(time.process_time() - begin)
    return statistics.median(times)


def test_framework_overhead_is_at_most_a_quarter_of_the_plugins_own_time() -> None:
    """Host calls, checks of results and isolation against the bare calls of the same functions."""
    host, case = bundled(), rich_case()
    limits = House().resolve(host.catalogue)
    supplied = host.demand(case).demand
    assert supplied is not None
    demand = host.extend_demand(case, supplied).demand
    given = {"case": case, "demand": demand, "limits": limits}
    calls = []
    for module in bundled_modules().values():
        for hook in ("requirements", "subjects", "demand", "extend_demand", "examine"):
            function = getattr(module, hook, None)
            if function is not None:
                names = inspect.signature(function).parameters
                arguments = [supplied if (hook, name) == ("extend_demand", "demand") else given[name] for name in names]
                calls.append((function, arguments, hook in ("requirements", "examine")))
    assert len(calls) > len(bundled_modules())

    def bare() -> None:
        for function, arguments, many in calls:
            found = function(*arguments)
            if many:
                tuple(found)

    def hosted() -> None:
        host.requirements()
        host.subjects(case)
        host.demand(case)
        host.extend_demand(case, supplied)
        host.examine(case, demand, limits)

    bare(), hosted()
    ratios = [median(hosted, 12) / median(bare, 12) for _ in range(5)]
    overhead = statistics.median(ratios) - 1.0
    print(f"framework overhead {overhead:.0%}, bound 25 %")
    assert overhead <= 0.25


def test_memory_is_flat_over_a_thousand_cases() -> None:
    host, case = bundled(), rich_case()
    for _ in range(30):
        assess(case, host=host)
    gc.collect()
    tracemalloc.start()
    for _ in range(20):
        assess(case, host=host)
    gc.collect()
    first = tracemalloc.get_traced_memory()[0]
    for _ in range(480):
        assess(case, host=host)
    gc.collect()
    second = tracemalloc.get_traced_memory()[0]
    tracemalloc.stop()
    objects = len(gc.get_objects())
    for _ in range(500):
        assess(case, host=host)
    gc.collect()
    grown = len(gc.get_objects()) - objects
    print(f"memory {first} -> {second} bytes over 480 cases; {grown} objects more after 500")
    assert second - first < 200_000
    assert grown < 200


def test_weighing_grows_in_proportion_to_the_sheets() -> None:
    """Per sheet not more than twice as dear at 160 sheets as at 20."""
    host: Host = bundled()
    case = rich_case()
    demand = host.demand(case).demand
    limits = House().resolve(host.catalogue)
    subjects = {kind: tuple(ids) for _, given in host.subjects(case).values for kind, ids in given.items()}

    def cost(count: int) -> float:
        sheets = tuple(
            evolve(sheet, id=f"{sheet.id}-{n}", date=sheet.date.replace(day=1 + n % 28, month=1 + n // 28 % 12))
            for n in range(count // len(case.sheets))
            for sheet in case.sheets
        )
        many = evolve(case, sheets=tuple(sorted(sheets, key=lambda s: (s.date, s.id))))
        results = host.examine(many, demand, limits).values
        day = max(sheet.date for sheet in sheets)
        return (
            median(lambda: weigh(results, case=many, day=day, catalogue=host.catalogue, subjects=subjects), 5) / count
        )

    ratio = cost(160) / cost(20)
    print(f"cost of weighing a sheet among 160 against among 20: {ratio:.2f}, bound 2")
    assert ratio <= 2.0
