"""How a finding is judged, which of several governs, and what an older fault still means (method, section 2)."""

from __future__ import annotations

import datetime
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from weighing import repair, sheet

from loadworthy.moments import later
from loadworthy.sdk import Finding, Sheet, Verdict
from loadworthy.standing import History, finding_id, grade_of, judge, severity

if TYPE_CHECKING:
    from loadworthy.beliefs import Standing
    from loadworthy.case import Repair
    from loadworthy.findings import Grade

SHEETS = st.lists(
    st.builds(
        Sheet,
        section=st.just("bench"),
        id=st.uuids().map(str),
        date=st.integers(1, 3).map(lambda day: datetime.date(2026, 5, day)),
        time=st.none() | st.integers(8, 10).map(datetime.time),
        retest_of=st.sampled_from(["", "", "r"]),
    ),
    min_size=1,
    max_size=7,
)


@given(sheets=SHEETS, data=st.data())
def test_the_worst_of_the_latest_runs_governs(sheets: list[Sheet], data: st.DataObject) -> None:
    """Against the definition read word by word: the worst of those that none is certainly later than."""
    by_id = {sheet.id: sheet for sheet in sheets}
    places = data.draw(st.permutations([*by_id, "a fact without a sheet"]))
    grades, chances = st.sampled_from(["note", "watch", "fix_first", "stop"]), st.sampled_from([0.0, 0.3, 0.9])
    runs = [
        judge("p", Finding("p.r", place, verdicts=(Verdict(data.draw(grades), data.draw(chances)),)))
        for place in places
    ]

    def is_later(one: str, other: str) -> bool:
        return one in by_id and other in by_id and later(by_id[one], by_id[other])

    latest = [run for run in runs if not any(is_later(other, run.finding.sheet) for other in places)]
    worst = max(latest, key=lambda run: (severity(run.grade), run.accept, run.p_beyond or 0.0, run.id))
    settled = History(by_id, (), lambda repair, finding: False).settle(runs)
    assert [run.id for run in settled if run.state == "governs"] == [worst.id]
    assert len(settled) == len(runs)


@pytest.mark.parametrize(
    ("grade", "p", "expected"),
    [
        ("stop", 0.0499, ("clean", False, False)),
        ("stop", 0.05, ("watch", True, True)),
        ("fix_first", 0.4999, ("watch", True, True)),
        ("watch", 0.4999, ("watch", False, True)),
        ("note", 0.4999, ("note", False, True)),
        ("stop", 0.5, ("stop", False, False)),
        ("note", 1.0, ("note", False, False)),
    ],
)
def test_grade_by_probability(grade: Grade, p: float, expected: tuple[Grade, bool, bool]) -> None:
    """Clean below 0.05, borderline below 0.5, then the limit's own grade (method, section 2; JCGM 106:2012)."""
    assert grade_of(Verdict(grade, p)) == expected


def _judged(*verdicts: Verdict, **more: Any) -> Standing:
    return judge("p", Finding("p.r", "s", "part 1", verdicts, **more))


def test_the_worst_verdict_decides() -> None:
    mild, severe = Verdict("watch", 0.9, "p.mild"), Verdict("stop", 0.3, "p.severe")
    for order in ((mild, severe), (severe, mild)):
        one = _judged(*order)
        # Both are watch; the one that must be accepted is the worse.
        assert (one.grade, one.accept, one.borderline, one.p_beyond) == ("watch", True, True, 0.3)
        assert one.verdict == severe
        assert one.fired
    assert _judged(mild, Verdict("fix_first", 0.5)).grade == "fix_first"
    assert one.id == "p.r@part 1#s"
    assert finding_id(Finding("p.r", "s")) == "p.r#s"


@pytest.mark.parametrize(
    ("finding", "why"),
    [
        (Finding("p.r", "s", unknown="too cold"), "too cold"),
        (Finding("p.r", "s", verdicts=(Verdict("stop", 1.0),), unknown="too cold"), "too cold"),
        (Finding("p.r", "s"), "no verdict was given"),
        (Finding("p.r", "s", verdicts=(Verdict("stop", 0.01),), clears=False, text="cold"), "cold"),
    ],
)
def test_what_did_not_run_or_may_not_clear_is_unknown(finding: Finding, why: str) -> None:
    one = judge("p", finding)
    assert (one.state, one.grade, one.why, one.stands) == ("unknown", None, why, False)


def test_what_may_not_clear_fires_all_the_same() -> None:
    one = _judged(Verdict("stop", 0.6), clears=False)
    assert (one.state, one.grade) == ("governs", "stop")


def test_a_cap_on_the_grade_leaves_a_word_of_condition() -> None:
    capped = _judged(Verdict("stop", 1.0), max_grade="watch")
    assert (capped.grade, capped.accept, capped.fired) == ("watch", True, True)
    mild = _judged(Verdict("watch", 1.0), max_grade="note")
    assert (mild.grade, mild.accept) == ("note", False)
    below = _judged(Verdict("watch", 1.0), max_grade="fix_first")
    assert (below.grade, below.accept) == ("watch", False)


def test_accept_belongs_to_a_finding_and_not_to_a_clean_one() -> None:
    assert _judged(Verdict("note", 1.0), accept=True).accept
    assert not _judged(Verdict("stop", 0.0), accept=True).accept


@pytest.mark.parametrize(
    ("p", "default_p", "loosened"),
    [(0.01, 0.9, True), (0.3, 0.9, True), (0.9, 0.95, False), (0.01, 0.02, False), (0.01, None, False)],
)
def test_a_looser_limit_is_seen_where_it_changed_the_grade(p: float, default_p: float | None, loosened: bool) -> None:
    assert _judged(Verdict("fix_first", p, default_p=default_p)).loosened is loosened


# Several sheets ------------------------------------------------------------------------------------------------------

CLEAN, BORDERLINE = Verdict("stop", 0.0), Verdict("stop", 0.2)


def _settled(
    *runs: tuple[Sheet, Verdict | None], repairs: tuple[Repair, ...] = (), subject: str | None = None
) -> dict[str, Standing]:
    """Settle one rule over several sheets, in both orders of entry; None: it could not run."""
    findings = [
        Finding("p.r", sheet.id, subject, () if verdict is None else (verdict,), unknown="" if verdict else "no")
        for sheet, verdict in runs
    ]
    history = History({s.id: s for s, _ in runs}, repairs, lambda repair, finding: True)
    found = history.settle([judge("p", f) for f in findings])
    assert history.settle([judge("p", f) for f in reversed(findings)]) == found
    return {s.finding.sheet: s for s in found}


@pytest.mark.parametrize(
    ("grade", "carried", "accept"),
    [("stop", "fix_first", True), ("fix_first", "watch", True), ("watch", "note", False)],
)
def test_a_fault_measured_again_is_carried_one_step_milder(grade: Grade, carried: Grade, accept: bool) -> None:
    found = _settled((sheet("a", 0), Verdict(grade, 1.0)), (sheet("b", 1), CLEAN))
    assert (found["a"].state, found["a"].grade, found["a"].own_grade) == ("carried", carried, grade)
    assert (found["a"].accept, found["a"].stands) == (accept, True)
    assert (found["b"].state, found["b"].grade) == ("governs", "clean")


def test_what_did_not_fire_is_history_after_the_next_sheet() -> None:
    for verdict in (BORDERLINE, CLEAN):
        found = _settled((sheet("a", 0), verdict), (sheet("b", 1), CLEAN))
        assert (found["a"].state, found["a"].stands) == ("history", False)


def test_unknown_supersedes_nothing() -> None:
    found = _settled((sheet("a", 0), Verdict("stop", 1.0)), (sheet("b", 1), None))
    assert [found[id].state for id in "ab"] == ["governs", "unknown"]
    assert found["a"].grade == "stop"


def test_clean_on_two_later_days_heals() -> None:
    fired = (sheet("a", 0), Verdict("stop", 1.0))
    assert _settled(fired, (sheet("b", 1), CLEAN), (sheet("c", 2), CLEAN))["a"].state == "history"
    # The same day twice, or the day of the fault itself, is not enough; nor is a borderline result.
    assert _settled(fired, (sheet("b", 1, 8), CLEAN), (sheet("c", 1, 9), CLEAN))["a"].state == "carried"
    assert _settled(fired, (sheet("b", 0), CLEAN), (sheet("c", 1), CLEAN))["a"].state == "carried"
    assert _settled(fired, (sheet("b", 1), BORDERLINE), (sheet("c", 2), CLEAN))["a"].state == "carried"


def test_clean_days_before_the_fault_heal_nothing() -> None:
    found = _settled((sheet("a", 0), CLEAN), (sheet("b", 1), CLEAN), (sheet("c", 2), Verdict("stop", 1.0)))
    assert [found[id].state for id in "abc"] == ["history", "history", "governs"]


@pytest.mark.parametrize(
    ("mended", "again", "state"),
    [
        (repair("r", 1, "worn"), sheet("b", 2), "history"),
        (repair("r", 1, "worn"), sheet("b", 1), "carried"),
        (repair("r", 1, "worn"), sheet("b", 1, retest_of="r"), "history"),
        (repair("r", 1, "worn", hour=8), sheet("b", 1, 9), "history"),
        (repair("r", 1, "worn", hour=8), sheet("b", 1, 7), "carried"),
        (repair("r", 3, "worn"), sheet("b", 2), "carried"),
        (repair("r", -1, "worn"), sheet("b", 2), "carried"),
        (repair("r", 0, "worn"), sheet("b", 2), "carried"),
    ],
    ids=["between", "same day", "retest", "time after", "time before", "after both", "before both", "day of the fault"],
)
def test_repaired_and_then_clean_heals(mended: Repair, again: Sheet, state: str) -> None:
    assert _settled((sheet("a", 0), Verdict("stop", 1.0)), (again, CLEAN), repairs=(mended,))["a"].state == state


def test_a_repair_of_something_else_heals_nothing() -> None:
    history = History({"a": sheet("a", 0), "b": sheet("b", 2)}, (repair("r", 1, "x"),), lambda repair, finding: False)
    findings = [Finding("p.r", "a", verdicts=(Verdict("stop", 1.0),)), Finding("p.r", "b", verdicts=(CLEAN,))]
    assert history.settle([judge("p", f) for f in findings])[0].state == "carried"


def test_of_one_day_the_worse_result_governs() -> None:
    found = _settled((sheet("a", 0), Verdict("stop", 1.0)), (sheet("b", 0), CLEAN))
    assert [found[id].state for id in "ab"] == ["governs", "history"]
    with_times = _settled((sheet("a", 0, 8), Verdict("stop", 1.0)), (sheet("b", 0, 9), CLEAN))
    assert [with_times[id].state for id in "ab"] == ["carried", "governs"]
    one_time = _settled((sheet("a", 0, 8), Verdict("stop", 1.0)), (sheet("b", 0), CLEAN))
    assert one_time["a"].state == "governs"
    accepted = _settled((sheet("a", 0), BORDERLINE), (sheet("b", 0), Verdict("watch", 1.0)))
    assert accepted["a"].state == "governs"


def test_a_milder_fault_governs_and_the_worse_one_is_carried() -> None:
    found = _settled((sheet("a", 0), Verdict("stop", 1.0)), (sheet("b", 1), Verdict("watch", 1.0)))
    assert [(found[id].state, found[id].grade) for id in "ab"] == [("carried", "fix_first"), ("governs", "watch")]


def test_subjects_do_not_mix() -> None:
    runs = [
        Finding("p.r", "a", "part 1", (Verdict("stop", 1.0),)),
        Finding("p.r", "b", "part 2", (CLEAN,)),
        Finding("p.other", "b", "part 1", (CLEAN,)),
    ]
    history = History({"a": sheet("a", 0), "b": sheet("b", 1)}, (), lambda repair, finding: True)
    assert [s.state for s in history.settle([judge("p", f) for f in runs])] == ["governs"] * 3


def test_a_fact_without_a_sheet_comes_neither_before_nor_after() -> None:
    history = History({"a": sheet("a", 0)}, (repair("r", -1, "worn"),), lambda repair, finding: True)
    runs = [judge("p", Finding("p.r", "a", verdicts=(CLEAN,))), judge("p", Finding("p.r", verdicts=(BORDERLINE,)))]
    assert [s.state for s in history.settle(runs)] == ["governs", "history"]
    assert history.side("", repair("r", -1, "worn")) == 0


@pytest.mark.parametrize("rounding", [0.0, 1e-15, -1e-15])
def test_what_differs_by_rounding_alone_is_equal(rounding: float) -> None:
    """Else two sheets of one day would change places when one of them is written in another unit."""
    sheets = {id: sheet(id) for id in ("a", "b")}
    chances = {"a": 0.3 + rounding, "b": 0.3}
    runs = [judge("p", Finding("p.r", id, verdicts=(Verdict("watch", p),))) for id, p in chances.items()]
    settled = History(sheets, (), lambda repair, finding: False).settle(runs)
    assert [run.finding.sheet for run in settled if run.state == "governs"] == ["b"]


@pytest.mark.parametrize(
    ("proof", "repaired_on", "governs", "side"),
    [(0, 0, "proof", -1), (0, -3, "plain", 1), (1, 0, "proof", 0)],
    ids=["of that day's repair", "of an earlier repair", "of a later day"],
)
def test_a_retest_orders_sheets_only_around_its_own_repair(
    proof: int, repaired_on: int, governs: str, side: int
) -> None:
    """On one day without times a retest comes after its repair; without a repair between them the worse one governs."""
    sheets = {s.id: s for s in (sheet("plain", 0), sheet("proof", proof, retest_of="r"))}
    mended = repair("r", repaired_on, "worn")
    history = History(sheets, (mended,), lambda repair, finding: True)
    runs = [
        judge("p", Finding("p.r", id, verdicts=(Verdict("stop", p),))) for id, p in (("plain", 1.0), ("proof", 0.0))
    ]
    assert [s.finding.sheet for s in history.settle(runs) if s.state == "governs"] == [governs]
    # Only a retest of the repair's own day puts the other sheets of that day before it.
    assert history.side("plain", mended) == side


def test_two_repairs_of_one_day_each_with_a_retest_leave_the_order_open() -> None:
    sheets = {s.id: s for s in (sheet("one", 0, retest_of="r1"), sheet("two", 0, retest_of="r2"))}
    history = History(sheets, (repair("r1", 0, "worn"), repair("r2", 0, "worn")), lambda repair, finding: False)
    runs = [judge("p", Finding("p.r", id, verdicts=(Verdict("stop", p),))) for id, p in (("one", 1.0), ("two", 0.0))]
    assert [s.finding.sheet for s in history.settle(runs) if s.state == "governs"] == ["one"]
