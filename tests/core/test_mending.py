"""Which causes a repair meets, and what proves it (method, section 3)."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from weighing import CATALOGUE, PARTS, ran, repair, sheet

from loadworthy.case import Case, Repair, Sheet
from loadworthy.evidence import Places
from loadworthy.findings import Finding, Verdict, Weight
from loadworthy.mending import Mending
from loadworthy.standing import History, judge

if TYPE_CHECKING:
    from collections.abc import Sequence

    from loadworthy.evidence import Key


class Garage:
    """Repairs, findings and sheets of one case, settled."""

    def __init__(
        self, repairs: Sequence[Repair], findings: Sequence[Finding] = (), sheets: Sequence[Sheet] = ()
    ) -> None:
        case = Case(sheets=tuple(sheets), repairs=tuple(repairs))
        self.mending = Mending(case, CATALOGUE, Places(CATALOGUE, PARTS), [("p", f) for f in findings])
        self.history = History({s.id: s for s in sheets}, self.mending.repairs, self.mending.treats)
        self.standings = self.history.settle(judge("p", f) for f in findings)

    def proven(self, key: Key) -> bool:
        return self.mending.proven(key, self.mending.repairs[0], self.standings, self.history)

    def unproven(self) -> list[tuple[str, str]]:
        return list(self.mending.unproven(self.standings, self.history))


WORN_2: Key = ("worn", "part 2")


@pytest.mark.parametrize(
    ("treats", "key", "met"),
    [
        ("worn@part 2", WORN_2, True),
        ("worn", WORN_2, True),
        ("worn@part 1", WORN_2, False),
        ("loose", WORN_2, False),
        ("loose@part 2", ("loose", None), True),
        ("slack", WORN_2, True),
        ("bad", ("cracked", None), True),
        ("slack", ("cracked", None), False),
        ("p.level@part 2", WORN_2, True),
        ("p.level@part 1", WORN_2, False),
        ("p.level", ("whole", None), False),
        ("p.noise", ("loose", None), True),
        ("p.record", ("loose", None), False),
    ],
    ids=[
        "named", "everywhere", "elsewhere", "another", "place of what has none", "broader", "broader still",
        "not covered", "rule", "rule elsewhere", "rule that only clears", "rule for several", "rule for none",
    ],
)  # fmt: skip
def test_what_a_repair_meets(treats: str, key: Key, met: bool) -> None:
    mended = repair("r", 0, treats)
    assert Garage([mended]).mending.meets(mended, key) is met


def test_a_rule_speaks_for_causes_by_its_own_weights_and_by_state() -> None:
    mended = repair("r", 0, "p.record")
    state = Finding("p.record", "s", verdicts=(Verdict("watch", 1.0),), names=(("cracked", None),))
    weights = (Weight("whole", None, 3.0), Weight("loose", None, -3.0))
    computed = Finding("p.record", "s", verdicts=(Verdict("watch", 1.0),), weights=weights)
    assert Garage([mended], [state]).mending.meets(mended, ("cracked", None))
    found = Garage([mended], [computed]).mending
    assert found.meets(mended, ("whole", None))
    assert not found.meets(mended, ("loose", None))
    assert found.causes_of(computed) == {("whole", None)}
    assert found.causes_of(ran("p.level", "s", subject="part 2")) == {WORN_2}


def test_the_last_repair_of_a_cause_counts_whatever_the_order_of_entry() -> None:
    first, second, other = repair("z", 1, "worn"), repair("a", 2, "slack"), repair("b", 3, "cracked")
    for order in ((first, second, other), (other, second, first)):
        mending = Garage(order).mending
        assert mending.repairs == (first, second, other)
        assert mending.last(WORN_2) == second
        assert mending.last(("cracked", None)) == other
        assert mending.last(("whole", None)) is None


@pytest.mark.parametrize(
    ("treats", "finding", "treated"),
    [
        ("worn", ran("p.level", "s", subject="part 2"), True),
        ("whole", ran("p.level", "s", subject="part 2"), False),
        ("loose", ran("p.look", "s"), True),
        ("cracked", ran("p.level", "s", subject="part 2"), False),
        ("worn@part 1", ran("p.level", "s", subject="part 2"), False),
        ("p.level@part 2", ran("p.level", "s", subject="part 2"), True),
        ("p.level@part 1", ran("p.level", "s", subject="part 2"), False),
        ("cracked", ran("p.record", "s"), True),
        ("cracked@part 1", ran("p.record", "s", subject="part 2"), False),
        ("cracked@part 2", ran("p.record", "s", subject="part 2"), True),
    ],
    ids=[
        "its cause", "a cause that it only clears", "a rule that only clears", "another", "elsewhere", "the rule",
        "the rule elsewhere", "about no cause", "about no cause, elsewhere", "about no cause, here",
    ],
)  # fmt: skip
def test_which_findings_a_repair_treats(treats: str, finding: Finding, treated: bool) -> None:
    mended = repair("r", 0, treats)
    assert Garage([mended], [finding], [sheet("s")]).mending.treats(mended, finding) is treated


def _after(p: float, day: int = 1, rule: str = "p.level", **more: str) -> tuple[list[Finding], list[Sheet]]:
    fault = ran("p.level", "a", 1.0, "fix_first", subject="part 2")
    return [fault, ran(rule, "b", p, "fix_first", **{"subject": "part 2", **more})], [sheet("a", -1), sheet("b", day)]


@pytest.mark.parametrize(
    ("given", "proven"),
    [
        (_after(0.0), True),
        (_after(0.0, 0), False),
        (_after(0.0, -2), False),
        (_after(0.2), False),
        (_after(1.0), False),
        (_after(0.0, rule="p.noise"), False),
        (_after(0.0, subject="part 1"), False),
    ],
    ids=["clean", "same day", "before", "borderline", "fired", "another test", "elsewhere"],
)
def test_the_deciding_retest_must_be_clean_afterwards(given: tuple[list[Finding], list[Sheet]], proven: bool) -> None:
    garage = Garage([repair("r", 0, "worn@part 2")], *given)
    assert garage.proven(WORN_2) is proven
    assert garage.unproven() == ([] if proven else [("r", "worn@part 2")])


def test_unknown_after_a_clean_retest_takes_nothing_back() -> None:
    findings, sheets = _after(0.0)
    silent = Finding("p.level", "c", "part 2", unknown="cold")
    assert Garage([repair("r", 0, "worn@part 2")], [*findings, silent], [*sheets, sheet("c", 2)]).proven(WORN_2)


def test_the_deciding_retest_is_the_first_that_a_rule_judges() -> None:
    """No rule judges tapping, so looking decides for the cause loose."""
    fault, clean = ran("p.noise", "a", 1.0), ran("p.look", "b", 0.0)
    sheets = [sheet("a", -1), sheet("b", 1)]
    assert Garage([repair("r", 0, "loose")], [fault, clean], sheets).proven(("loose", None))
    again = Garage([repair("r", 0, "loose")], [fault, ran("p.noise", "b", 0.0)], sheets)
    assert not again.proven(("loose", None))


def test_without_a_retest_all_rules_that_spoke_for_it_must_be_clean() -> None:
    def spoke(rule: str, id: str, p: float) -> Finding:
        return Finding(
            rule, id, verdicts=(Verdict("watch", p),), weights=(Weight("stuck-open", None, 3.0 if p else -3.0),)
        )

    key: Key = ("stuck-open", None)
    before = [spoke("p.record", "a", 1.0), spoke("p.run", "a", 1.0)]
    sheets = [sheet("a", -1), sheet("b", 1)]
    one = Garage([repair("r", 0, "stuck-open")], [*before, spoke("p.run", "b", 0.0)], sheets)
    assert not one.proven(key)
    both = Garage(
        [repair("r", 0, "stuck-open")], [*before, spoke("p.run", "b", 0.0), spoke("p.record", "b", 0.0)], sheets
    )
    assert both.proven(key)


@pytest.mark.parametrize(("p", "proven"), [(0.04, True), (0.3, False), (1.0, False)])
def test_a_sheet_of_unknown_order_leaves_a_proof_while_it_is_clean(p: float, proven: bool) -> None:
    """The retest ran after the repair; the worse of the day governs, and nobody knows when it was taken."""
    found = [ran("p.level", "a", 0.0, "stop", subject="part 2"), ran("p.level", "b", p, "stop", subject="part 2")]
    garage = Garage([repair("r", 0, "worn@part 2", hour=10)], found, [sheet("a", 0, 11), sheet("b", 0)])
    assert garage.proven(WORN_2) is proven
    assert garage.unproven() == ([] if proven else [("r", "worn@part 2")])


def test_a_rule_speaks_for_what_its_broader_words_cover() -> None:
    """A rule whose table or finding names a broader wording stands for each of its parts."""
    mended = repair("r", 0, "p.record")
    named = Finding("p.record", "s", verdicts=(Verdict("watch", 1.0),), names=(("slack", None),))
    assert Garage([mended], [named]).mending.meets(mended, WORN_2)
    computed = Finding("p.record", "s", verdicts=(Verdict("watch", 1.0),), weights=(Weight("slack", None, 3.0),))
    assert Garage([mended], [computed]).mending.meets(mended, ("loose", None))


def test_a_repair_of_a_rule_needs_its_proof_too() -> None:
    """Whatever the rule saw before: nothing, or only what speaks for no cause."""
    assert Garage([repair("r", 0, "p.level")]).unproven() == [("r", "p.level")]
    fault, later = ran("p.record", "a", 1.0, "fix_first"), ran("p.record", "b", 0.0, "fix_first")
    mended = repair("r", 0, "p.record")
    assert Garage([mended], [fault], [sheet("a", -1)]).unproven() == [("r", "p.record")]
    assert Garage([mended], [fault, later], [sheet("a", -1), sheet("b", 1)]).unproven() == []
    again = [repair("r", -3, "p.record"), mended]
    assert Garage(again, [fault], [sheet("a", -5)]).unproven() == [("r", "p.record")]


def test_unproven_names_what_the_repair_treats_and_spares_what_was_repaired_again() -> None:
    twice = Garage([repair("r1", -3, "worn@part 2", "loose"), repair("r2", 0, "worn@part 2")], *_after(0.0))
    assert twice.unproven() == [("r1", "loose")]
    by_rule = Garage([repair("r", 0, "p.level@part 2")], *_after(1.0))
    assert by_rule.unproven() == [("r", "p.level@part 2")]
    assert Garage([repair("r", 0, "p.level@part 2")], *_after(0.0)).unproven() == []
