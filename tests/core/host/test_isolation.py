"""One plugin that misbehaves costs no other plugin anything, and is named with its hook and its fault."""

from __future__ import annotations

import sys
import threading
from collections.abc import Iterator
from typing import Any

import pytest

from loadworthy.case import Case, Sheet
from loadworthy.findings import Advice, Finding, Verdict, Weight
from loadworthy.host.host import MOST_NAMED, MOST_RESULTS


class UnprintableError(Exception):
    def __str__(self) -> str:
        raise RuntimeError("no text")


def raising(error: BaseException) -> Any:
    def examine(case: Case) -> list[Any]:
        raise error

    return examine


def returning(value: Any) -> Any:
    def examine(case: Case) -> Any:
        return value

    return examine


def recursion(case: Case) -> Any:
    return recursion(case)


def forgets_a_key(case: Case) -> Any:
    return [{}["dry"]]


def ends_the_program() -> Any:
    sys.exit(3)


def finding(**more: Any) -> Finding:
    return Finding("bad.rule", **{"verdicts": (Verdict("watch", 1.0),), **more})


nan, inf = float("nan"), float("inf")

#: name, examine function of the plugin "bad", words of the problem
CASES = [
    ("raises", raising(ValueError("no sheet of this kind")), "raised ValueError: no sheet of this kind"),
    ("raises without text", raising(KeyError()), "raised KeyError"),
    ("raises what cannot be shown", raising(UnprintableError()), "raised UnprintableError"),
    ("ends the program", ends_the_program, "raised SystemExit: 3"),
    ("generator exit", raising(GeneratorExit()), "raised GeneratorExit"),
    ("recursion", recursion, "raised RecursionError: maximum recursion depth exceeded"),
    ("wrong key", forgets_a_key, "raised KeyError: 'dry'"),
    ("a number", returning(7), "returned 7; due is a list of results, or a generator of them"),
    ("a text", returning("clean"), "returned 'clean'; due is a list of results"),
    ("one result bare", returning(finding()), "returned of class loadworthy.findings.Finding; due is a list"),
    ("a class", returning([Finding]), "result 1 is of class type; due is one of Advice"),
    ("a dict", returning({"a": 1}), "result 1 is 'a'; due is one of Advice"),
    ("p not a number", returning([finding(verdicts=(Verdict("watch", nan),))]), "verdicts[0].p_beyond is nan"),
    ("p infinite", returning([finding(verdicts=(Verdict("watch", inf),))]), "verdicts[0].p_beyond is inf"),
    ("p above 1", returning([finding(verdicts=(Verdict("watch", 1.2),))]), "verdicts[0].p_beyond is 1.2"),
    ("unknown grade", returning([finding(verdicts=(Verdict("terrible", 1.0),))]), "grade is 'terrible'; due is one of"),
    ("ratio of zero", returning([finding(weights=(Weight("a", None, -inf),))]), "weights[0].db is -inf"),
    ("ratio below zero", returning([finding(weights=(Weight("a", None, nan),))]), "weights[0].db is nan"),
    ("absurd ratio", returning([finding(weights=(Weight("a", None, 1e6),))]), "within 100 decibans"),
    ("bands above 1", returning([finding(bands={"fired": 0.8, "clean": 0.3})]), "sum to 1.1"),
    ("no verdict", returning([Finding("bad.rule")]), "neither a verdict nor"),
    ("another's rule", returning([Finding("good.rule", unknown="?")]), 'an id that begins with "bad."'),
    ("a list inside", returning([finding(steps=[])]), "steps is of class list; due is a tuple"),
]


@pytest.mark.parametrize(("name", "function", "words"), CASES, ids=[case[0] for case in CASES])
def test_failure_names_plugin_and_hook_and_spares_the_others(
    name: str, function: Any, words: str, plugin: Any, host_of: Any, examine: Any, finding: Any
) -> None:
    before = plugin(examine=lambda case: [finding("alpha.rule"), Advice("look again")])
    after = plugin(examine=lambda case: iter([finding("omega.rule")]))
    alone = examine(host_of(alpha=before, omega=after))
    assert [plugin for plugin, _ in alone.values] == ["alpha", "alpha", "omega"]

    run = examine(host_of(alpha=before, bad=plugin(examine=function), omega=after))

    assert [(failure.plugin, failure.hook) for failure in run.failures] == [("bad", "examine")]
    assert words in run.failures[0].problem
    assert [pair for pair in run.values if pair[0] != "bad"] == list(alone.values)
    assert repr([pair for pair in run.values if pair[0] != "bad"]) == repr(list(alone.values))


def test_the_place_of_an_exception_is_named(plugin: Any, host_of: Any, examine: Any) -> None:
    run = examine(host_of(bad=plugin(examine=forgets_a_key)))
    assert run.failures[0].detail.startswith("test_isolation.py, line ")
    assert run.failures[0].detail.endswith("in forgets_a_key")
    assert str(run.failures[0]).startswith("bad (examine): raised KeyError: 'dry' [test_isolation.py, line")


def test_addresses_and_long_texts_are_left_out(plugin: Any, host_of: Any, examine: Any) -> None:
    error = ValueError(f"cannot read {object()!r}\n" + "x" * 1000)
    problem = examine(host_of(bad=plugin(examine=raising(error)))).failures[0].problem
    assert problem.startswith("raised ValueError: cannot read <object object> xxx")
    assert problem.endswith("x ...")
    assert len(problem) < 350


def test_results_before_the_exception_stay(plugin: Any, host_of: Any, examine: Any, finding: Any) -> None:
    def half(case: Case) -> Iterator[Finding]:
        yield finding("half.first")
        yield finding("half.second")
        raise ValueError("third sheet is damaged")

    run = examine(host_of(half=plugin(examine=half)))
    assert [one.rule for _, one in run.values] == ["half.first", "half.second"]
    assert [failure.problem for failure in run.failures] == ["raised ValueError: third sheet is damaged"]


def test_good_results_beside_a_bad_one_stay(plugin: Any, host_of: Any, examine: Any, finding: Any) -> None:
    bad = finding("mixed.bad", verdicts=(Verdict("watch", nan),))
    run = examine(host_of(mixed=plugin(examine=lambda case: [finding("mixed.a"), bad, finding("mixed.b")])))
    assert [one.rule for _, one in run.values] == ["mixed.a", "mixed.b"]
    assert run.failures[0].problem == (
        "result 2, Finding mixed.bad#s1, refused: verdicts[0].p_beyond is nan; due is a plain number from 0 to 1"
    )


def test_endless_generator_is_cut(plugin: Any, host_of: Any, examine: Any) -> None:
    closed = []

    def endless(case: Case) -> Iterator[Any]:
        number = 0
        try:
            while True:
                number += 1
                yield Advice(f"advice {number}")
        finally:
            closed.append(number)

    run = examine(host_of(endless=plugin(examine=endless), other=plugin(examine=lambda: [Advice("other")])))
    assert len(run.values) == MOST_RESULTS + 1
    assert closed == [MOST_RESULTS + 1]
    assert [failure.problem for failure in run.failures] == [
        f"gave more than {MOST_RESULTS} results; the rest was not looked at"
    ]


def test_flood_of_bad_results_is_told_in_few_lines(plugin: Any, host_of: Any, examine: Any) -> None:
    run = examine(host_of(flood=plugin(examine=lambda: [object() for _ in range(3000)])))
    assert run.values == ()
    assert len(run.failures) == MOST_NAMED + 1
    assert run.failures[-1].problem == f"{3000 - MOST_NAMED} more results were refused"


def test_nothing_is_no_failure(plugin: Any, host_of: Any, examine: Any) -> None:
    run = examine(host_of(quiet=plugin(examine=lambda: None), empty=plugin(examine=lambda: ())))
    assert (run.values, run.failures) == ((), ())


def test_keyboard_interrupt_passes(plugin: Any, host_of: Any, examine: Any) -> None:
    host = host_of(stopped=plugin(examine=raising(KeyboardInterrupt())))
    with pytest.raises(KeyboardInterrupt):
        examine(host)


class LoopsWhenLookedAt(dict[str, float]):
    def __len__(self) -> int:
        raise ValueError("looked at")

    def __iter__(self) -> Any:
        raise ValueError("looked at")


def test_values_that_run_code_when_looked_at(plugin: Any, host_of: Any, examine: Any, finding: Any) -> None:
    from types import MappingProxyType

    trap = finding("trap.a", bands=MappingProxyType(LoopsWhenLookedAt()))
    run = examine(host_of(trap=plugin(examine=lambda: [trap, finding("trap.b")])))
    assert [one.rule for _, one in run.values] == ["trap.b"]
    assert "it cannot be checked (ValueError)" in run.failures[0].problem


def changes_case(case: Case) -> None:
    case.name = "changed"


def changes_values(case: Case) -> None:
    case.sheets[0].values["a"] = 2


def adds_sheet(case: Case) -> None:
    case.sheets.append(None)


@pytest.mark.parametrize("function", [changes_case, changes_values, adds_sheet])
def test_what_plugins_are_given_cannot_be_changed(function: Any, plugin: Any, host_of: Any) -> None:
    import datetime

    case = Case("as it was", sheets=(Sheet("any", "s1", datetime.date(2026, 5, 4), {"a": 1}),))
    before = repr(case)
    seen: list[Case] = []
    host = host_of(a=plugin(subjects=function), b=plugin(subjects=lambda case: seen.append(case)))
    run = host.subjects(case)
    assert [failure.plugin for failure in run.failures] == ["a"]
    assert seen == [case]
    assert seen[0] is case
    assert repr(case) == before


def test_a_returned_list_is_copied(plugin: Any, host_of: Any, examine: Any) -> None:
    kept = [Advice("one")]
    run = examine(host_of(a=plugin(examine=lambda: kept)))
    kept.clear()
    assert len(run.values) == 1


def test_threads_share_a_host(plugin: Any, host_of: Any, examine: Any, finding: Any) -> None:
    def steady(case: Case) -> Iterator[Finding]:
        for number in range(20):
            yield finding(f"steady.rule{number}")

    host = host_of(
        bad=plugin(examine=raising(ValueError("no"))), steady=plugin(examine=steady), worse=plugin(examine=recursion)
    )
    expected = repr(examine(host))
    seen: list[str] = []

    def work() -> None:
        seen.extend(repr(examine(host)) for _ in range(5))

    threads = [threading.Thread(target=work) for _ in range(32)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert seen == [expected] * 160


def test_seconds_only_on_demand(plugin: Any, host_of: Any, examine: Any) -> None:
    answers = plugin(examine=lambda: [Advice("one")])
    assert dict(examine(host_of(a=answers)).seconds) == {}
    seconds = examine(host_of(a=answers, timed=True)).seconds
    assert seconds.keys() == {"a"}
    assert 0.0 < seconds["a"] < 1.0
