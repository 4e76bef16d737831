"""What the inventory itself tells: gaps, coverage, unlawful parts, what the calibrator must be told."""

from __future__ import annotations

import datetime
from typing import Any

import pytest
from inventory_cases import (
    DAY,
    INJECTOR,
    PETROL,
    PUMP,
    answered,
    case,
    host,
    limits,
    look,
    part,
    register,
    sheet,
)

from loadworthy.case import Case
from loadworthy.findings import Advice, Finding, Gap
from loadworthy.outputs.text import register_text
from loadworthy.standing import judge
from loadworthy_plugins.modifications.judging_inventory import missing
from loadworthy_plugins.modifications.limits import INVENTORY_LIMITS, INVENTORY_RULES
from loadworthy_plugins.modifications.parts import BY_ID, CATALOGUE
from loadworthy_plugins.modifications.sheet import KINDS, MODIFICATION, PART

EMISSION = [kind.id for kind in CATALOGUE if kind.emission]


# Declarations --------------------------------------------------------------------------------------------------------


def test_the_catalogue_asks_for_keys_that_the_sheet_has() -> None:
    keys = {field.name for field in PART}
    for kind in CATALOGUE:
        asked = {key for group in kind.data for key in group} | {key for pair in kind.conditions for key in pair}
        assert asked <= keys, kind.id
        assert kind.text
    assert tuple(kind.id for kind in CATALOGUE) == KINDS
    assert len(set(KINDS)) == 26


def test_quantities_that_a_part_could_limit_are_demanded_ones() -> None:
    demanded = set(host().catalogue.quantities)
    assert all(set(kind.could_limit) <= demanded for kind in CATALOGUE)


def test_every_limit_and_every_rule_is_used() -> None:
    import pathlib

    import loadworthy_plugins.modifications as package

    source = "".join(
        path.read_text(encoding="utf-8")
        for path in pathlib.Path(str(package.__file__)).parent.glob("*.py")
        if path.name != "limits.py"
    )
    for limit in INVENTORY_LIMITS:
        name = limit.name.removeprefix("posterior_").removesuffix("_port").removesuffix("_direct")
        assert f'{name}"' in source or f"{name}_" in source or f'"{name}' in source, limit.name
        assert limit.mark in ("judgement", "common practice, no source")
    for rule in INVENTORY_RULES:
        assert f'"{rule.name}"' in source, rule.name


def test_defaults_of_the_limits() -> None:
    # Common practice: duty 0.80 / 0.85 / 0.90. All others are judgement.
    due = {
        "completeness_min": 0.8,
        "posterior_report": 0.5,
        "posterior_conflict": 0.7,
        "duty_watch": 0.80,
        "duty_max": 0.85,
        "duty_fix": 0.90,
        "di_window_use_max": 0.90,
        "hp_pump_use_max": 0.90,
        "pump_margin_min": 1.15,
        "meter_use_max": 0.90,
        "rating_use_max": 1.0,
    }
    assert {name: limits()[f"modifications.{name}"].number for name in due} == due


def test_a_sheet_is_read_in_any_unit() -> None:
    metric = part("injector", static_flow="440 mL/min", flow_pressure="300 kPa")
    other = part("injector", static_flow="6.974 US gal/h", flow_pressure="43.51 psi")
    one, two = (case(sheet(p)).sheets[0].get("part")[0] for p in (metric, other))
    assert one["static_flow"].value == pytest.approx(two["static_flow"].value, rel=1e-3)
    assert one["flow_pressure"].value == pytest.approx(two["flow_pressure"].value, rel=1e-3)


def test_a_calibration_sheet_takes_several_control_units() -> None:
    data = {
        "name": "t",
        "calibration": [
            {
                "date": DAY,
                "present_calibration": "changed_by",
                "changed_by": "previous owner",
                "calibration_id": ["A1", "B7"],
                "verification_number": ["0x12AB", "0x0F00"],
            }
        ],
    }
    (found,) = Case.from_dict(data, catalogue=host().catalogue).of("calibration")
    assert found.get("verification_number") == ("0x12AB", "0x0F00")


# Completeness and coverage -------------------------------------------------------------------------------------------


def test_nobody_asked() -> None:
    found = look()
    assert found.covered().state == "absent"
    assert not found.has("completeness")


def test_every_unknown_kind_is_a_gap_of_its_own_and_four_fifths_are_needed() -> None:
    few = look(sheet(standard_kinds=list(KINDS[:20])))
    assert few.covered().state == "unknown"
    assert "inventory incomplete" in few.finding("completeness").text
    assert few.grade("completeness") == "note"
    assert {f"unknown@{kind}" for kind in KINDS[20:]} <= few.gaps()
    enough = look(sheet(standard_kinds=list(KINDS[:21])))
    assert enough.covered().state == "met"
    assert enough.grade("completeness") == "note"
    assert "incomplete" not in enough.finding("completeness").text
    assert look(answered()).grade("completeness") == "clean"
    assert {f"unknown@{kind}" for kind in KINDS[21:]} <= enough.gaps()


def test_the_inventory_is_as_fresh_as_the_answers_that_it_needs() -> None:
    old = sheet(standard_kinds=list(KINDS), id="old")
    assert look(old).covered().sheets == ("old",)
    new = sheet(standard_kinds=list(KINDS[:10]), id="new", day=30)
    assert look(old, new).covered().sheets == ("old",)
    newer = sheet(standard_kinds=list(KINDS[:21]), id="newer", day=40)
    assert look(old, newer).covered().sheets == ("newer",)


def test_an_old_inventory_goes_stale() -> None:
    assert MODIFICATION.half_life_days * MODIFICATION.stale_after == 730.0


@pytest.mark.parametrize("kind", ["pressure_sensor", "boost_control", "software", "air_meter"])
def test_what_readings_infer_is_no_answer_and_lifts_nothing(kind: str) -> None:
    quiet, loud = (look(_all_but(kind), inferred=p) for p in (None, {kind: 0.76}))
    for found in (quiet, loud):
        assert f"unknown@{kind}" in found.gaps()
        assert found.ceilings()["unanswered"].value == "standard"
    assert loud.finding("completeness").text == quiet.finding("completeness").text
    few = KINDS[:20]
    assert look(sheet(standard_kinds=list(few)), inferred={KINDS[20]: 0.9}).covered().state == "unknown"


def _all_but(kind: str) -> dict[str, Any]:
    return sheet(standard_kinds=[one for one in KINDS if one != kind])


# Unlawful and unfit --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", EMISSION)
@pytest.mark.parametrize("status", ["declared", "seen"])
def test_an_altered_emission_control_stops_any_road_calibration(kind: str, status: str) -> None:
    found = look(answered(part(kind, state="absent", status=status)))
    assert found.grade("emission_control", kind) == "stop"
    text = found.finding("emission_control", kind).text
    assert "restore" in text
    assert "no road calibration" in text
    reg = register(answered(part(kind, state="absent", status=status)))
    assert reg.outcome == "hold"
    assert set(reg.allowed.torque) == {0.0}


def test_an_approved_replacement_is_lawful_but_papers_do_not_cover_absence() -> None:
    approved = part("catalyst_or_particulate_filter", state="complete", documents=["part_approval"])
    assert look(answered(approved)).grade("emission_control") == "clean"
    gone = {**approved, "state": "absent"}
    assert look(answered(gone)).grade("emission_control") == "stop"


@pytest.mark.parametrize("answer", ["standard", "unknown"])
@pytest.mark.parametrize("status", ["declared", "seen", "ruled_out"])
def test_no_answer_hides_the_state_of_an_emission_control(answer: str, status: str) -> None:
    kind = "catalyst_or_particulate_filter"
    assert look(answered(part(kind, answer, state="absent", status=status))).grade("emission_control") == "stop"
    # A converter that is absent is as made.
    assert not look(answered(part("signal_converter", "standard", state="absent"))).has("signal_converter")


@pytest.mark.parametrize("ids", ["ab", "ba"])
def test_a_paper_does_not_outweigh_what_another_sheet_of_the_day_found(ids: str) -> None:
    kind = "catalyst_or_particulate_filter"
    paper = part(kind, status="seen", state="complete", documents=["part_approval"])
    gone = part(kind, status="seen", state="absent")
    found = look(sheet(paper, id=ids[0]), sheet(gone, id=ids[1]))
    assert found.grade("emission_control") == "stop"
    assert look(answered({**paper, "legal_flag": "not_road_legal"})).grade("emission_control") == "stop"


def test_eyes_decide_on_absence_and_readings_alone_do_not() -> None:
    kind = "catalyst_or_particulate_filter"
    seen_gone = sheet(part(kind, state="absent", status="seen"), day=1)
    assert look(answered(), seen_gone).grade("emission_control") == "stop"
    seen_there = sheet(part(kind, "standard", status="seen"), day=1)
    found = look(answered(part(kind, state="absent")), seen_there)
    assert found.grade("conflicting") == "watch"
    assert [judge("m", f).grade for f in found.all("emission_control")] == ["stop", "clean"]
    inferred = look(answered(), inferred={kind: 0.9})
    assert not inferred.has("emission_control")
    assert inferred.grade("conflicting") == "watch"


UNLAWFUL = [part("catalyst_or_particulate_filter", state="absent"), part("signal_converter")]


def _held(*sheets: dict[str, Any], **tables: Any) -> tuple[str, str | None]:
    """Return the outcome, and the grade of the gravest stop that stands."""
    reg = register(*sheets, **tables)
    rules = ("modifications.emission_control", "modifications.signal_converter")
    grades = [s.grade for s in reg.standings if s.stands and s.finding.rule in rules]
    order = (None, "clean", "note", "watch", "fix_first", "stop")
    return reg.outcome, max(grades, key=order.index, default=None)


@pytest.mark.parametrize("gone", UNLAWFUL, ids=lambda row: row["part_kind"])
@pytest.mark.parametrize("status", ["declared", "seen"])
def test_emission_control_that_was_absent_is_not_back_by_one_more_sheet(gone: dict[str, Any], status: str) -> None:
    first = answered({**gone, "status": status})
    kind = gone["part_kind"]
    back = {"status": "seen", "fitted_on": DAY + datetime.timedelta(days=1)}
    again, third = (sheet(part(kind, "standard", **back), day=day) for day in (2, 3))
    assert _held(first) == ("hold", "stop")
    assert _held(first, again)[1] == "fix_first"
    assert _held(first, again, third)[1] == "clean"
    repair = {"date": DAY + datetime.timedelta(days=1), "what": "removed or refitted", "treats": [_rule(kind)]}
    assert _held(first, again, repair=[repair])[1] == "clean"
    # A word that it is back, or was never away, takes nothing from it.
    word = sheet(part(kind, "standard", fitted_on=back["fitted_on"]), day=2)
    assert _held(first, word)[1] == "stop"
    assert _held(first, answered(day=2))[1] == "stop"


def _rule(kind: str) -> str:
    return "modifications." + ("signal_converter" if kind == "signal_converter" else "emission_control")


def test_a_paper_that_is_found_later_counts_but_not_for_what_was_absent() -> None:
    kind = "catalyst_or_particulate_filter"
    paper = sheet(part(kind, state="complete", documents=["part_approval"]), day=2)
    assert _held(answered(part(kind)), paper)[1] == "clean"
    assert _held(answered(part(kind, state="absent")), paper)[1] == "stop"


def _cleared(*sheets: dict[str, Any], **tables: Any) -> set[str]:
    """Return the causes that something speaks against."""
    return {b.cause for b in register(*sheets, **tables).beliefs if b.negative > 0.0}


def test_figures_and_papers_are_no_workshop_test_and_clear_nobody() -> None:
    approved = part("catalyst_or_particulate_filter", state="complete", documents=["part_approval"])
    sound = answered({**INJECTOR, "static_flow": "1200 mL/min"}, PUMP, approved, loaded_voltage="13.5 V")
    found = look(sound)
    assert {found.grade(rule) for rule in ("injector_duty", "emission_control", "fuel_pump_margin")} == {"clean"}
    assert "injector-size-changed" not in _cleared(sound)
    assert not _cleared(sound) & {"signal-converter-fitted", "camshaft-changed", "turbocharger-changed"}
    # A whole interview speaks against what was changed undeclared; one with a kind left open does not.
    whole = answered(settled=["brakes", "tyres", "approval", "insurance"])
    assert "part-changed-undeclared" in _cleared(whole)
    assert not _cleared(sheet(standard_kinds=list(KINDS[:25])))


def test_a_larger_part_proves_the_repair_of_one_too_small() -> None:
    before = answered({**INJECTOR, "static_flow": "300 mL/min"})
    new = {**INJECTOR, "static_flow": "1200 mL/min", "fitted_on": DAY + datetime.timedelta(days=1)}
    repair = {"date": DAY + datetime.timedelta(days=1), "what": "injectors", "treats": ["injector-too-small"]}
    small = sheet({**new, "static_flow": "310 mL/min"}, PUMP, day=2)
    proven, unproven = (register(before, after, repair=[repair]) for after in (sheet(new, PUMP, day=2), small))
    lacking = [any("injector-too-small" in gap.text for gap in reg.gaps) for reg in (proven, unproven)]
    assert lacking == [False, True]


def test_nothing_of_what_it_says_helps_to_hide_or_praises_a_removal() -> None:
    for kind in EMISSION:
        found = look(answered(part(kind, state="absent", status="seen")))
        texts = [r.text.lower() for r in found.results if isinstance(r, Advice | Finding)]
        assert not any(
            word in text for text in texts for word in ("delete", "disable", "gain", "simulat", "switch off")
        )
        assert kind not in found.advice()


def test_a_signal_converter_stops_until_it_is_removed() -> None:
    found = look(answered(part("signal_converter", status="seen")))
    assert found.grade("signal_converter") == "stop"
    assert "remove" in found.finding("signal_converter").text
    assert not look(answered(), inferred={"signal_converter": 0.9}).has("signal_converter")


def test_road_law() -> None:
    flagged = answered(part("exhaust", legal_flag="not_road_legal"))
    assert look(flagged).grade("road_law") == "watch"
    assert look(flagged).finding("road_law").accept
    needs = part("exhaust", legal_flag="needs_approval")
    assert look(answered(needs)).grade("road_law") == "note"
    assert not look(answered({**needs, "documents": ["part_approval"]})).has("road_law")


def test_open_items_for_more_power() -> None:
    found = look(answered())
    assert found.grade("open_items") == "note"
    assert "brakes, tyres, approval, insurance" in found.finding("open_items").text
    done = look(answered(settled=["brakes", "tyres", "approval", "insurance"]))
    assert done.grade("open_items") == "clean"


def test_water_injection_is_counted_only_with_a_proven_failsafe() -> None:
    water = part("water_injection", fluid="water", injected_flow="300 mL/min", flow_failsafe="none")
    assert look(answered(water)).grade("water_injection") == "watch"
    proven = look(answered({**water, "flow_failsafe": "proven"}))
    assert proven.grade("water_injection") == "clean"
    # Even then it raises nothing.
    assert {n: c.value for n, c in proven.ceilings().items()} == {
        n: c.value for n, c in look(answered()).ceilings().items()
    }


# What the calibration knows, and what the calibrator must be told ----------------------------------------------------


@pytest.mark.parametrize(
    ("said", "record", "grade"),
    [("yes", "file 7", "clean"), ("yes", None, "watch"), ("no", None, "watch"), (None, None, "watch")],
)
def test_a_calibration_that_is_not_proven_to_know_a_part(said: str | None, record: str | None, grade: str) -> None:
    more: dict[str, Any] = {"calibration_aware": said, "calibration_record": record}
    found = look(answered(part("injector", **{k: v for k, v in more.items() if v})))
    assert found.grade("calibration_unaware") == grade
    named = found.finding("calibration_unaware").names
    assert named == (() if grade == "clean" else (("part-changed-undeclared", None),))


def test_the_calibrator_is_told_of_every_part_with_the_state_of_its_figures() -> None:
    parts = [part(kind.id) for kind in CATALOGUE if not kind.emission and kind.id != "signal_converter"]
    advice = look(answered(*parts)).advice()
    for one in parts:
        kind = BY_ID[one["part_kind"]]
        # Which figures is said once, by the finding.
        assert f"tell the calibrator of the {kind.id} (declared, figures missing; " in advice
        assert (kind.tell or "not as made") in advice
    complete = look(answered(INJECTOR)).advice()
    assert "injector (seen, figures complete; the calibration knows it)" in complete
    assert "standard" not in complete


def test_figures_without_their_test_condition_are_missing_ones() -> None:
    from loadworthy_plugins.modifications.inventory import inventory

    flow = case(sheet(part("injector", static_flow="440 mL/min", test_fluid="unknown")))
    (one,) = inventory(flow).of("injector")
    assert {"flow_pressure", "test_fluid"} <= set(missing(one))
    bare = case(sheet(part("injector", static_flow="440 mL/min")))
    (one,) = inventory(bare).of("injector")
    assert missing(one) == ("flow_pressure", "test_fluid or test_fluid_density", "dead_time_points")
    whole = case(sheet(INJECTOR))
    (one,) = inventory(whole).of("injector")
    assert missing(one) == ()
    assert look(answered(INJECTOR, PUMP)).grade("figures_missing") == "clean"


def test_changed_internals_make_any_plan_a_strong_one() -> None:
    for kind in ("turbocharger", "camshaft", "pistons_rods_gasket_head", "displacement"):
        assert look(answered(part(kind))).classes() == {"strong"}
    assert look(answered(part("exhaust"))).classes() == set()


def test_an_engine_that_is_no_four_stroke_gets_no_capacities() -> None:
    found = look(answered(INJECTOR, PUMP), vehicle={**PETROL, "engine_cycle": "two_stroke"})
    assert found.capacities() == set()
    assert not found.has("injector_duty")


def test_the_core_takes_every_result() -> None:
    every = [part(kind) for kind in KINDS]
    reg = register(answered(*every), answered(day=1), sheet(part("injector", "unknown"), day=2))
    assert reg.outcome in ("hold", "incomplete")


def test_a_sheet_under_way_is_judged_for_what_it_holds() -> None:
    found = look({"date": DAY + datetime.timedelta(days=1), "unfinished": True, "part": [{"answer": "modified"}]})
    assert found.covered().state == "unknown"


@pytest.mark.parametrize("state", ["absent", "altered", "blanked"])
def test_the_state_that_was_found_counts_and_not_the_word_standard_beside_it(state: str) -> None:
    """A vehicle that never had the part is answered "standard" without a state."""
    found = look(answered(part("exhaust_gas_recirculation", "standard", state=state)))
    assert found.grade("emission_control") == "stop"


def test_what_to_write_is_said_after_the_word_write() -> None:
    """The register puts "Write:" before it."""
    found = look(answered(part("injector"), part("fuel_pump")))
    written = [gap.write for gap in found.results if isinstance(gap, Gap) and gap.write]
    assert any("loaded_voltage" in words for words in written)
    assert not [words for words in written if words.startswith("write")]


def test_a_part_is_named_once_in_the_words_of_people() -> None:
    found = register(answered(part("catalyst_or_particulate_filter", state="absent"), part("camshaft")))
    text = " ".join(register_text(found).split())
    assert "catalyst or particulate filter not as made: no road calibration; restore it" in text
    assert "catalyst_or_particulate_filter)" not in text
    assert ", catalyst_or_particulate_filter" not in text
    assert "duration, cam_lift, speed_rating [modifications.figures_missing@camshaft]" in text
