"""Inspections: borescope, piston heights, lifts, running compression."""

from __future__ import annotations

from typing import Any

import pytest
from compression_cases import DAY, PETROL, belief, case, dry, limits, look, ratio, register

from loadworthy.sdk import Finding, evolve
from loadworthy_plugins.compression.judging import judge_case

LOW_ONE = [12.2, 12.1, 12.2, 9.6]
SPEC = {**PETROL, "compression_spec_min": "9 bar"}


@pytest.mark.parametrize(
    ("words", "grade", "cause", "expected"),
    [
        (["liquid"], "stop", "liquid-in-cylinder", 20.0),
        (["carbon"], "watch", "carbon-in-chamber", 20.0),
        (["land_broken"], "stop", "piston-or-ring-land-broken", 20.0),
        (["valve_burnt"], "fix_first", "exhaust-valve-seal", 20.0),
        (["clean"], "clean", "carbon-in-chamber", 0.05),
        (["clean"], "clean", "liquid-in-cylinder", 0.05),
        (["dry"], "clean", "liquid-in-cylinder", 0.05),
    ],
    ids=str,
)
def test_borescope(words: list[str], grade: str, cause: str, expected: float) -> None:
    sheet = {"date": DAY, "borescope": {"2": words}}
    assert look(SPEC, compression=[sheet]).grade("borescope", "cylinder 2") == grade
    assert ratio(register(SPEC, compression=[sheet]), cause, "cylinder 2", "borescope") == pytest.approx(expected)


def test_borescope_of_the_port_and_what_was_not_looked_at() -> None:
    for word, expected in (("port_coated", 8.0), ("port_clean", 0.1)):
        made = register(SPEC, compression=[{"date": DAY, "borescope": {"2": [word]}}])
        assert ratio(made, "carbon-on-intake-valves", "cylinder 2", "intake_port") == pytest.approx(expected)
    assert not look(SPEC, compression=[{"date": DAY, "borescope": {"2": ["not_checked"]}}]).has(
        "borescope", "cylinder 2"
    )


def test_a_height_without_an_uncertainty_is_not_judged() -> None:
    """Files always have one (the field's default); a case made by a program need not."""
    made = case(SPEC, compression=[dry(LOW_ONE, piston_height={"1": "1.0 mm", "4": "2.5 mm"})])
    (sheet,) = made.sheets
    bare = {n: evolve(one, u=None) for n, one in sheet.values["piston_height"].items()}
    changed = evolve(made, sheets=(evolve(sheet, values={**sheet.values, "piston_height": bare}),))
    heights = [one for one in judge_case(changed, None, limits()) if isinstance(one, Finding) and "piston" in one.rule]
    assert [one.subject for one in heights] == ["cylinder 1", "cylinder 4"]
    assert all("uncertainty" in one.unknown for one in heights)


def test_piston_heights() -> None:
    heights = {"1": "0.50 mm", "2": "0.52 mm", "3": "1.60 mm", "4": "0.50 mm"}
    sheet = {"date": DAY, "piston_height": heights}
    found = look(SPEC, compression=[sheet])
    assert [found.grade("piston_height", f"cylinder {n}") for n in range(1, 5)] == [
        "clean",
        "clean",
        "fix_first",
        "clean",
    ]
    made = register(SPEC, compression=[sheet])
    assert ratio(made, "bent-connecting-rod", "cylinder 3", "piston_height") == pytest.approx(20.0, rel=0.01)
    assert ratio(made, "bent-connecting-rod", "cylinder 1", "piston_height") == pytest.approx(0.05, rel=0.01)


def heights(**millimetres: float) -> dict[str, str]:
    return {n.removeprefix("c"): f"{0.5 + mm} mm" for n, mm in {"c1": 0.0, "c2": 0.0, **millimetres}.items()}


def test_equal_heights_in_other_units_are_no_short_piston() -> None:
    """Converted, 0.044 cm and 0.44 mm differ in their last digits."""
    equal = {"1": "0.044 cm", "2": "0.44 mm", "3": "0.00044 m"}
    low = [13.0, 13.0, 13.0, 11.56]
    for last, short in (("0.01732283464566929 in", []), ("1.44 mm", ["cylinder 4"])):
        results = look(SPEC, compression=[dry(low, piston_height={**equal, "4": last})]).results
        assert [r.subject for r in results if isinstance(r, Finding) and r.rule == "compression.rod_depth"] == short


def test_a_deficit_of_011_per_millimetre_speaks_for_the_rod() -> None:
    # 500 ml, ratio 10: a rod 1 mm short reads 0.889 of the others (crank-slider geometry); ratio 2, judgement.
    sheet = dry([13.0, 13.0, 13.0, round(13.0 * 0.889, 2)], piston_height=heights(c4=1.0))
    found = look(SPEC, compression=[sheet])
    assert found.step("deficit that this explains", "rod_depth", "cylinder 4") == pytest.approx(0.111, abs=0.002)
    made = register(SPEC, compression=[sheet])
    # Mixed by the probability that the cylinder is low at all.
    p_low = found.finding("balance", "cylinder 4").bands["low"]
    assert ratio(made, "bent-connecting-rod", "cylinder 4", "rod_depth") == pytest.approx(1 + p_low)
    assert p_low > 0.9


@pytest.mark.parametrize(
    ("reading", "short", "least", "most"),
    [
        (11.56, 1.0, 1.9, 2.0),
        # lower than the piston explains: it may leak as well
        (8.0, 1.0, 1.95, 2.0),
        # 3 mm would cost 0.29: something else, or a wrong height
        (11.56, 3.0, 1.0, 1.01),
        # an even cylinder, and a piston as high as the others
        (13.0, 1.0, 1.0, 1.0),
        (11.56, 0.05, 1.0, 1.01),
    ],
)
def test_depth_of_a_short_piston(reading: float, short: float, least: float, most: float) -> None:
    sheet = dry([13.0, 13.0, 13.0, reading], piston_height=heights(c4=short))
    made = register(SPEC, compression=[sheet])
    uses = [w for w in belief(made, "bent-connecting-rod", "cylinder 4").weights if "rod_depth" in w.finding]
    assert least - 1e-9 <= (10 ** (uses[0].raw_db / 10) if uses else 1.0) <= most + 1e-9


def test_a_lower_reading_takes_nothing_from_the_rod() -> None:
    weights = []
    for reading in (12.4, 12.0, 11.7, 11.4, 11.0, 9.0, 5.0):
        sheet = dry([13.0, 13.0, 13.0, reading], piston_height=heights(c4=1.0))
        found = belief(register(SPEC, compression=[sheet]), "bent-connecting-rod", "cylinder 4")
        weights.append(sum(w.raw_db for w in found.weights if "rod_depth" in w.finding))
    assert weights == sorted(weights)


def test_without_geometry_or_heights_nothing_is_said_of_the_rod() -> None:
    sheet = dry([13.0, 13.0, 13.0, 11.5], piston_height=heights(c4=1.0))
    bare = {key: value for key, value in SPEC.items() if key != "bore"}
    assert not look(bare, compression=[sheet]).has("rod_depth", "cylinder 4")
    assert not look(SPEC, compression=[dry([13.0, 13.0, 13.0, 11.5])]).has("rod_depth", "cylinder 4")


@pytest.mark.parametrize(
    ("field", "value", "rule", "subject", "grade", "cause", "expected"),
    [
        ("cam_lift", {"3": "low"}, "cam_lift", "cylinder 3", "fix_first", "valve-not-opening", 20.0),
        (
            "running_compression",
            {"3": "low"},
            "running_compression",
            "cylinder 3",
            "fix_first",
            "valve-not-opening",
            3.0,
        ),
        (
            "valve_clearance",
            {"3": "tight"},
            "valve_clearance",
            "cylinder 3",
            "fix_first",
            "tight-valve-clearance",
            20.0,
        ),
        ("valve_clearance", {"3": "in_range"}, "valve_clearance", "cylinder 3", "clean", "tight-valve-clearance", 0.1),
        ("timing_marks", "off", "timing_marks", None, "fix_first", "valve-timing-off", 20.0),
        ("timing_marks", "verified", "timing_marks", None, "clean", "valve-timing-off", 0.05),
    ],
)
def test_other_inspections(
    field: str, value: Any, rule: str, subject: str | None, grade: str, cause: str, expected: float
) -> None:
    sheet = {"date": DAY, field: value}
    assert look(SPEC, compression=[sheet]).grade(rule, subject) == grade
    assert ratio(register(SPEC, compression=[sheet]), cause, subject, rule) == pytest.approx(expected)


def test_a_full_lift_speaks_against_a_valve_that_does_not_open() -> None:
    made = register(SPEC, compression=[{"date": DAY, "cam_lift": {"3": "full"}}])
    assert belief(made, "valve-not-opening", "cylinder 3").net == pytest.approx(-10.0)
    equal = register(SPEC, compression=[{"date": DAY, "running_compression": {"3": "equal"}}])
    assert ratio(equal, "valve-not-opening", "cylinder 3", "running_compression") == pytest.approx(0.3)


def test_piston_heights_of_two_sheets_give_two_findings() -> None:
    # One of them holds no readings of its own, so both are put beside the same dry session.
    heights = {str(n): "1.0 mm" for n in range(1, 4)} | {"4": "0.2 mm"}
    alone = {"date": DAY, "piston_height": heights}
    found = look(PETROL, compression=[dry([13.0, 13.0, 13.0, 11.0], piston_height=heights), alone])
    rods = [r for r in found.results if isinstance(r, Finding) and r.rule == "compression.rod_depth"]
    assert len({(r.sheet, r.subject) for r in rods}) == len(rods) == 6
    assert len({r.sheet for r in rods}) == 2
