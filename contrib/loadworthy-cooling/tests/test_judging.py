"""What a sheet comes to: findings, causes and outcome, through the whole program."""

from __future__ import annotations

import datetime
from typing import TYPE_CHECKING, Any

import pytest
from vehicle import DAY, PLAN

if TYPE_CHECKING:
    from vehicle import Registers, Sheets

    from loadworthy import Register


def standing(register: Register, rule: str, sheet: str = "run") -> Any:
    (found,) = [s for s in register.standings if s.id == f"cooling.{rule}#{sheet}"]
    return found


def celsius(register: Register, label: str) -> float:
    (step,) = [s for s in standing(register, "plan").finding.steps if s.label == label]
    return float(step.value) - 273.15


def test_without_a_sheet_the_case_lacks_it_but_is_not_barred(register: Registers) -> None:
    found = register()
    assert found.outcome == "clear"
    (gap,) = [gap for gap in found.gaps if gap.id == "cooling.margin"]
    assert not gap.required
    assert gap.test == "cooling-steady-load-run"


def test_a_sound_run_clears(register: Registers, sheet: Sheets) -> None:
    found = register(sheet())
    assert found.failures == ()
    assert found.outcome == "clear"
    rules = ("today", "plan", "hold", "cap")
    assert [standing(found, rule).grade for rule in rules] == ["clean"] * 4
    # 40 + 56 x 161.27 / 140, by hand.
    assert celsius(found, "settles at") == pytest.approx(104.5, abs=0.05)
    assert "cooling.margin" not in {gap.id for gap in found.gaps}
    faults = {risk.cause for risk in found.risks if risk.cause.startswith("cooling")}
    assert faults <= {"cooling-core-too-small"}


def test_a_hot_run_holds_and_names_what_may_be_wrong(register: Registers, sheet: Sheets) -> None:
    found = register(sheet(coolant_temperature="106 degC"))
    assert found.outcome == "hold"
    assert [standing(found, rule).grade for rule in ("today", "plan")] == ["fix_first"] * 2
    (symptom,) = [s for s in found.symptoms if s.set_id == "cooling-hot-under-load"]
    assert sum(share.share for share in symptom.shares) + symptom.none_share == pytest.approx(1.0)
    risks = {risk.cause: risk for risk in found.risks}
    fins = risks["cooling-core-blocked-outside"]
    assert fins.probability > 0.2
    assert fins.probability > risks["cooling-pump-weak"].probability
    assert fins.remedy
    assert fins.retest == ("cooling-steady-load-run",)


def test_too_hot_only_with_the_plan_accuses_no_part(register: Registers, sheet: Sheets) -> None:
    """116 degC with the plan, 106 degC today: the plan asks for too much, nothing need be broken."""
    found = register(sheet(coolant_temperature="96 degC"))
    assert standing(found, "today").grade == "clean"
    assert standing(found, "plan").grade == "fix_first"
    assert [risk.cause for risk in found.risks if risk.cause.startswith("cooling")] == ["cooling-core-too-small"]


HOT = "106 degC"


@pytest.mark.parametrize(
    ("changed", "grade", "accept"),
    [
        # Not steady can only have flattered: a cool run clears nothing, a hot one counts.
        ({"steady_time": "1 min"}, None, False),
        ({"steady_time": "1 min", "coolant_temperature": HOT}, "fix_first", False),
        ({"steady_time": None}, None, False),
        ({"steady_time": None, "coolant_temperature": HOT}, "fix_first", False),
        ({"air": None}, None, False),
        ({"air": None, "coolant_temperature": HOT}, "fix_first", False),
        ({"road_speed": None}, None, False),
        # Too little air can only have made it look worse: a cool run clears, a hot one counts as a hint.
        ({"air": "rollers_without_fan"}, "clean", False),
        ({"air": "rollers_without_fan", "coolant_temperature": HOT}, "watch", True),
        ({"road_speed": "50 km/h", "coolant_temperature": HOT}, "watch", True),
        ({"air": "rollers_with_fan", "coolant_temperature": HOT}, "fix_first", False),
        # The thermostat held the temperature up.
        ({"thermostat_open_temperature": "95 degC"}, "clean", False),
        ({"thermostat_open_temperature": "108 degC", "coolant_temperature": HOT}, "watch", True),
        # An opening that nobody knows excuses nothing.
        ({"thermostat_open_temperature": None, "coolant_temperature": HOT}, "fix_first", False),
    ],
)
def test_conditions(register: Registers, sheet: Sheets, changed: dict[str, Any], grade: str, accept: bool) -> None:
    one = standing(register(sheet(**changed)), "plan")
    assert (one.grade, one.accept) == (grade, accept)
    assert (one.state == "unknown") == (grade is None)


@pytest.mark.parametrize(
    ("changed", "why"),
    [
        ({"power": None}, "not on the sheet: power"),
        ({"ambient_temperature": None}, "not on the sheet: ambient_temperature"),
        ({"coolant_temperature": "25 degC"}, "coolant no warmer than the air"),
    ],
)
def test_what_cannot_be_judged_is_unknown(
    register: Registers, sheet: Sheets, changed: dict[str, Any], why: str
) -> None:
    found = register(sheet(**changed))
    for rule in ("today", "plan"):
        assert standing(found, rule).state == "unknown"
        assert why in standing(found, rule).finding.unknown
    assert "cooling.margin" in {gap.id for gap in found.gaps}


def test_without_a_plan_nothing_is_forecast(register: Registers, sheet: Sheets) -> None:
    found = register(sheet(coolant_temperature=HOT), plan={"goal": "repair"}, vehicle={"fuel": "petrol_e10"})
    assert standing(found, "plan").state == "unknown"
    assert found.outcome == "incomplete"


def test_cold_tests_alone_make_no_forecast(register: Registers, sheet: Sheets) -> None:
    cold = sheet(coolant_temperature=None, ambient_temperature=None, power=None)
    rules = {s.finding.rule for s in register(cold).standings if s.plugin == "cooling"}
    assert rules == {"cooling.hold", "cooling.cap"}


def test_a_system_that_does_not_hold_boils_as_if_open(register: Registers, sheet: Sheets) -> None:
    found = register(sheet(hold_loss="40 kPa"))
    assert standing(found, "hold").grade == "fix_first"
    assert celsius(found, "boils at") < 107.8  # half and half at sea level, and this is at 1 000 m
    assert standing(found, "plan").grade == "fix_first"
    assert "cooling-leak-or-low-level" in {risk.cause for risk in found.risks}


@pytest.mark.parametrize(
    ("changed", "pascal"),
    [
        ({}, 138e3),
        ({"cap_tested": "1.5 bar"}, 140e3),
        ({"cap_tested": None}, 126e3),
        ({"cap_tested": None, "cap_marked": None}, 0.0),
        ({"cap_tested": "1.2 bar", "cap_marked": None}, 120e3),
    ],
)
def test_the_cap_is_credited_with_what_is_certain(
    register: Registers, sheet: Sheets, changed: dict[str, Any], pascal: float
) -> None:
    steps = {step.label: step.value for step in standing(register(sheet(**changed)), "plan").finding.steps}
    assert steps["cap holds"] == pytest.approx(pascal)


def test_a_weak_cap_is_watched(register: Registers, sheet: Sheets) -> None:
    found = register(sheet(cap_tested="1.1 bar"))
    assert standing(found, "cap").grade == "watch"
    assert max(risk.probability for risk in found.risks if risk.cause == "cooling-cap-not-holding") > 0.4
    assert standing(register(sheet(cap_marked=None)), "cap").state == "unknown"


def test_the_makers_limit_goes_before_the_default(register: Registers, sheet: Sheets) -> None:
    verdicts = standing(register(sheet(maker_temperature_limit="103 degC")), "plan").finding.verdicts
    (verdict,) = [v for v in verdicts if v.limit == "cooling.coolant_temperature"]
    assert verdict.origin == "maker"
    assert verdict.p_beyond > 0.5


def test_place_and_season_of_use_count(register: Registers, sheet: Sheets) -> None:
    assert standing(register(sheet(coolant_temperature="96 degC", hot_day="25 degC")), "plan").grade == "clean"
    assert celsius(register(sheet(altitude_of_use="3000 m")), "boils at") < celsius(register(sheet()), "boils at") - 2


def test_repair_and_retest_lift_the_ceiling(register: Registers, sheet: Sheets) -> None:
    days = [DAY - datetime.timedelta(days=n) for n in (3, 2, 1)]
    hot = sheet("hot", days[0], coolant_temperature=HOT)
    repair = {
        "id": "washed",
        "date": days[1],
        "what": "coolers washed",
        "treats": ["cooling-core-blocked-outside", "cooling.plan"],
    }
    assert register(hot).outcome == "hold"
    assert register(hot, repair=[repair]).outcome == "hold"
    proven = register(hot, sheet("cool", days[2], retest_of="washed"), repair=[repair])
    assert not [view for view in proven.ceilings if view.plugin == "cooling"]
    (belief,) = [b for b in proven.beliefs if b.cause == "cooling-core-blocked-outside"]
    assert belief.p < 0.05


def test_a_plan_that_burns_more_for_its_power_runs_hotter(register: Registers, sheet: Sheets) -> None:
    richer = register(sheet(), plan={**PLAN, "lambda": 0.75})
    assert celsius(richer, "settles at") >= celsius(register(sheet()), "settles at")
