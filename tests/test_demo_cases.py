"""The demo cases: each is held to what its opening comment says that a good engineer would conclude."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from typing import TYPE_CHECKING

import pytest

from loadworthy import Case, assess
from loadworthy.outputs.text import register_text
from loadworthy.outputs.why import ids, why_text
from loadworthy.record import evolve
from support import DEMOS, bundled

if TYPE_CHECKING:
    from pathlib import Path

    from loadworthy import Register

#: The names that other programs rely on.
NAMES = [
    "format",
    "outcome",
    "outcome_reasons",
    "case",
    "as_of",
    "demand",
    "risks",
    "ceilings",
    "lift_steps",
    "gaps",
    "gates",
    "plugin_failures",
    "limits_changed",
    "waivers",
    "plugins",
    "case_digest",
    "house_digest",
    "plan_class",
    "allowed",
    "gain",
    "symptoms",
    "findings",
    "assumptions",
    "unlisted",
]
RISK_NAMES = [
    "id",
    "cause",
    "subject",
    "text",
    "level",
    "severity",
    "person",
    "probability",
    "share",
    "active",
    "failure_probability",
    "expected_loss",
    "added_by_plan",
    "findings",
    "set_aside",
    "conflicting",
    "remedy",
    "retest",
]
FINDING_NAMES = ["id", "plugin", "rule", "grade", "accept", "text", "readings", "limit", "weights", "p_beyond"]
CEILING_NAMES = ["id", "quantity", "value", "curve", "unit", "kind", "origin", "reason", "until", "finding", "torque"]
GAP_NAMES = ["id", "section", "required", "text", "test", "ceiling"]


def register_of(path: Path) -> Register:
    host = bundled()
    return assess(Case.load(path, catalogue=host.catalogue), host=host)


def expected(path: Path) -> str:
    found = re.search(r"^# expected outcome: (\w+)$", path.read_text(encoding="utf-8"), re.MULTILINE)
    assert found is not None, f"{path.name} does not say what is expected"
    return found[1]


@pytest.fixture(params=DEMOS, ids=lambda p: p.stem)
def demo(request: pytest.FixtureRequest) -> Path:
    path: Path = request.param
    return path


def test_the_demos_cover_every_outcome_and_both_kinds_of_fuel() -> None:
    assert {expected(path) for path in DEMOS} == {"clear", "limited", "incomplete", "hold"}
    texts = [path.read_text(encoding="utf-8") for path in DEMOS]
    assert any('fuel = "diesel' in text for text in texts)
    assert any('fuel = "petrol' in text for text in texts)
    assert any("[[repair]]" in text and "retest_of" in text for text in texts)


def test_outcome_is_what_a_good_engineer_would_conclude(demo: Path) -> None:
    register = register_of(demo)
    assert register.failures == ()
    assert register.outcome == expected(demo)


@pytest.mark.parametrize(
    ("name", "first"),
    [
        ("diesel-exhaust-valve-hold", "exhaust-valve-seal@cylinder 3"),
        ("petrol-eight-gasket-hold", "head-gasket-between-cylinders@cylinders 6+7"),
        ("petrol-turbo-limited", "ring-seal@cylinder 2"),
        ("petrol-thick-oil-hold", "crankshaft-bearing-clearance"),
        ("petrol-conflicting-hold", "crankshaft-bearing-clearance"),
        ("petrol-automatic-oil-heat-limited", "oil-overheated"),
    ],
)
def test_the_cause_that_the_comment_names_leads(name: str, first: str) -> None:
    path = next(p for p in DEMOS if p.stem == name)
    register = register_of(path)
    assert max(register.risks, key=lambda r: r.probability).id == first


def test_text_fits_80_columns_without_control_codes(demo: Path) -> None:
    for system in ("si", "us"):
        text = register_text(register_of(demo), system=system)
        assert max(map(len, text.splitlines())) <= 80
        assert all(char.isprintable() or char == "\n" for char in text)


def test_text_answers_in_the_promised_order(demo: Path) -> None:
    text = register_text(register_of(demo))
    titles = [
        "Outcome:",
        "What decides",
        "What to do first",
        "Risks, the worst",
        "Ceilings over",
        "Gates",
        "Gaps",
        "Did not",
    ]
    places = [text.index(f"\n{title}") for title in titles]
    assert places == sorted(places)


def test_us_units_are_shown_as_asked() -> None:
    path = next(p for p in DEMOS if p.stem == "petrol-turbo-limited")
    text = register_text(register_of(path), system="us")
    assert "lb ft" in text
    assert "N m" not in text.split("Ceilings over speed")[1].split("Gates")[0]


def test_json_has_the_names_that_others_rely_on(demo: Path) -> None:
    data = register_of(demo).to_dict()
    assert data["format"] == "loadworthy/register/1"
    assert set(NAMES) <= set(data)
    for risk in data["risks"]:
        assert set(RISK_NAMES) <= set(risk)
        assert all(set(FINDING_NAMES) <= set(finding) for finding in risk["findings"])
    assert all(set(CEILING_NAMES) <= set(ceiling) for ceiling in data["ceilings"])
    assert all(set(GAP_NAMES) <= set(gap) for gap in data["gaps"])
    json.dumps(data, allow_nan=False)


def test_every_number_is_reachable_by_why(demo: Path) -> None:
    register = register_of(demo)
    for kind, names in ids(register).items():
        for name in names:
            text = why_text(register, name)
            assert text, (kind, name)
            assert max(map(len, text.splitlines())) <= 80
    for risk in register.risks:
        assert f"{risk.failure_probability:.5g}" in (why_text(register, risk.id) or "")
    assert why_text(register, "no such thing") is None


def test_same_bytes_whatever_the_hash_seed() -> None:
    path = next(p for p in DEMOS if p.stem == "petrol-eight-gasket-hold")
    outputs = set()
    for seed in ("0", "1", "77"):
        done = subprocess.run(
            [sys.executable, "-m", "loadworthy", "register", str(path), "--format", "json"],
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            check=True,
        )
        outputs.add(done.stdout)
    assert len(outputs) == 1


@pytest.mark.parametrize(
    ("demo", "words"),
    [
        (
            "petrol-eight-gasket-hold",
            ["Head gasket leaks between two cylinders, cylinders 6+7 (nearly certain).", "Oil pressure hot"],
        ),
        (
            "diesel-exhaust-valve-hold",
            ["Exhaust valve does not seal, cylinder 3 (likely).", "Oil pressure hot", "lowest over highest"],
        ),
        ("petrol-turbo-limited", ["Ring seal weak, cylinder 2 (likely) is only suspected."]),
        (
            "petrol-turbo-first-visit",
            ["Full reading", "Dry compression of every cylinder", "List of modifications", "Oil pressure hot"],
        ),
        ("petrol-six-clear", []),
        ("petrol-two-stage-clear", []),
        (
            "petrol-thick-oil-hold",
            ["Crankshaft bearing clearance too large (likely).", "lead", "tin", "Oil of the wrong grade"],
        ),
        (
            "petrol-conflicting-hold",
            ["Crankshaft bearing clearance too large is the likeliest cause, but only possible."],
        ),
        ("petrol-six-lean-hold", ["Fuel filter restricted", "A clean result of this test lifts"]),
        (
            "petrol-boost-box-hold",
            ["signal converter fitted: no calibration on false readings; remove it", "Present calibration is not"],
        ),
    ],
)
def test_what_to_do_first_is_what_a_good_engineer_would_do(demo: str, words: list[str]) -> None:
    """The likeliest cause is mended, nothing is taken apart for an unlikely one, and then all is measured again."""
    path = next(path for path in DEMOS if path.stem == demo)
    text = register_text(register_of(path)).partition("\nWhat to do first")[2].partition("\nRisks, the worst first")[0]
    things = re.split(r"^ {2}\d {2}", " ".join(text.split("\n     ")), flags=re.MULTILINE)[1:]
    assert len(things) == len(words)
    for thing, word in zip(things, words, strict=True):
        assert word in thing


def _demo_register(name: str) -> Register:
    return register_of(next(path for path in DEMOS if path.stem == name))


def test_thick_oil_passes_as_read_and_not_as_corrected() -> None:
    path = next(path for path in DEMOS if path.stem == "petrol-thick-oil-hold")
    case = Case.load(path, catalogue=bundled().catalogue)
    found = _demo_register("petrol-thick-oil-hold")
    minimum = {row["rpm"].value: row["min"].value for row in case.vehicle["oil_pressure_spec"]}
    points = next(s for s in case.sheets if s.section == "oil_pressure").get("oil_pressure_points")
    as_read = {p["rpm"].value: p["pressure"].value for p in points}
    assert all(as_read[speed] > least for speed, least in minimum.items())
    graded = {s.finding.rule: s.grade for s in found.standings}
    assert graded["oil_system.maker_min"] == "stop"
    assert graded["oil_system.leak_index"] == "fix_first"


def test_a_two_stage_pump_is_sound_where_the_rule_of_thumb_says_otherwise() -> None:
    path = next(path for path in DEMOS if path.stem == "petrol-two-stage-clear")
    case = Case.load(path, catalogue=bundled().catalogue)
    points = next(s for s in case.sheets if s.section == "oil_pressure").get("oil_pressure_points")
    # 10 psi for each 1 000 rpm, the rule of the trade for fixed pumps.
    thumb = [p["pressure"].value < 68.95e3 * p["rpm"].value * 60 / 1000 for p in points]
    assert any(thumb)
    found = _demo_register("petrol-two-stage-clear")
    rules = {s.finding.rule for s in found.standings}
    assert "oil_system.rule_of_thumb" not in rules
    assert {s.grade for s in found.standings if s.finding.rule == "oil_system.stages"} == {"clean"}


def test_conflicting_evidence_is_called_so() -> None:
    found = _demo_register("petrol-conflicting-hold")
    bearings = next(r for r in found.risks if r.id == "crankshaft-bearing-clearance")
    assert bearings.conflicting
    assert [c.id for c in found.ceilings if c.ceiling.until == "sump-off-inspection"] == ["oil_system.flakes"]


def test_hot_oil_limits_sustained_power_and_nothing_is_broken() -> None:
    found = _demo_register("petrol-automatic-oil-heat-limited")
    assert {s.grade for s in found.standings} <= {"clean", "note", "watch", None}
    assert "oil_system.oil_heat" in {c.id for c in found.ceilings}


def test_a_fault_that_leaves_no_gain_comes_before_missing_evidence() -> None:
    """Two lean banks and no inventory: the fault is looked into first, by its likeliest cause, declared or not."""
    found = _demo_register("petrol-six-lean-hold")
    case = evolve(found.case, sheets=tuple(s for s in found.case.sheets if s.section != "modification"))
    first = register_text(assess(case, host=bundled())).partition("\nWhat to do first")[2].partition("\nRisks")[0]
    things = [" ".join(thing.split()) for thing in re.split(r"^ {2}\d {2}", first, flags=re.MULTILINE)[1:]]
    assert things[0].startswith("Fuel filter restricted (declared by no installed plugin) is the likeliest cause")
    assert things[1].startswith("List of modifications")
    assert sum("is the likeliest cause" in thing for thing in things) == 1
