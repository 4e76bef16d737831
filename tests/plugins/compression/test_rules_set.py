"""The whole set low, and what is said beside the verdicts."""

from __future__ import annotations

import pytest
from compression_cases import PETROL, belief, dry, look, ratio, register

from loadworthy.findings import Advice

ALL_LOW = [9.0, 9.1, 8.9, 9.0]
MAKER = {**PETROL, "compression_spec_min": "10.5 bar", "compression_spec_nominal": "13 bar"}


@pytest.mark.parametrize(
    ("throttle", "expected"), [("closed", 4.0), ("unknown", 4.0), ("none", 4.0), (None, 4.0), ("wide_open", None)]
)
def test_all_low_with_a_throttle_nobody_saw_open(throttle: str | None, expected: float | None) -> None:
    # Ratio 4 for a shut throttle and a restricted intake alike (judgement); "none" is for unthrottled diesels only.
    made = register(MAKER, compression=[dry(ALL_LOW, throttle_state=throttle)])
    for cause in ("throttle-shut", "intake-restricted"):
        if expected is not None:
            assert ratio(made, cause, None, "all_low_throttle") == pytest.approx(expected, rel=0.01)
    if expected is None:
        assert ratio(made, "throttle-shut", None, "all_low_throttle") == pytest.approx(0.1)
        # An open blade is no proof of a free filter.
        assert belief(made, "intake-restricted", None).net == 0.0


def test_no_throttle_is_an_answer_for_a_diesel_only() -> None:
    assert look(MAKER, compression=[dry([13.0, 13.1, 12.9, 13.0], throttle_state="none")]).grades("balance") == (
        ["unknown"] * 4
    )


def test_low_cylinders_that_share_no_wall() -> None:
    apart = look(MAKER, compression=[dry([10.0, 13.0, 10.1, 13.0])])
    assert apart.grade("separate_low") == "note"
    assert "1 and 3" in apart.finding("separate_low").text
    together = look(MAKER, compression=[dry([13.0, 10.0, 10.1, 13.0])])
    assert together.grade("separate_low") == "clean"
    plain = {key: value for key, value in MAKER.items() if key != "cylinder_arrangement"}
    assert not look(plain, compression=[dry([10.0, 13.0, 10.1, 13.0])]).has("separate_low")


def test_of_two_groups_of_equal_size_the_higher_is_taken_and_said_so() -> None:
    tied = look(PETROL, compression=[dry([12.1, 7.9, 8.0, 12.2])])
    assert "higher one is taken" in tied.finding("majority").text
    assert "higher one" not in look(PETROL, compression=[dry([12.1, 12.0, 8.0, 12.2])]).finding("majority").text


def test_oil_beyond_one_per_cent_and_a_wet_reading_below_the_dry_one() -> None:
    # 1 % of 500 ml is 5 ml; a wet reading lies no more than 3 % below the dry one (judgement).
    wet = {"wet_reading": {"1": "13.2 bar", "4": "12.0 bar"}}
    usual = look(MAKER, compression=[dry([12.2, 12.1, 12.2, 9.6], oil_volume="4.9 mL", **wet)])
    assert not any("oil than 1 %" in text or "below the dry" in text for text in usual.advice())
    much = look(MAKER, compression=[dry([12.2, 12.1, 12.2, 9.6], oil_volume="15 mL", **wet)])
    assert any("oil than 1 %" in text for text in much.advice())
    mixed = look(MAKER, compression=[dry([12.2, 12.1, 12.2, 9.6], wet_reading={"1": "11.7 bar", "4": "12.0 bar"})])
    assert [a.subject for a in mixed.results if isinstance(a, Advice) and "below the dry" in a.text] == ["cylinder 1"]


def test_first_puff_outside_its_usual_share() -> None:
    # Usual: 50 to 85 % of the final value; its meaning depends on the hose.
    puffs = {"1": "9 bar", "2": "9.1 bar", "3": "9 bar", "4": "12 bar"}
    found = look(MAKER, compression=[dry([13.0, 13.1, 12.9, 13.0], first_puff_reading=puffs)])
    assert [found.grade("first_puff", f"cylinder {n}") for n in (1, 4)] == ["clean", "note"]


def test_facts_that_cannot_be_are_said_and_not_used() -> None:
    sheet = dry([13.0, 13.1, 12.9, 13.0])
    short = look({**MAKER, "stroke": "110 mm", "rod_length": "52 mm"}, compression=[sheet])
    assert any("connecting rod" in text for text in short.advice())
    twice = look({**MAKER, "firing_order": [1, 3, 3, 2]}, compression=[sheet])
    assert any("firing order" in text for text in twice.advice())
    assert not any("connecting rod" in t or "firing order" in t for t in look(MAKER, compression=[sheet]).advice())
