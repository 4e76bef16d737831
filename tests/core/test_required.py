"""Required evidence against what the checks answered."""

from __future__ import annotations

import itertools

import pytest

from loadworthy.declarations import PLAN_CLASSES, Requirement
from loadworthy.findings import Ceiling, Coverage
from loadworthy.required import NO_ROWS, STATES, required_evidence

LEVELS = {"none": "-", "mild": "A", "strong": "R", "extreme": "R"}
ROW = Requirement("row", "the row", LEVELS, section="bench", test="bench-test")


def answer(state: str, *sheets: str, row: str = "row", why: str = "") -> tuple[str, Coverage]:
    return "plug", Coverage(row, state, why, sheets)


@pytest.mark.parametrize(
    ("plan_class", "gap", "ceiling"), [("none", None, 0), ("mild", False, 0), ("strong", True, 1), ("extreme", True, 1)]
)
def test_what_is_missing_depends_on_the_plan(plan_class: str, gap: bool | None, ceiling: int) -> None:
    found = required_evidence([ROW], [answer("absent")], plan_class)
    assert [g.required for g in found.gaps] == ([] if gap is None else [gap])
    assert len(found.ceilings) == ceiling


def test_a_gap_and_its_ceiling_name_the_row() -> None:
    found = required_evidence([ROW], [answer("refused", "s1", why="the gauge is out of date")], "strong")
    (gap,) = found.gaps
    assert (gap.id, gap.section, gap.test) == ("row", "bench", "bench-test")
    assert gap.text == "the row cannot be used: the gauge is out of date"
    ((_, ceiling),) = found.ceilings
    assert (ceiling.value, ceiling.origin, ceiling.until, ceiling.row) == ("as_received", "gap", "row", "row")


@pytest.mark.parametrize(("state", "satisfied"), [(s, s in ("met", "not_applicable")) for s in STATES])
def test_only_met_or_not_applicable_satisfies(state: str, satisfied: bool) -> None:
    found = required_evidence([ROW], [answer(state, "s1")], "strong")
    assert found.rows[0].satisfied is satisfied
    assert (found.gaps == ()) is satisfied


def test_stale_where_every_sheet_is() -> None:
    for sheets, stale, state in (
        (("s1", "s2"), {"s1", "s2"}, "stale"),
        (("s1", "s2"), {"s1"}, "met"),
        ((), {"s1"}, "met"),
    ):
        found = required_evidence([ROW], [answer("met", *sheets)], "strong", stale=stale)
        assert found.rows[0].state == state


def test_a_row_that_nobody_answers_is_missing() -> None:
    found = required_evidence([ROW], [answer("met", row="another")], "strong")
    assert found.rows[0].state == "absent"
    assert "no installed check answers" in found.gaps[0].text


def test_a_failed_check_has_answered_nothing() -> None:
    met = answer("met", "s1")
    for failed, owners in (({"plug"}, {}), ({"owner"}, {"bench": "owner"})):
        found = required_evidence([ROW], [met], "strong", failed=failed, owners=owners)
        assert found.rows[0].state == "unknown"
        assert found.gaps[0].required
        assert found.rows[0].failed == tuple(failed)
    other = required_evidence([ROW], [met], "strong", failed={"stranger"}, owners={"bench": "owner"})
    assert other.gaps == ()


def test_several_answers_count_as_the_worst_in_any_order() -> None:
    answers = [answer(state, "s1") for state in STATES]
    for some in itertools.permutations(answers[:4], 3):
        found = required_evidence([ROW], some, "strong")
        assert STATES.index(found.rows[0].state) == max(STATES.index(c.state) for _, c in some)


def test_a_ceiling_that_names_the_row_stands_in() -> None:
    own = ("plug", Ceiling("own", "q", 200.0, "unproven", origin="gap", row="row"))
    assert required_evidence([ROW], [answer("absent")], "strong", ceilings=[own]).ceilings == ()
    assert len(required_evidence([ROW], [answer("absent")], "strong", ceilings=[own], failed={"plug"}).ceilings) == 1


def test_a_row_without_a_ceiling_sets_none() -> None:
    gate = Requirement("gate", "a gate", LEVELS, gate=True, ceiling="")
    found = required_evidence([gate], [], "strong")
    assert found.gaps[0].required
    assert found.ceilings == ()
    assert found.rows[0].gate


def test_without_a_table_nothing_can_be_enough() -> None:
    (gap,) = required_evidence([], [answer("met")], "none").gaps
    assert (gap.id, gap.required) == (NO_ROWS, True)


def test_a_class_that_the_table_does_not_name_is_held_to_the_full() -> None:
    short = Requirement("row", "the row", {"strong": "R"})
    for plan_class in PLAN_CLASSES:
        assert required_evidence([short], [], plan_class).gaps[0].required
