"""Whole cases through the core: required rows, fading, events, repairs, and what may never improve anything."""

from __future__ import annotations

import datetime
from typing import Any

import pytest
from compression_cases import DAY, PETROL, belief, case, dry, host, leak, limits, look, register
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from loadworthy.findings import Coverage, Symptom
from loadworthy.standing import judge, severity
from loadworthy_plugins.compression import declare, examine, review, subjects

SPEC = {**PETROL, "compression_spec_min": "10 bar"}
EVEN = [13.0, 13.1, 12.9, 13.0]
BAD = [13.0, 13.1, 12.9, 8.0]


def rows(vehicle: dict[str, Any], days: int = 1, **tables: Any) -> dict[str, str]:
    found = register(vehicle, days=days, **tables)
    own = ("compression", "leak_down")
    return {row.id: row.state for row in found.rows if row.id in own}


def test_hooks_are_what_the_host_calls() -> None:
    assert len(list(declare())) > 100
    assert examine.__name__ == "examine"
    assert host().plugins[0].id == "compression"


@pytest.mark.parametrize(
    ("vehicle", "expected"),
    [
        ({}, {}),
        ({"cylinder_count": 3}, {"cylinder": 3, "bank": 1, "pair of cylinders": 2}),
        ({"cylinder_count": 4}, {"cylinder": 4}),
        ({"cylinder_count": 4, "cylinder_arrangement": "inline"}, {"cylinder": 4, "bank": 1, "pair of cylinders": 3}),
        (
            {"cylinder_count": 6, "cylinder_banks": [[1, 3, 5], [2, 4, 6]]},
            {"cylinder": 6, "bank": 2, "pair of cylinders": 4},
        ),
        # Banks that do not name every cylinder once are not believed.
        ({"cylinder_count": 6, "cylinder_banks": [[1, 3, 5], [2, 4]]}, {"cylinder": 6}),
    ],
)
def test_subjects(vehicle: dict[str, Any], expected: dict[str, int]) -> None:
    found = subjects(look({"fuel": "petrol_e10", **vehicle}).case)
    assert {kind: len(members) for kind, members in found.items()} == expected


@pytest.mark.parametrize("banks", [[[1, 2, 3, 9]], [[1, 1, 2, 3]], [[1, 2], [3]]])
def test_banks_that_do_not_fit_are_told(banks: list[list[int]]) -> None:
    told = {gap.id: gap.text for gap in register({**SPEC, "cylinder_banks": banks}).gaps}
    assert "each of the 4 cylinders once" in told["compression.cylinder_banks"]
    fit = register({**SPEC, "cylinder_banks": [[1, 2], [4, 3]]})
    assert "compression.cylinder_banks" not in [gap.id for gap in fit.gaps]


def test_a_cylinder_that_is_no_number_is_told() -> None:
    sheet = dry(EVEN)
    sheet["dry_reading"] = {**sheet["dry_reading"], "four": "12 bar"}
    assert "cylinder four named" in " ".join(advice.text for advice in register(SPEC, compression=[sheet]).advice)


def test_rows_of_required_evidence() -> None:
    assert rows(SPEC) == {"compression": "absent", "leak_down": "absent"}
    both = {"compression": [dry(EVEN)], "leak_down": [leak([5, 5, 5, 5])]}
    assert rows(SPEC, **both) == {"compression": "met", "leak_down": "met"}
    assert rows(SPEC, compression=[{"date": DAY, "timing_marks": "verified"}])["compression"] == "unknown"
    # A fault is an answer too.
    assert rows(SPEC, compression=[dry(BAD)])["compression"] == "met"
    without_count = {key: value for key, value in SPEC.items() if key != "cylinder_count"}
    assert rows(without_count, compression=[dry(EVEN)])["compression"] == "unknown"


def test_an_unknown_session_supersedes_no_good_one() -> None:
    later = dry(EVEN, day=5, throttle_state="closed")
    assert rows(SPEC, days=6, compression=[dry(EVEN), later])["compression"] == "met"


def test_evidence_grows_stale_and_any_event_ends_it() -> None:
    # Half-life 90 days and 2 500 km; stale after two.
    assert any(g.id == "compression" for g in register(SPEC, days=200, compression=[dry(EVEN)]).gaps)
    assert not any(g.id == "compression" for g in register(SPEC, days=50, compression=[dry(EVEN)]).gaps)
    event = {"kind": "overheating", "date": DAY + datetime.timedelta(days=2)}
    ended = register(SPEC, days=3, compression=[dry(EVEN)], event=[event])
    assert any(g.id == "compression" for g in ended.gaps)
    assert belief(ended, "ring-seal", "cylinder 1").net == 0.0
    before = register(SPEC, days=3, compression=[dry(EVEN)])
    assert belief(before, "ring-seal", "cylinder 1").net < 0.0


def test_accusing_weight_does_not_fade() -> None:
    fresh, old = (register(SPEC, days=d, compression=[dry(BAD)]) for d in (1, 300))
    assert belief(old, "ring-seal", "cylinder 4").p == pytest.approx(belief(fresh, "ring-seal", "cylinder 4").p)


def test_a_repair_with_clean_retest_releases_the_cylinder() -> None:
    repair = {
        "id": "r1",
        "date": DAY + datetime.timedelta(days=10),
        "what": "exhaust valve ground",
        "treats": ["exhaust-valve-seal@cylinder 4", "compression.balance", "compression.absolute"],
    }
    tables: dict[str, Any] = {
        "compression": [dry(BAD), dry(EVEN, day=12, retest_of="r1")],
        "leak_down": [leak([5, 5, 5, 5], day=12, retest_of="r1")],
        "repair": [repair],
    }
    repaired = register(SPEC, days=13, **tables)
    assert belief(repaired, "exhaust-valve-seal", "cylinder 4").p < 0.01
    unproven = register(SPEC, days=13, compression=[dry(BAD)], repair=[repair])
    assert belief(unproven, "exhaust-valve-seal", "cylinder 4").p == pytest.approx(0.15, abs=0.01)
    # Measured again without a repair: milder by one step, not gone.
    again = register(SPEC, days=13, compression=[dry(BAD), dry(EVEN, day=12)])
    carried = [s for s in again.standings if s.state == "carried" and s.finding.rule == "compression.balance"]
    assert [s.grade for s in carried] == ["fix_first"]


def test_a_stop_holds_the_case_and_a_watch_does_not() -> None:
    bad = register(SPEC, days=1, compression=[dry(BAD)])
    assert bad.outcome == "hold"
    stops = [s.id for s in bad.standings if s.grade == "stop"]
    assert any("balance@cylinder 4" in id for id in stops)
    watch = register(SPEC, days=1, compression=[dry([13.0, 13.1, 12.9, 12.0])])
    assert watch.outcome != "hold"
    assert not [s.id for s in watch.standings if severity(s.grade) >= severity("fix_first")]


def test_good_power_or_not_a_sound_engine_leaves_ring_lands_open() -> None:
    tables = {"compression": [dry(EVEN)], "leak_down": [leak([5, 5, 5, 5])]}
    found = register(SPEC, days=1, **tables)
    land, rings = (belief(found, c, "cylinder 1") for c in ("piston-or-ring-land-broken", "ring-seal"))
    assert rings.net == pytest.approx(-10.0, abs=0.7)
    assert land.net > -9.5


def test_no_result_is_refused_by_the_host() -> None:
    # Every kind of sheet at once; ``register`` fails on any refused result.
    heard = {"1": ["none_heard"], "2": ["cylinder_1", "oil_filler"], "3": ["intake", "exhaust"], "4": ["coolant"]}
    scope = {"1": ["clean", "port_coated"], "2": ["liquid", "carbon", "land_broken"], "3": ["scored"]}
    sheet = dry(
        [12.0, 9.0, 8.9, 14.5],
        wet_reading={"1": "13.2 bar", "2": "9.4 bar", "3": "11.9 bar"},
        oil_volume="5 mL",
        test_order=[1, 2, 3, 4],
        repeat_reading={"1": "11.8 bar"},
        first_puff_reading={"1": "8 bar", "2": "4 bar", "3": "6 bar", "4": "9 bar"},
        second_gauge_reading={"1": "12.1 bar"},
        borescope=scope,
        cam_lift={"3": "low"},
        valve_clearance={"2": "tight"},
        running_compression={"3": "low"},
        timing_marks="off",
        after_warm_run={"2": "still_low"},
        piston_height={"1": "0.5 mm", "2": "1.5 mm"},
    )
    vehicle = {
        **SPEC,
        "compression_spec_nominal": "12 bar",
        "compression_spec_max_difference": "1 bar",
        "deactivation_set": [2, 3],
        "knock_history": True,
    }
    found = register(
        vehicle,
        days=1,
        compression=[sheet, dry([0, 0, 0, 0], day=1)],
        leak_down=[leak([5, 60, 70, 99.9], leak_escape=heard)],
    )
    assert found.outcome == "hold"


def test_a_misfire_on_a_sound_cylinder_is_a_contradiction() -> None:
    tables = {"compression": [dry(EVEN)], "leak_down": [leak([5, 5, 5, 30])]}
    view = look(SPEC, **tables)
    results = view.results
    misfires = [Symptom("misfire-one-cylinder", "other.rule", "", 1.0, f"cylinder {n}") for n in (1, 4)]
    assert [(a.subject, "valve springs" in a.text) for a in review(view.case, (*results, *misfires))] == [
        ("cylinder 1", True)
    ]
    assert list(review(view.case, results)) == []


V6 = {**SPEC, "cylinder_count": 6, "displacement": "2997 cm3", "cylinder_arrangement": "vee"}
V6["cylinder_banks"] = [[1, 3, 5], [2, 4, 6]]


@pytest.mark.parametrize("symptom", ["trim-lean-at-idle", "trim-lean-with-flow", "trim-uniform-lean"])
def test_a_lean_bank_with_air_at_the_intake_is_valve_or_manifold(symptom: str) -> None:
    # "Lean on one bank + intake escape -> intake valve or manifold leak" (judgement).
    heard = {"leak_escape": {"3": ["intake"], "4": ["exhaust"]}}
    view = look(V6, leak_down=[leak([5, 5, 30, 30, 5, 5], **heard)])
    lean = {bank: Symptom(symptom, "other.trim", "", 0.9, f"bank {bank}") for bank in (1, 2)}
    found = list(review(view.case, (*view.results, lean[1])))
    assert [a.subject for a in found] == ["cylinder 3"]
    assert "manifold" in found[0].text
    # The other bank's air went elsewhere; a trim that is hardly seen, or no trim at all, contradicts nothing.
    assert list(review(view.case, (*view.results, lean[2]))) == []
    faint = Symptom(symptom, "other.trim", "", 0.3, "bank 1")
    assert list(review(view.case, (*view.results, faint))) == []
    # In line there is one bank, and nobody names it.
    four = look(SPEC, leak_down=[leak([5, 5, 30, 5], leak_escape={"3": ["intake"]})])
    whole = Symptom(symptom, "other.trim", "", 0.9)
    assert [a.subject for a in review(four.case, (*four.results, whole))] == ["cylinder 3"]
    # Mended and heard no more.
    silent = leak([5, 5, 5, 5], day=20, leak_escape={"3": ["none_heard"]})
    four = look(SPEC, leak_down=[leak([5, 5, 30, 5], leak_escape={"3": ["intake"]}), silent])
    assert list(review(four.case, (*four.results, whole))) == []


def test_of_equal_sheets_of_one_day_the_name_decides_and_not_the_unit() -> None:
    # 76.46 psi and the same in another unit differ in the last bits only.
    psi = {"1": "76.46 psi", "2": "77.57 psi", "3": "76.64 psi", "4": "76.83 psi"}
    pascal = {n: f"{float(v.split()[0]) * 6894.757293168361!r} Pa" for n, v in psi.items()}
    mercury = {n: f"{float(v.split()[0]) * 6894.757293168361 / 133.322387415!r} mmHg" for n, v in psi.items()}
    for one in (psi, pascal, mercury):
        for other in (psi, pascal, mercury):
            sheets = [leak([5] * 4, id="a", leak_cylinder=one), leak([5] * 4, id="b", leak_cylinder=other)]
            found = register(SPEC, leak_down=sheets)
            governing = {s.finding.sheet for s in found.standings if s.finding.sheet and s.state == "governs"}
            assert governing == {"b"}


# Invariants ---------------------------------------------------------------------------------------------------------

readings = st.lists(st.integers(60, 150).map(lambda x: x / 10), min_size=4, max_size=4)
vehicles = st.sampled_from([PETROL, SPEC, {**PETROL, "compression_spec_nominal": "13 bar"}])
_SLOW = {"deadline": None, "suppress_health_check": [HealthCheck.too_slow]}


def worst(view: Any) -> int:
    """Return the severity of the engine by everything that judges dry readings."""
    grades = [severity(judge("compression", r).grade) for r in view.results if hasattr(r, "verdicts")]
    return max(grades, default=0)


@settings(max_examples=40, **_SLOW)
@given(vehicles, readings, st.permutations([0, 1, 2, 3]))
def test_names_of_the_cylinders_do_not_change_the_engines_verdict(
    vehicle: dict[str, Any], values: list[float], order: list[int]
) -> None:
    # Without a layout no cylinder is special.
    plain = {key: value for key, value in vehicle.items() if key != "cylinder_arrangement"}
    one = look(plain, compression=[dry(values)])
    other = look(plain, compression=[dry([values[i] for i in order])])
    assert worst(one) == worst(other)
    for place, i in enumerate(order, 1):
        assert one.grade("balance", f"cylinder {i + 1}") == other.grade("balance", f"cylinder {place}")


@settings(max_examples=40, **_SLOW)
@given(readings, st.integers(0, 3), st.floats(0.2, 0.95))
def test_against_a_makers_value_a_lower_reading_never_improves_its_cylinder(
    values: list[float], index: int, share: float
) -> None:
    vehicle = {**PETROL, "compression_spec_nominal": "15 bar", "compression_spec_min": "6 bar"}
    lower = list(values)
    lower[index] = round(lower[index] * share, 3)
    subject = f"cylinder {index + 1}"
    before, after = look(vehicle, compression=[dry(values)]), look(vehicle, compression=[dry(lower)])
    for rule in ("balance", "absolute"):
        one, other = (judge("compression", v.finding(rule, subject)) for v in (before, after))
        assert severity(other.grade) >= severity(one.grade)


@settings(max_examples=30, **_SLOW)
@given(st.lists(st.integers(2, 60), min_size=4, max_size=4), st.integers(0, 3), st.integers(1, 35))
def test_a_larger_leak_never_improves_anything(losses: list[int], index: int, more: int) -> None:
    worse = list(losses)
    worse[index] += more
    before, after = look(SPEC, leak_down=[leak(losses)]), look(SPEC, leak_down=[leak(worse)])
    for n in range(1, 5):
        one, other = (judge("compression", v.finding("leak_area", f"cylinder {n}")) for v in (before, after))
        assert severity(other.grade) >= severity(one.grade)
    found = [register(SPEC, leak_down=[leak(x)]) for x in (losses, worse)]
    for cause in ("ring-seal", "exhaust-valve-seal", "intake-valve-seal", "piston-or-ring-land-broken"):
        for n in range(1, 5):
            one, other = (belief(f, cause, f"cylinder {n}") for f in found)
            assert other.p >= one.p - 1e-12


@settings(max_examples=25, **_SLOW)
@given(vehicles, readings, st.sampled_from(sorted(dry(EVEN).keys() - {"date", "dry_reading"})))
def test_leaving_out_a_condition_never_clears_more(vehicle: dict[str, Any], values: list[float], field: str) -> None:
    full, less = look(vehicle, compression=[dry(values)]), look(vehicle, compression=[dry(values, **{field: None})])
    for n in range(1, 5):
        one, other = full.grade("balance", f"cylinder {n}"), less.grade("balance", f"cylinder {n}")
        if one != "clean":
            assert other != "clean"
    assert less.covered().state != "met" or full.covered().state == "met"


numbers = st.integers(1, 9).map(str)


def by_cylinder(values: st.SearchStrategy[Any]) -> st.SearchStrategy[dict[str, Any]]:
    return st.dictionaries(numbers, values, max_size=9)


pressures = st.one_of(st.just("0 bar"), st.integers(1, 490).map(lambda x: f"{x / 10} bar"))
dry_sheets = st.fixed_dictionaries(
    {"date": st.just(DAY)},
    optional={
        "dry_reading": by_cylinder(pressures),
        "repeat_reading": by_cylinder(pressures),
        "first_puff_reading": by_cylinder(pressures),
        "wet_reading": by_cylinder(pressures),
        "second_gauge_reading": by_cylinder(pressures),
        "oil_volume": st.sampled_from(["3 mL", "60 mL"]),
        "hose_volume": st.just("15 mL"),
        "test_order": st.permutations([1, 2, 3, 4]),
        "gauge_zero_error": st.sampled_from(["-0.3 bar", "0.4 bar"]),
        "cranking_speeds": by_cylinder(st.sampled_from(["140 rpm", "250 rpm"])),
        "throttle_state": st.sampled_from(["wide_open", "closed", "none"]),
        "altitude": st.sampled_from(["0 m", "3000 m"]),
        "piston_height": by_cylinder(st.sampled_from(["0.1 mm", "2 mm"])),
        "after_warm_run": by_cylinder(st.sampled_from(["recovered", "still_low"])),
        "cranking_speed": st.sampled_from(["40 rpm", "700 rpm"]),
    },
)
leak_sheets = st.fixed_dictionaries(
    {"date": st.just(DAY)},
    optional={
        "leak_supply": st.sampled_from(["80 psi", "1 bar", "6 bar"]),
        "leak_cylinder": by_cylinder(st.sampled_from(["0 bar", "0.5 bar", "1 bar", "5 bar", "6 bar", "12 bar"])),
        "leak_percent": by_cylinder(st.sampled_from(["0 %", "12 %", "99.9 %", "100 %"])),
        "leak_orifice_diameter": st.sampled_from(["0.5 mm", "3 mm"]),
        "known_jet_reading": st.sampled_from(["0 bar", "1 bar", "4 bar"]),
        "leak_escape": by_cylinder(
            st.lists(st.sampled_from(["intake", "coolant", "outside", "cylinder_2", "none_heard"]))
        ),
        "leak_tdc_held": st.booleans(),
    },
)
engines = st.fixed_dictionaries(
    {},
    optional={
        "fuel": st.sampled_from(["petrol_e5", "diesel_b7", "cng"]),
        "cylinder_count": st.sampled_from([1, 2, 3, 4, 8]),
        "displacement": st.just("1998 cm3"),
        "bore": st.just("86 mm"),
        "stroke": st.just("86 mm"),
        "rod_length": st.sampled_from(["50 mm", "143 mm"]),
        "compression_ratio": st.sampled_from([5.0, 10.0, 25.0]),
        "intake_closing": st.sampled_from(["-40 deg", "50 deg", "140 deg"]),
        "intake_closing_basis": st.sampled_from(["seat", "1mm", "unknown"]),
        "cylinder_banks": st.sampled_from([[[1, 3], [2, 4]], [[1, 2, 3, 4]], [[9]], [[1, 1, 2, 3]]]),
        "deactivation_set": st.just([2, 3]),
        "compression_spec_min": st.just("10 bar"),
        "compression_spec_nominal": st.just("13 bar"),
        "run_in_complete": st.booleans(),
        "engine_rebuilt": st.booleans(),
        "coolant_loss": st.booleans(),
        "short_trips": st.booleans(),
        "firing_order": st.sampled_from([[1, 3, 4, 2], [1, 1]]),
        "gearbox_type": st.sampled_from(["manual", "dual_clutch_dry"]),
        "highest_logged_speed": st.sampled_from(["5000 rpm", "9000 rpm"]),
        "engine_speed_limit": st.just("6500 rpm"),
    },
)


@settings(max_examples=150, **_SLOW)
@given(engines, st.lists(dry_sheets, max_size=2), st.lists(leak_sheets, max_size=2))
def test_whatever_a_case_holds_the_check_runs_and_nothing_is_refused(
    vehicle: dict[str, Any], sheets: list[dict[str, Any]], leaks: list[dict[str, Any]]
) -> None:
    tables = {
        name: [{**sheet, "id": f"{name}-{i}"} for i, sheet in enumerate(found)]
        for name, found in (("compression", sheets), ("leak_down", leaks))
        if found
    }
    made = case(vehicle or {"fuel": "petrol_e5"}, **tables)
    run = host().examine(made, None, limits())
    assert run.failures == ()
    assert {r.row for _, r in run.values if isinstance(r, Coverage)} == {"compression", "leak_down"}
