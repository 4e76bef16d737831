"""Derivations: every part of a number with its formula, and ids as people write them."""

from __future__ import annotations

import datetime
import re

import pytest
import worked_case
from shown import CASE, register

from loadworthy import Host, Register, assess
from loadworthy.outputs.why import every_id, ids, meant, nearest, why_text


@pytest.fixture(scope="module")
def worked() -> Register:
    return assess(worked_case.case(), host=Host({"worked": worked_case}, entry_points=False))


def flat(found: Register, id: str, system: str = "si") -> str:
    text = why_text(found, id, system=system)
    assert text is not None, id
    return " ".join(text.split())


# The figures are those of the worked case of the method, section 13, row 27.


def test_a_risk_shows_prior_weights_symptom_and_consequence(worked: Register) -> None:
    text = flat(worked, "a")
    for part in (
        "prior 0.1 0.1 for a vehicle of unknown history",
        "* +6.777 +6.777 worked/g1#bench:2026-05-10: worked.level",
        "* +4.771 +4.771",
        "net +11.548 dB",
        "w 0.4 ",
        "s 0.94737",
        "own P + s max(0, P_sym - own P)",
        "h0 0.05 class load",
        "m 4 class load",
        "r 1.3 torque",
        "level serious A x category 3",
        "rank 2 of 3",
    ):
        assert part in text, part
    printed = (("own P", 0.6134), ("P_sym", 0.7604), ("P", 0.7527), ("h_plan", 0.1363), ("P_fail", 0.1026))
    for label, figure in printed:
        values = [round(float(value), 4) for value in re.findall(rf"(?<!own ) {label} (\d\.\d+)", text)]
        assert figure in values, (label, values)
    assert abs(float(re.findall(r"expected loss (\S+)", text)[0]) - 153.9) <= 0.051
    assert round(float(re.findall(r"net' \+(\S+) dB", text)[0]), 3) == 6.777


def test_fading_stands_beside_the_weight(worked: Register) -> None:
    assert "* -10.000 0.5 -5.000 worked/g3#old:1: worked.other (faded over 180 days, 1000 km)" in flat(worked, "b")


def test_a_symptom_shows_its_order_of_suspicion(worked: Register) -> None:
    text = flat(worked, "s1")
    assert "82 % 0.4 4.7606 a" in text  # share .816, LR of row 2: 4.761
    assert "3.4 % 0.25" in text
    assert "15 % 0.35 1 none of these" in text
    assert "Unexplained: no candidate leads" in flat(worked, "s2")


def test_a_finding_shows_reading_limit_bands_and_weights(worked: Register) -> None:
    text = flat(worked, "worked.level")
    assert "worked.least = 9 (default): p 0.78814, fix first (decides)" in text
    assert "least reading; source: method, row 2 (judgement)" in text
    assert "fired, P 0.78814: a 6" in text
    assert "clean, P 0.21186: a 0.15" in text
    assert "* +6.777 +6.777 a, group worked/g1#bench:2026-05-10" in text


def test_a_reading_shows_what_its_uncertainty_is_made_of() -> None:
    case = CASE.replace(
        'level = {1 = "1.72 bar", 2 = "1.93 bar"}',
        'level = {1 = ["1.70 bar", "1.74 bar"], 2 = "1.93 bar +- 0.1"}\ninstrument = "g"',
    )
    case += (
        '[[instrument]]\nid = "g"\nmeasures = "pressure_gauge"\nspan = "4 bar"\nclass = 1.0\nresolution = "0.02 bar"\n'
    )
    first, second = (flat(register(case), f"posts.level@post {n}") for n in (1, 2))
    assert "mean of 2 repeats" in first
    assert "u of class 2.31 kPa" in first  # 1 % of 4 bar / sqrt 3 (JCGM 100:2008, 4.3.7)
    assert "instrument g" in first
    assert "u of stated 5.77 kPa" in second  # 0.1 bar / sqrt 3


def test_a_ceiling_shows_its_conversion_to_torque() -> None:
    text = flat(register(), "posts.heat")
    assert "value: heat to be carried off 170.00 kW" in text
    assert "until run until warm (45 min) [heat-run]" in text
    assert "stands as long as its finding [posts.warmth]" in text
    # 170 kW / (1.1 x 0.5 kW per N m) = 309.1 N m where the plan asks for 390 and 214.5 kW
    assert "3000 rpm 309 N m 390 N m 214.5 kW" in text
    assert "1000 rpm no cut 220 N m 121.0 kW" in text


def test_allowed_shows_every_speed_the_gain_and_the_ladder(worked: Register) -> None:
    text = flat(worked, "allowed")
    assert "4000 rpm 300 N m 390 N m 300 N m 0 worked.c1" in text
    assert "lowest 0, mean over speed 0 (trapezoid)" in text
    assert "usable gain then: lowest 0.70707, mean 0.85354" in text  # row 27: g 1 .707 1, mean .854
    assert "gains 2000 rpm 56.0 N m, 4000 rpm 63.6 N m, 6000 rpm 65.0 N m" in text
    assert "gains 2000 rpm 0 N m, 4000 rpm 26.4 N m, 6000 rpm 0 N m" in text


def test_outcome_shows_rules_and_every_fact() -> None:
    text = flat(register(), "outcome")
    assert "hold any stop;" in text
    assert "faults leave no gain at any speed: posts.level.as_received@post 1" in text.lower()
    assert text.count("limited ") >= 5
    assert "R level of the posts: met [bench]" in text
    assert "R a look at the straps: absent" in text


def test_plan_class_and_demand(worked: Register) -> None:
    assert "20 % of its peak: 1.3 " in flat(worked, "plan_class")
    text = flat(register(), "demand")
    assert "Demand by posts, basis default; today's torque from base_torque_measured" in text
    assert "3000 rpm 390 N m 175.5 kW 195.0 kW 214.5 kW 150.0 kW" in text
    assert "air around it = 293.15 K (20.000 degC), u 5.00 K: usual day (judgement) (default)" in text
    assert "3000 rpm 288 lb ft" in flat(register(), "demand", "us")


@pytest.mark.parametrize(
    ("id", "words"),
    [
        ("posts.least", "= 1.8000 bar gauge (house): least level"),
        ("posts.least", "default 2.0000 bar gauge; reason: our posts are short"),
        ("post-test", "caution: Stand clear of the posts."),
        ("heat-run", "weak: a clean result clears little"),
        ("loose-post", "P 0.38152 (38 %) [loose-post@post 1]"),
        ("posts.tilt", "unknown: could not run; the tilt was not looked at"),
        ("bench-1", "at 84210 km, by A. B."),
        ("look", "Waiver of look by C. D. master, from 2026-05-01 until 2026-06-01"),
        ("look", "Gap look: a look at the straps is missing"),
        ("look", "required for a plan of class strong; absent"),
        ("supply", "Gate supply: go: supply for writing holds."),
        ("warming", "Quantity warming: heat to be carried off"),
        ("careless", "answers examine"),
        ("never-seen", "not active: no finding speaks for it"),
        ("strap-small", "P_C"),
    ],
)
def test_everything_with_an_id_tells_what_is_behind_it(id: str, words: str) -> None:
    assert words in flat(register(), id)


def test_every_id_answers() -> None:
    found = register()
    for family, names in every_id(found).items():
        for name in names:
            assert why_text(found, name), (family, name)


def test_a_cause_without_a_line_still_shows_its_belief(worked: Register) -> None:
    # Every cause has a belief; the register lists only some.
    found = register(CASE.partition("[[bench]]")[0])
    assert "gauge-wrong" not in [risk.id for risk in (*found.risks, *found.unlooked)]
    assert "prior 0.05" in flat(found, "gauge-wrong")
    assert "not worth a line of the register" in flat(found, "gauge-wrong")


# Ids as people write them --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "written",
    ["loose-post@post 1", "loose-post@post-1", "LOOSE_POST@POST_1", "loose post@post 1", "loose-post@post 1  "],
)
def test_blanks_hyphens_and_case_do_not_matter(written: str) -> None:
    assert meant(register(), written) == ("loose-post@post 1",)


def test_the_only_beginning_will_do_and_several_do_not() -> None:
    found = register()
    assert meant(found, "strap") == ("strap-small",)
    assert set(meant(found, "posts.heat")) == {"posts.heat"}
    several = meant(found, "loose")
    assert len(several) > 2
    assert why_text(found, "loose") is None
    assert meant(found, "") == ()
    assert meant(found, "nothing of the kind") == ()


def test_nearest_ids_are_offered() -> None:
    assert nearest(register(), "loose-pots@post 1")[0] == "loose-post@post 1"
    assert nearest(register(), "demnad")[0] == "demand"
    assert nearest(register(), "\x00" * 500) == ()


def test_short_forms_are_unmistakable() -> None:
    later = """
[[bench]]
id = "bench-2"
date = 2026-05-06
level = {1 = "2.4 bar", 2 = "2.4 bar"}
"""
    found = register(CASE + later)
    listed = ids(found)["findings"]
    assert len(set(listed)) == len(listed) == len(found.standings)
    for short, one in zip(listed, found.standings, strict=True):
        assert meant(found, short) == (one.id,)
    # The latest sheet governs and has the shortest form.
    assert meant(found, "posts.level@post 2") == ("posts.level@post 2#bench-2",)
    assert re.search(r"carried|history", flat(found, "posts.level@post 1#bench-1"))


def test_a_later_day_does_not_change_what_an_id_means() -> None:
    found = register()
    assert found.as_of == datetime.date(2026, 5, 10)
    assert meant(found, "posts.level@post 1") == ("posts.level@post 1#bench-1",)
