"""What this check declares: limits with value, side, grade and mark; the table against its source; every ratio."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest
import renew_table
from memory_cases import case_of, clean, engine, host, limits, view

from loadworthy.house import House
from loadworthy.units import parse
from loadworthy_plugins.fault_memory import code_table, silence
from loadworthy_plugins.fault_memory.codes import EXPONENTS
from loadworthy_plugins.fault_memory.judging import judge_case
from loadworthy_plugins.fault_memory.patterns import _CONDITIONS

CATALOGUE = host().catalogue
SOURCE = renew_table.source()
IDS = renew_table.vocabulary()
WORDS = {
    one["id"]: one
    for one in tomllib.loads((renew_table.FOLDER / "vocabulary.toml").read_text(encoding="utf-8"))["cause"]
}
J, T, P = "judgement", "common practice, no source", "published"

#: Name, value with its unit ("" for numbers), kind, side on which it is exceeded, grade, mark.
LIMITS = [
    ("exposure_warm_ups", 10.0, "number", "setting", None, J),
    ("exposure_distance", "200 km", "distance", "setting", None, J),
    ("exposure_time", "300 min", "time", "setting", None, J),
    ("exposure_recent", 0.3, "number", "setting", None, J),
    ("monitors_unset_report", 1.0, "number", "above", "note", P),  # EPA420-R-01-015, model year 2001 on
    ("monitors_unset_report_1996", 2.0, "number", "above", "note", P),  # the same, 1996 to 2000
    ("monitors_unset_clear", 0.0, "number", "above", "note", J),
    ("distance_shortfall", 0.9, "number", "setting", None, J),
    ("load_fraction", 0.9, "number", "setting", None, J),
    ("frame_voltage_low", "10.5 V", "voltage", "setting", None, J),
    ("cold_runner", 1.0, "number", "below", "watch", J),
    ("trim_code_from", 0.10, "ratio", "setting", None, J),
    ("trim_code_full", 0.25, "ratio", "setting", None, T),
    ("bank_shared", 0.05, "ratio", "setting", None, J),
    ("bank_fault", 0.06, "ratio", "above", "watch", J),
    ("test_margin_watch", 0.25, "ratio", "below", "watch", J),
    ("test_margin_act", 0.10, "ratio", "below", "watch", J),
    ("misfire_mean_watch", 5.0, "number", "above", "watch", J),
    ("load_mismatch", 0.15, "ratio", "above", "note", J),
]


@pytest.mark.parametrize(("name", "value", "kind", "worse", "grade", "mark"), LIMITS, ids=[row[0] for row in LIMITS])
def test_limits(name: str, value: str | float, kind: str, worse: str, grade: str | None, mark: str) -> None:
    declared = CATALOGUE.limits[f"fault_memory.{name}"]
    assert declared.value == pytest.approx(parse(value, kind).value if isinstance(value, str) else value)
    assert (declared.kind, declared.worse, declared.grade, declared.mark) == (kind, worse, grade, mark)
    assert declared.source


def test_no_limit_is_left_out() -> None:
    own = {id.partition(".")[2] for id in CATALOGUE.limits if id.startswith("fault_memory.")}
    assert own == {row[0] for row in LIMITS} | {"lamp_bit_dark"}
    dark = CATALOGUE.limits["fault_memory.lamp_bit_dark"]
    assert (dark.value, dark.grade, dark.mark) == (None, "fix_first", P)
    assert "40 CFR 85.2207" in dark.source


def test_half_life_of_the_sheet() -> None:
    section = CATALOGUE.sections["fault_memory"]
    assert (section.half_life_days, section.half_life_km) == (30.0, 1000.0)


#: Setting, a value of the house, and a reading that it changes.
SETTINGS = [
    ("exposure_warm_ups", 100, {}),
    ("exposure_distance", "2000 km", {}),
    ("exposure_time", "3000 min", {}),
    ("exposure_recent", 0.7, {"warm_ups_since_clear": 6}),
    ("frame_voltage_low", "13 V", {"freeze_frames": [{"code": "P0107", "bytes": "42 2E E0"}]}),
    ("load_fraction", 0.8, {"freeze_frames": [{"code": "P2177", "bytes": "43 01 7A"}]}),
    ("trim_code_from", 0.15, {"trims": [("load", 1)]}),
    ("trim_code_full", 0.5, {"trims": [("load", 1)]}),
    ("bank_shared", 0.15, {"trims": [("load", 1), ("load", 2)]}),
    ("test_margin_watch", 0.05, {"test_results": [900]}),
    ("test_margin_act", 0.05, {"test_results": [930]}),
    ("misfire_mean_watch", 15, {"misfires": (10, 1, 1)}),
    ("cold_runner", 5, {"warm_ups_since_clear": 60}),
    ("bank_fault", 0.5, {"trims": [("load", 1), ("load", 2)]}),
    ("load_mismatch", 0.9, {"freeze_frames": [{"code": "P0107", "bytes": "0C 51 40, 10 3B 60, 43 01 00"}]}),
]


@pytest.mark.parametrize(("name", "value", "fields"), SETTINGS, ids=[row[0] for row in SETTINGS])
def test_a_setting_of_the_house_counts(name: str, value: str | float, fields: dict[str, Any]) -> None:
    given = dict(fields)
    if "trims" in given:
        totals = {1: "20 %", 2: "8 %"}
        given["trims"] = [
            {"region": region, "bank": bank, "long": totals[bank], "coolant": "90 degC", "closed_loop": True}
            for region, bank in fields["trims"]
        ]
    row = {"monitor": "3A", "test": "01", "scaling": "24", "min": "00 00", "max": "03 E8"}
    if "test_results" in given:
        given["test_results"] = [{**row, "value": f"{n:04X}"} for n in fields["test_results"]]
    if "misfires" in given:
        given["test_results"] = [
            {**row, "monitor": f"A{2 + i}", "test": "0B", "value": f"{n:04X}", "max": "FF FF"}
            for i, n in enumerate(given.pop("misfires"))
        ]
    six = engine(cylinder_count=6, cylinder_banks=[[1, 3, 5], [2, 4, 6]])
    case = case_of(clean(**given), vehicle=six)
    table = {"limits": {f"fault_memory.{name}": {"value": value, "reason": "ours"}}}
    changed = House.from_dict(table, catalogue=CATALOGUE).resolve(CATALOGUE)
    assert repr_of(judge_case(case, None, changed)) != repr_of(judge_case(case, None, limits()))


def repr_of(results: tuple[object, ...]) -> list[str]:
    """Return what the results say without the limits that they were judged by."""
    said = []
    for one in results:
        weights = [(w.cause, w.db) for w in getattr(one, "weights", ())]
        steps = [step.value for step in getattr(one, "steps", ())]
        verdicts = [(v.grade, v.p_beyond) for v in getattr(one, "verdicts", ())]
        said.append(repr((getattr(one, "rule", ""), getattr(one, "text", ""), weights, steps, verdicts)))
    return said


# The table -----------------------------------------------------------------------------------------------------------


def test_the_table_is_that_of_its_source() -> None:
    assert renew_table.TARGET.read_text(encoding="utf-8") == renew_table.text()


def test_the_source_is_whole() -> None:
    assert len(code_table.FAMILIES) == len(SOURCE["family"]) == 147
    assert len(code_table.CODES) == sum(len(one["codes"]) for one in SOURCE["family"]) == 390
    assert len(code_table.CAUSES) == len(SOURCE["cause"]) == 115
    assert len(code_table.PATTERNS) == len(SOURCE["pattern"]) == 22
    assert {**SOURCE["status_exponent"], "passed": 0.0} == EXPONENTS
    assert not any("none_of" in one for one in SOURCE["pattern"])


def test_every_word_of_the_source_is_known() -> None:
    assert {one["severity"] for one in SOURCE["family"]} == set(SOURCE["severity"])
    assert {one["ceiling"] for one in SOURCE["family"]} == set(SOURCE["ceiling"])
    assert {one["kind"] for one in SOURCE["family"]} == set(SOURCE["kind"])
    assert set(_CONDITIONS) == set(code_table.PATTERNS)
    # Every stop is a ceiling of no full load and the other way round: the grade alone holds it.
    assert all((one["severity"] == "stop") is (one["ceiling"] == "no_full_load") for one in SOURCE["family"])
    named = {code for one in SOURCE["pattern"] for code in (*one.get("any_of", ()), *one.get("all_of", ()))}
    assert named <= set(code_table.CODES)


@pytest.mark.parametrize("one", SOURCE["family"], ids=[one["id"] for one in SOURCE["family"]])
def test_the_band_of_a_family(one: dict[str, Any]) -> None:
    rule = CATALOGUE.rules[f"fault_memory.{one['id']}"]
    causes = {IDS[each["cause"]]: each["weight"] for each in one["causes"]}
    assert {band: dict(ratios) for band, ratios in rule.bands.items()} == {"present": causes}
    assert rule.group == SOURCE["group_global"].get(one["group"], one["group"])
    assert (rule.section, rule.test) == ("fault_memory", "full-memory-reading")


@pytest.mark.parametrize("one", SOURCE["pattern"], ids=[one["id"] for one in SOURCE["pattern"]])
def test_the_band_of_a_pattern(one: dict[str, Any]) -> None:
    rule = CATALOGUE.rules[f"fault_memory.pattern-{one['id']}"]
    factors = {IDS[each["cause"]]: each["factor"] for each in one["multiply"]}
    assert {band: dict(ratios) for band, ratios in rule.bands.items()} == {"present": factors}
    assert rule.group == f"pattern {one['id']}"


CLEARED, CHANGED = "memory-recently-cleared", "hardware-or-calibration-changed-before"
#: Rule, its group and its bands; all judgement.
WHOLE = {
    "memory_age": (
        "memory age",
        {
            "erased_just_now": {CLEARED: 40.0},
            "recent_not_complete": {CLEARED: 15.0},
            "recent_complete": {CLEARED: 4.0},
            "no_counters_not_complete": {CLEARED: 6.0},
            "permanent_alone": {CLEARED: 20.0},
            "known": {CLEARED: 100.0},
            "settled": {CLEARED: 0.05},
        },
    ),
    "reporting": (
        "reporting",
        {
            "monitor_missing": {CHANGED: 12.0},
            "complete_at_once": {CHANGED: 6.0},
            "lamp_dark_at_key_on": {CHANGED: 4.0},
            "commanded_on_but_dark": {CHANGED: 8.0},
            "permanent_refused": {CHANGED: 3.0},
        },
    ),
    "provocation": ("reporting", {"silent": {CHANGED: 25.0}, "reported": {CHANGED: 0.3}}),
    "silence": ("silence", {}),
    "lamp": ("", {}),
    "record": ("", {}),
    "readiness": ("memory age", {}),
    "test_margin": ("", {}),
    "misfire_counts": ("", {}),
    "trim_banks": ("lambda sensor", {}),
    "warm_ups": ("", {}),
    "load_figures": ("air meter", {}),
    "unlisted": ("", {}),
}


@pytest.mark.parametrize("name", WHOLE)
def test_the_rules_of_the_reading_as_a_whole(name: str) -> None:
    rule = CATALOGUE.rules[f"fault_memory.{name}"]
    assert (rule.group, {band: dict(ratios) for band, ratios in rule.bands.items()}) == WHOLE[name]


def test_no_rule_is_left_out() -> None:
    own = {id.partition(".")[2] for id in CATALOGUE.rules if id.startswith("fault_memory.")}
    patterned = {f"pattern-{one['id']}" for one in SOURCE["pattern"]}
    assert own == {*WHOLE, *(one["id"] for one in SOURCE["family"]), *patterned}


def test_groups_that_other_checks_share() -> None:
    own = {id for id in CATALOGUE.groups if CATALOGUE.owner("group", id) == "fault_memory"}
    assert own == {"lambda sensor", "air meter", "key-on"} == set(SOURCE["group_global"].values())
    assert not any(CATALOGUE.groups[id].per_sheet for id in own)
    assert SOURCE["group_global"] == code_table.GLOBAL_GROUPS


# Causes --------------------------------------------------------------------------------------------------------------


def test_causes_that_sit_in_a_cylinder() -> None:
    used = {id for row in code_table.FAMILIES.values() for id, _, _ in row[10]}
    used |= {id for row in code_table.PATTERNS.values() for id, _, _ in row[4]}
    assert used == set(code_table.CAUSES)
    own = {id for id, row in code_table.CAUSES.items() if row[2] == "cylinder"}
    assert {id for id in used if WORDS[id].get("located") == "cylinder"} == own
    # The source says so too.
    assert {IDS[one["name"]] for one in SOURCE["cause"] if "cylinder n" in one["name"]} <= own


def test_causes_that_show_at_load_exist() -> None:
    assert set(code_table.CAUSES) >= silence.AT_LOAD
    assert len(silence.AT_LOAD) == 18


@pytest.mark.parametrize("one", SOURCE["cause"], ids=[one["name"] for one in SOURCE["cause"]])
def test_priors_of_causes_that_no_other_check_declares(one: dict[str, Any]) -> None:
    id = IDS[str(one["name"])]
    declared = CATALOGUE.causes.get(id)
    if declared is None or id not in {row.id for row in _own_causes()}:
        assert WORDS[id]["owner"] != "fault_memory" or "covers" in WORDS[id]
        return
    expected = {"physical": 0.02, "sensing": 0.03, "explanation": 0.03, "event": 0.01}[str(one["kind"])]
    assert declared.prior == {"fuel-leak": 0.003, CLEARED: 0.10}.get(id, expected)


def _own_causes() -> list[Any]:
    return [one for id, one in CATALOGUE.causes.items() if CATALOGUE.owner("cause", id) == "fault_memory"]


def test_broader_names_of_the_table_are_those_of_the_vocabulary() -> None:
    broader = {id for id in code_table.CAUSES if "covers" in WORDS[id]}
    assert set(code_table.PARTS) == broader
    for id in broader:
        assert set(code_table.PARTS[id]) == _leaves(id)
    own = {id: set(one.covers) for id, one in CATALOGUE.broader.items()}
    assert {id: set(code_table.PARTS[id]) for id in own} == own


def _leaves(id: str) -> set[str]:
    covers = WORDS[id].get("covers")
    return {id} if covers is None else {leaf for part in covers for leaf in _leaves(part)}


def test_every_ratio_is_positive_and_none_is_one_for_nothing() -> None:
    ratios = [ratio for row in code_table.FAMILIES.values() for _, ratio, _ in row[10]]
    ratios += [ratio for row in code_table.PATTERNS.values() for _, ratio, _ in row[4]]
    assert all(ratio > 0.0 and ratio != 1.0 for ratio in ratios)
    assert all(0.0 < weight <= 1.0 for _, weight, _ in code_table.CAUSES.values())


def test_a_view_of_a_clean_reading_uses_declared_rules_only() -> None:
    rules = {one.rule for one in view(clean()).results if hasattr(one, "rule")}
    assert rules
    assert rules <= set(CATALOGUE.rules)
