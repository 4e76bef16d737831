"""Which ceilings are in force."""

from __future__ import annotations

import pytest

from loadworthy.beliefs import Standing
from loadworthy.declarations import Catalogue, Cause, Rule
from loadworthy.findings import Capacity, Ceiling, Finding, Weight
from loadworthy.restraints import by_grade, in_force, of_unknown_capacities, retest_of

CATALOGUE = Catalogue(
    causes={
        "a": Cause("a", "a", 0.1, 3, "load", retest=("retest-a", "other")),
        "b": Cause("b", "b", 0.1, 3, "load", retest=("retest-b",)),
        "bare": Cause("bare", "bare", 0.1, 3, "load"),
    },
    rules={
        "plug.level": Rule("level", "s", "level", "own-test", bands={"hit": {"a": 3.0, "b": 6.0}, "ok": {"a": 0.1}}),
        "plug.plain": Rule("plain", "s", "plain", test="own-test"),
    },
)  # fmt: skip


def standing(grade: str | None, state: str = "governs", rule: str = "plug.level", **more: object) -> Standing:
    finding = Finding(rule, "s1", text="too low", **more)
    return Standing(f"{rule}#s1", "plug", finding, state, grade)


def tied(value: object = "as_received", kind: str = "hard") -> tuple[str, Ceiling]:
    made = Ceiling("own", "q", value, "too low", kind=kind, finding=("plug.level", None, "s1"))
    return "plug", made


@pytest.mark.parametrize(
    ("grade", "state", "stays"),
    [
        ("fix_first", "governs", True),
        ("watch", "governs", True),
        ("note", "governs", True),
        ("clean", "governs", False),
        ("fix_first", "history", False),
        ("watch", "carried", True),
        ("note", "carried", False),
        (None, "unknown", True),
    ],
)
def test_a_ceiling_stands_as_long_as_its_finding(grade: str | None, state: str, stays: bool) -> None:
    assert bool(in_force([tied()], [standing(grade, state)])) is stays


def test_a_ceiling_of_no_finding_or_of_one_never_reported_stays() -> None:
    free = ("plug", Ceiling("free", "q", 1.0, "a rating"))
    assert in_force([free, tied()], []) == (free, tied())


def test_fix_first_holds_torque_as_received_until_the_retest() -> None:
    ((plugin, made),) = by_grade([standing("fix_first")], [], CATALOGUE)
    assert (plugin, made.name, made.value, made.kind, made.origin) == (
        "plug", "level.as_received", "as_received", "hard", "fault",
    )  # fmt: skip
    assert (made.until, made.finding, made.reason) == ("retest-b", ("plug.level", None, "s1"), "too low")


def test_a_hard_ceiling_of_its_own_stands_instead() -> None:
    assert by_grade([standing("fix_first")], [tied(200.0)], CATALOGUE) == ()
    assert len(by_grade([standing("fix_first")], [tied(200.0, kind="advisory")], CATALOGUE)) == 1


def test_a_stop_allows_nothing_whatever_else_there_is() -> None:
    ((_, made),) = by_grade([standing("stop")], [tied(200.0)], CATALOGUE)
    assert (made.name, made.value, made.quantity) == ("level.stop", 0.0, "")


@pytest.mark.parametrize(
    ("grade", "state"), [("watch", "governs"), ("fix_first", "history"), (None, "unknown"), ("clean", "governs")]
)
def test_milder_or_superseded_findings_set_no_ceiling(grade: str | None, state: str) -> None:
    assert by_grade([standing(grade, state)], [], CATALOGUE) == ()


def test_one_ceiling_for_one_rule_on_several_sheets() -> None:
    two = [standing("fix_first"), standing("fix_first", "carried")]
    assert len(by_grade(two, [], CATALOGUE)) == 1


@pytest.mark.parametrize(
    ("one", "expected"),
    [
        (standing("stop"), "retest-b"),
        (standing("stop", weights=(Weight("a", None, 9.0), Weight("b", None, 3.0))), "retest-a"),
        (standing("stop", names=(("a", None),)), "retest-a"),
        (standing("stop", rule="plug.plain", names=(("bare", None),)), "own-test"),
        (standing("stop", rule="plug.undeclared"), "plug.undeclared"),
    ],
    ids=["strongest of the table", "strongest weight", "named by state", "its own test", "its rule"],
)
def test_which_retest_lifts(one: Standing, expected: str) -> None:
    assert retest_of(one, CATALOGUE) == expected


def test_unknown_capacities_hold_at_what_was_demonstrated() -> None:
    known = Capacity("a", "q", value=1.0)
    shown = Capacity("a", "q", demonstrated=250.0, until="a-test")
    never = Capacity("b", "q", subject="side 1")
    (_, first), (_, second) = of_unknown_capacities([("plug", known), ("plug", shown), ("plug", never)], CATALOGUE)
    assert (first.value, first.basis, first.origin, first.until) == (250.0, "demonstrated", "gap", "a-test")
    assert (second.value, second.basis, second.subject, second.until) == ("as_received", "", "side 1", "retest-b")
