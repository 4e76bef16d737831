"""Merging of what several sheets say: eyes outrank words, the latest governs, unknown is never standard."""

from __future__ import annotations

import datetime
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from inventory_cases import DAY, INJECTOR, answered, case, merged, only, part, sheet

from loadworthy_plugins.modifications.inventory import inventory
from loadworthy_plugins.modifications.sheet import KINDS

FEW = settings(max_examples=40, deadline=None)


def test_nobody_asked_means_unknown_throughout() -> None:
    found = merged()
    assert found.unknown == KINDS
    assert found.completeness == 0.0
    assert not found.modified


def test_a_kind_that_is_not_named_stays_unknown() -> None:
    found = merged(sheet(standard_kinds=["injector", "exhaust"]))
    assert only(found, "injector").answer == "standard"
    assert only(found, "injector").confidence == 0.7
    assert only(found, "camshaft").answer == "unknown"
    assert found.completeness == pytest.approx(2 / len(KINDS))


def test_unknown_is_an_answer_and_no_standard() -> None:
    found = merged(answered(part("camshaft", "unknown")))
    assert found.unknown == ("camshaft",)


def test_a_row_without_an_answer_is_unknown_unless_its_state_tells() -> None:
    assert only(merged(sheet(part("exhaust", None))), "exhaust").answer == "unknown"
    gone = part("catalyst_or_particulate_filter", None, state="absent")
    assert only(merged(sheet(gone)), "catalyst_or_particulate_filter").answer == "modified"
    assert only(merged(sheet(part("exhaust", None, status="ruled_out"))), "exhaust").answer == "standard"


def test_eyes_and_words_that_agree_are_one_part_with_all_that_is_known() -> None:
    told = part("injector", static_flow="630 mL/min", flow_pressure="300 kPa")
    eyes = part("injector", status="seen", marking="green", test_fluid="n_heptane")
    one = only(merged(sheet(told), sheet(eyes, day=3)), "injector")
    assert (one.answer, one.status, one.confidence) == ("modified", "seen", 0.95)
    assert one.row["static_flow"].value == pytest.approx(630e-6 / 60)
    assert one.row["test_fluid"] == "n_heptane"
    assert one.origins["static_flow"] != one.origins["test_fluid"]


@pytest.mark.parametrize("later", ["word", "eyes"])
def test_words_against_eyes_are_a_conflict_whoever_came_last(later: str) -> None:
    word = answered(day=2 if later == "word" else 0)
    eyes = sheet(part("camshaft", status="seen"), day=1)
    one = only(merged(word, eyes), "camshaft")
    assert (one.status, one.why) == ("conflicting", "declared standard, seen modified")
    assert one.doubtful
    assert one.claimed


def test_ruled_out_contradicts_a_declared_change() -> None:
    one = only(
        merged(sheet(part("camshaft")), sheet(part("camshaft", "standard", status="ruled_out"), day=1)), "camshaft"
    )
    assert one.status == "conflicting"
    assert not one.claimed


def test_a_part_fitted_after_the_look_is_no_conflict() -> None:
    eyes = sheet(part("camshaft", "standard", status="seen"))
    word = sheet(part("camshaft", fitted_on=DAY + datetime.timedelta(days=5)), day=9)
    one = only(merged(eyes, word), "camshaft")
    assert (one.answer, one.status) == ("modified", "declared")
    # Fitted before the look, it should have been seen.
    early = sheet(part("camshaft", fitted_on=DAY - datetime.timedelta(days=5)), day=9)
    assert only(merged(eyes, early), "camshaft").status == "conflicting"


def test_the_latest_sheet_governs_and_carries_what_it_does_not_repeat() -> None:
    first = sheet(part("injector", static_flow="500 mL/min", flow_pressure="300 kPa"))
    again = sheet(part("injector", static_flow="630 mL/min"), day=4)
    one = only(merged(first, again), "injector")
    assert one.row["static_flow"].text == "630 mL/min"
    assert one.row["flow_pressure"].value == pytest.approx(300e3)
    anew = sheet(part("injector", static_flow="630 mL/min", fitted_on=DAY + datetime.timedelta(days=2)), day=4)
    assert "flow_pressure" not in only(merged(first, anew), "injector").row


def test_unknown_supersedes_nothing() -> None:
    one = only(merged(sheet(part("camshaft")), sheet(part("camshaft", "unknown"), day=8)), "camshaft")
    assert one.answer == "modified"


def test_two_answers_of_one_day_are_a_conflict() -> None:
    one = only(merged(sheet(part("camshaft"), id="a"), sheet(part("camshaft", "standard"), id="b")), "camshaft")
    assert (one.status, one.why) == ("conflicting", "modified on a, standard on b")
    assert one.claimed
    timed = (
        sheet(part("camshaft"), time="09:00"),
        sheet(part("camshaft", "standard"), time="17:00"),
    )
    assert only(merged(*timed), "camshaft").answer == "standard"


def test_figures_that_disagree_between_word_and_eyes_are_a_conflict() -> None:
    word = sheet(part("injector", static_flow="630 mL/min"))
    eyes = sheet(part("injector", status="seen", static_flow="440 mL/min"), day=1)
    one = only(merged(word, eyes), "injector")
    assert one.status == "conflicting"
    assert "static_flow" in one.why
    near = sheet(part("injector", status="seen", static_flow="635 mL/min"), day=1)
    assert only(merged(word, near), "injector").status == "seen"


def test_positions_are_parts_of_their_own_and_a_word_on_all_of_them_counts_for_each() -> None:
    found = merged(sheet(part("turbocharger", position="Bank 1"), part("turbocharger", "standard", position="bank 2")))
    assert [(p.position, p.answer) for p in found.of("turbocharger")] == [
        ("bank 1", "modified"),
        ("bank 2", "standard"),
    ]
    seen = sheet(part("turbocharger", position="bank 1", status="seen"), day=1)
    contradicted = merged(sheet(standard_kinds=["turbocharger"]), seen)
    assert [p.status for p in contradicted.of("turbocharger")] == ["conflicting"]


def test_one_position_unknown_leaves_the_kind_unknown() -> None:
    found = merged(
        answered(part("turbocharger", position="bank 1"), part("turbocharger", "unknown", position="bank 2"))
    )
    assert found.unknown == ("turbocharger",)


def test_rules_that_find_a_change_contradict_a_word_but_not_eyes() -> None:
    # Judgement: reported from 0.5, a conflict with a declared standard part from 0.7.
    declared = answered()
    assert only(merged(declared, inferred={"injector": 0.69}), "injector").status == "declared"
    conflict = only(merged(declared, inferred={"injector": 0.70}), "injector")
    assert (conflict.status, conflict.claimed) == ("conflicting", False)
    eyes = sheet(standard_kinds=["injector"], standard_status="seen", day=1)
    assert only(merged(declared, eyes, inferred={"injector": 0.9}), "injector").status == "seen"
    inferred = only(merged(inferred={"injector": 0.6}), "injector")
    assert (inferred.answer, inferred.status, inferred.confidence) == ("modified", "inferred", 0.6)
    assert only(merged(inferred={"injector": 0.49}), "injector").answer == "unknown"


def test_limits_of_the_house_move_both_bounds() -> None:
    found = inventory(case(answered()), {"injector": 0.4}, report=0.3, conflict=0.35)
    assert only(found, "injector").status == "conflicting"


_ANSWER = st.sampled_from(["standard", "modified", "unknown"])
_STATUS = st.sampled_from(["declared", "seen"])
_SHEETS = st.lists(
    st.tuples(st.integers(0, 3), _ANSWER, _STATUS, st.sampled_from(["", "bank 1"])), min_size=1, max_size=5
)


def _made(drawn: list[tuple[int, str, str, str]]) -> list[dict[str, Any]]:
    return [
        sheet(part("turbocharger", answer, status=status, position=position or None), day=day, id=f"s{i}")
        for i, (day, answer, status, position) in enumerate(drawn)
    ]


@FEW
@given(drawn=_SHEETS, data=st.data())
def test_the_order_of_sheets_never_matters(drawn: list[tuple[int, str, str, str]], data: st.DataObject) -> None:
    sheets = _made(drawn)
    other = data.draw(st.permutations(sheets))
    assert [p[:5] for p in merged(*sheets).parts] == [p[:5] for p in merged(*other).parts]


@FEW
@given(drawn=_SHEETS)
def test_a_kind_is_standard_only_if_somebody_said_so_and_nothing_contradicts(
    drawn: list[tuple[int, str, str, str]],
) -> None:
    found = merged(*_made(drawn)).of("turbocharger")
    if all(part.answer == "standard" for part in found):
        assert any(answer == "standard" for _, answer, _, _ in drawn)
        # A change that was seen last is never overruled by a word.
        looks = [d for d in drawn if d[2] == "seen" and d[1] != "unknown"]
        last = max((d[0] for d in looks), default=None)
        assert not any(d[1] == "modified" and d[0] == last for d in looks)
    if all(answer == "unknown" for _, answer, _, _ in drawn):
        assert all(part.answer == "unknown" for part in found)


@FEW
@given(drawn=_SHEETS)
def test_one_more_unknown_changes_no_answer(drawn: list[tuple[int, str, str, str]]) -> None:
    sheets = _made(drawn)
    more = [*sheets, sheet(part("turbocharger", "unknown"), day=9, id="more")]
    before = [(p.position, p.answer, p.status) for p in merged(*sheets).of("turbocharger")]
    assert [(p.position, p.answer, p.status) for p in merged(*more).of("turbocharger")] == before


def test_a_word_without_a_record_is_no_proof_of_a_calibration() -> None:
    said = {**INJECTOR, "calibration_record": None}
    assert not only(merged(sheet({k: v for k, v in said.items() if v})), "injector").aware
    assert only(merged(sheet(INJECTOR)), "injector").aware


def test_the_catalogue_and_the_sheet_name_the_same_kinds_in_the_same_order() -> None:
    from loadworthy_plugins.modifications import parts, sheet

    assert parts.KINDS == sheet.KINDS


KNOWN = {"calibration_aware": "yes", "calibration_record": "file 3"}


def test_one_no_is_enough_and_a_part_in_conflict_is_known_to_nobody() -> None:
    eyes = part("injector", status="seen", **KNOWN)
    doubt = part("injector", calibration_aware="no")
    assert only(merged(sheet(eyes)), "injector").aware
    assert not only(merged(sheet(eyes), sheet(doubt, day=2)), "injector").aware
    for ids in ("ab", "ba"):
        two = [sheet({**row, "status": "seen"}, id=name) for row, name in zip((eyes, doubt), ids, strict=True)]
        assert not only(merged(*two), "injector").aware
    # A "no" that a later look has settled counts no more.
    assert only(merged(sheet(doubt), sheet(eyes, day=2)), "injector").aware
    conflict = only(merged(answered(), sheet(eyes, day=1)), "injector")
    assert conflict.status == "conflicting"
    assert not conflict.aware
