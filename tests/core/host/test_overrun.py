"""Overtime is ended, and the interruption never reaches the core."""

# ruff: noqa: SIM105 (plugins that swallow exceptions, as they are written)

from __future__ import annotations

import os
import random
import subprocess
import sys
import textwrap
import threading
import time
from _thread import get_ident
from collections.abc import Iterator
from typing import Any

import pytest

from loadworthy.findings import Advice
from loadworthy.host import Host, isolate
from loadworthy.host.isolate import OverrunError, Watch, Watchdog, _send

BUDGET = 0.05


def spin(seconds: float = 60.0) -> str:
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        pass
    return "done"


def endless() -> list[Any]:
    while True:
        pass


def endless_generator() -> Iterator[Any]:
    yield Advice("before the loop")
    while True:
        pass


def swallows_once() -> list[Any]:
    try:
        spin()
    except BaseException:
        pass
    spin()
    return []


def swallows_and_answers() -> list[Any]:
    try:
        spin()
    except BaseException:
        return [Advice("as if nothing had been")]
    return []


def hides_it() -> list[Any]:
    try:
        spin()
    except BaseException as error:
        raise ValueError("something else") from error
    return []


def careless() -> list[Any]:
    while True:
        try:
            spin(0.001)
        except Exception:
            pass


def swallows_often() -> list[Any]:
    for _ in range(30):
        try:
            spin()
        except BaseException:
            pass
    return []


@pytest.mark.parametrize(
    "function",
    [endless, endless_generator, swallows_once, swallows_and_answers, hides_it, careless, swallows_often],
    ids=lambda f: f.__name__,
)
def test_overtime_is_ended_and_named(function: Any, plugin: Any, host_of: Any, examine: Any) -> None:
    def good() -> list[Any]:
        return [Advice("good")]

    start = time.monotonic()
    run = examine(
        host_of(
            a_good=plugin(examine=good),
            loops=plugin(examine=function),
            z_good=plugin(examine=good),
            budget=BUDGET,
        )
    )
    assert time.monotonic() - start < 20.0
    assert [(failure.plugin, failure.hook, failure.problem) for failure in run.failures] == [
        ("loops", "examine", "ran longer than 0.05 s and was stopped")
    ]
    good_ones = [(plugin, one.text) for plugin, one in run.values if plugin != "loops"]
    assert good_ones == [("a_good", "good"), ("z_good", "good")]
    # What it gave before, or gives all the same, stays: every good result does.
    own = [one.text for plugin, one in run.values if plugin == "loops"]
    given = {endless_generator: ["before the loop"], swallows_and_answers: ["as if nothing had been"]}
    assert own == given.get(function, [])


def test_overtime_while_loading_and_declaring(tmp_path: Any, plugin: Any) -> None:
    file = tmp_path / "slow.py"
    file.write_text("while True:\n    pass\n", encoding="utf-8")
    host = Host({"declares": plugin(declare=endless)}, files=[file], entry_points=False, budget=BUDGET)
    assert [(failure.plugin, failure.hook) for failure in host.failures] == [("declares", "declare"), ("slow", "load")]
    assert all("ran longer" in failure.problem for failure in host.failures)
    assert host.catalogue.sections == {}


def test_an_exception_whose_text_never_ends(plugin: Any, host_of: Any, examine: Any) -> None:
    class EndlessError(Exception):
        def __str__(self) -> str:
            return str(endless())

    def raises() -> None:
        raise EndlessError

    run = examine(host_of(a=plugin(examine=raises), budget=BUDGET))
    assert [failure.problem for failure in run.failures] == ["raised EndlessError"]


def test_in_time_is_no_failure(plugin: Any, host_of: Any, examine: Any) -> None:
    # Each call has the whole budget: together they may take longer.
    def slow() -> list[Any]:
        spin(0.3)
        return [Advice("done")]

    run = examine(host_of(**{f"p{number}": plugin(examine=slow) for number in range(4)}, budget=1.0))
    assert run.failures == ()
    assert len(run.values) == 4


def test_many_threads_at_their_deadline_leak_nothing() -> None:
    # Calls end within microseconds of their deadline, again and again, while every thread fights for the interpreter.
    dog = Watchdog(0.01)
    leaked: list[BaseException] = []
    outcomes: set[str] = set()
    end = time.monotonic() + 1.5

    def swallow(seconds: float) -> str:
        try:
            spin(seconds)
        except BaseException:
            pass
        return spin(seconds)

    def work(seed: int) -> None:
        rng = random.Random(seed)
        try:
            while time.monotonic() < end:
                with dog.watch() as watch:
                    for _ in range(3):
                        function = rng.choice((spin, swallow))
                        value, error = watch.call(function, rng.choice((0.0, 0.0098, 0.01, 0.0101, 0.02)))
                        assert (value == "done") == (error is None)
                        outcomes.add(type(error).__name__)
                sum(range(500))
        except BaseException as error:
            leaked.append(error)

    threads = [threading.Thread(target=work, args=(seed,)) for seed in range(12)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert leaked == []
    assert outcomes == {"NoneType", "OverrunError"}


def test_interruption_on_its_way_when_the_call_ends_is_dropped() -> None:
    # As if the watchdog had sent it at the very last moment: it is pending when the function returns.
    watch = Watchdog(10.0).watch()

    def last_moment() -> str:
        watch.fired = True
        _send(get_ident())
        return "late"

    for _ in range(200):
        value, error = watch.call(last_moment)
        assert (value, type(error)) == (None, OverrunError)
    assert watch.call(lambda: sum(range(1000))) == (499500, None)


def test_the_end_of_a_call_waits_for_a_watchdog_that_is_firing() -> None:
    watch = Watchdog(10.0).watch()
    order: list[str] = []

    def firing() -> None:
        time.sleep(0.05)
        order.append("fired")
        watch.fired = True
        _send(watch.thread)
        watch.firing = False

    def call() -> str:
        watch.firing = True
        threading.Thread(target=firing).start()
        return "done"

    value, error = watch.call(call)
    order.append("returned")
    assert order == ["fired", "returned"]
    assert (value, type(error)) == (None, OverrunError)
    assert watch.call(spin, 0.01) == ("done", None)


def test_calls_within_calls(plugin: Any, host_of: Any, examine: Any) -> None:
    # The time of the outer call runs out during the inner one, which is another host's: the outer one has failed.
    inner = host_of(inner=plugin(examine=endless), budget=60.0)
    outer = host_of(outer=plugin(examine=lambda: [examine(inner)]), budget=BUDGET)
    run = examine(outer)
    assert [(failure.plugin, failure.problem) for failure in run.failures] == [
        ("outer", "ran longer than 0.05 s and was stopped")
    ]


def test_watchdog_ends_itself_and_begins_again() -> None:
    dog = Watchdog(BUDGET)
    for _ in range(2):
        with dog.watch() as watch:
            assert isinstance(watch.call(endless)[1], OverrunError)
        end = time.monotonic() + 5.0
        while dog._running and time.monotonic() < end:
            time.sleep(0.01)
        assert not dog._running
        assert dog._watches == set()


@pytest.mark.filterwarnings("ignore:This process:DeprecationWarning")  # forking with threads is the point here
@pytest.mark.skipif(not hasattr(os, "fork"), reason="no fork on this system")
def test_a_forked_child_has_its_own_watchdog(plugin: Any, host_of: Any, examine: Any) -> None:
    host = host_of(loops=plugin(examine=endless), budget=BUDGET)
    examine(host)  # the watchdog runs now, here
    child = os.fork()
    if child == 0:
        run = examine(host)
        os._exit(0 if "ran longer" in run.failures[0].problem else 1)
    end = time.monotonic() + 10.0
    pid, status = 0, 0
    while pid == 0 and time.monotonic() < end:
        pid, status = os.waitpid(child, os.WNOHANG)
        time.sleep(0.01)
    if pid == 0:
        os.kill(child, 9)
        os.waitpid(child, 0)
    assert (pid, status) == (child, 0)


@pytest.mark.parametrize("budget", [0.0, -1.0, float("inf"), float("nan")])
def test_a_budget_is_positive(budget: float) -> None:
    with pytest.raises(ValueError, match="time budget"):
        Host(entry_points=False, budget=budget)


def fails(seconds: float = 0.0) -> str:
    raise ValueError("own fault")


@pytest.mark.parametrize("function", [spin, fails])
@pytest.mark.parametrize("late", [OverrunError, KeyboardInterrupt])
def test_exceptions_that_arrive_while_the_call_is_settled(
    function: Any, late: type[BaseException], monkeypatch: pytest.MonkeyPatch
) -> None:
    # The window is a few bytecodes wide, so the arrival is played here.
    arrivals = [late()]
    settled: list[bool] = []

    def settle(watch: Watch) -> None:
        if arrivals:
            raise arrivals.pop()
        settled.append(watch.over)

    monkeypatch.setattr(isolate, "_settle", settle)
    watch = Watchdog(10.0).watch()

    def call() -> str:
        watch.fired = True
        return str(function(0.0))

    if late is KeyboardInterrupt:
        with pytest.raises(KeyboardInterrupt):
            watch.call(call)
    else:
        value, error = watch.call(call)
        assert (value, type(error)) == (None, OverrunError)
    assert settled == [True]


def test_functions_can_be_traced_after_an_interruption() -> None:
    """A debugger, or a test tool: CPython 3.11 hangs there while an interruption is announced that never arrives."""
    code = textwrap.dedent(
        """
        import sys
        from loadworthy.host.isolate import Watchdog

        def endless():
            while True:
                pass

        def traced():
            return "traced"

        with Watchdog(0.05).watch() as watch:
            for _ in range(3):
                watch.call(endless)
        sys.settrace(lambda *_: None)
        print(traced())
        """
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False, timeout=60)
    assert (done.returncode, done.stdout, done.stderr) == (0, "traced\n", "")
