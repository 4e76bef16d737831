"""Grades and ceilings of codes by severity and status, what proves a code gone, and codes without a family."""

from __future__ import annotations

import datetime
from typing import Any

import pytest
from memory_cases import DAY, EMPTY, OLD, clean, engine, register, sheet, view, with_codes

STOP, FIX, CAP, NOTE = "p0087", "p0171", "p0128", "p0441"
CODE = {STOP: "P0087", FIX: "P0171", CAP: "P0128", NOTE: "P0442"}
#: Status byte by exponent.
STATUS = {1.0: "2F", 0.85: "88", 0.7: "08", 0.5: "64", 0.35: "20"}


def status(code: str, s: float, **fields: Any) -> dict[str, Any]:
    return sheet(stored=[{"code": code, "status": STATUS[s]}], answers=[{"pending": "empty"}], **fields)


def on(days: int, one: dict[str, Any]) -> dict[str, Any]:
    return {**one, "date": DAY + datetime.timedelta(days)}


def standings(rule: str, *sheets: dict[str, Any], days: int = 90, **more: Any) -> list[tuple[str, str | None]]:
    """Return state and grade of every standing of a rule in order of the sheets."""
    found = register(*sheets, as_of=DAY + datetime.timedelta(days), **more)
    own = [one for one in found.standings if one.finding.rule == f"fault_memory.{rule}"]
    return [(one.state, one.grade) for one in sorted(own, key=lambda one: one.finding.sheet)]


# Grades --------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("s", [1.0, 0.85, 0.7, 0.5])
@pytest.mark.parametrize(
    ("id", "grade", "ceiling"),
    [(STOP, "stop", False), (FIX, "fix_first", True), (CAP, "watch", True), (NOTE, "note", False)],
)
def test_from_a_pending_code_on_the_severity_holds_in_full(id: str, grade: str, ceiling: bool, s: float) -> None:
    seen = view(status(CODE[id], s))
    assert seen.grade(id) == grade
    assert bool(seen.ceilings(f"code_{id}")) is ceiling
    assert seen.one(id).steps[0].value == s


@pytest.mark.parametrize(
    ("id", "grade", "ceiling"),
    [(STOP, "fix_first", True), (FIX, "note", False), (CAP, "note", False), (NOTE, "note", False)],
)
def test_below_a_pending_code_it_is_one_step_milder(id: str, grade: str, ceiling: bool) -> None:
    seen = view(status(CODE[id], 0.35))
    assert seen.grade(id) == grade
    assert bool(seen.ceilings(f"code_{id}")) is ceiling
    if ceiling:
        assert [(one.quantity, one.value) for one in seen.ceilings(f"code_{id}")] == [("torque", "as_received")]


def test_a_worse_status_never_improves_anything() -> None:
    order = ("note", "watch", "fix_first", "stop")
    for id, code in CODE.items():
        grades = [order.index(str(view(status(code, s)).grade(id))) for s in sorted(STATUS)]
        assert grades == sorted(grades)
    ratios = [view(status("P0171", s)).ratio("intake-leak-after-throttle") for s in sorted(STATUS)]
    assert ratios == sorted(ratios)
    assert ratios[-1] == pytest.approx(4.0)


def test_several_codes_the_worst_severity_and_all_ceilings() -> None:
    seen = view(with_codes(("P0171", "P0128", "P0219")))
    assert {"code_p0171", "code_p0128", "code_p0219"} <= seen.ceiling_names
    found = register(with_codes(("P0171", "P0087")))
    assert found.outcome == "hold"


def test_a_stop_code_holds_the_case() -> None:
    assert register(with_codes(("P0087",), **OLD)).outcome == "hold"
    assert register(clean()).outcome != "hold"


def test_the_text_names_state_units_place_and_what_load_does() -> None:
    text = view(with_codes(("P0303",))).one("p0301", "cylinder 3").text
    assert text.startswith("P0303 confirmed (engine): misfire on cylinder 3; at higher load: ")


# Gone, or only not back ----------------------------------------------------------------------------------------------


def _gone(one: dict[str, Any], first: dict[str, Any] | None = None, rule: str = FIX) -> str:
    """Return why a code of an earlier sheet is not proven gone by this one; empty: it is."""
    seen = view(on(-30, first or with_codes((CODE.get(rule, "P0171"),))), one)
    (found,) = [each for each in seen.all(rule) if each.sheet.startswith(f"fault_memory:{DAY.isoformat()}")]
    assert bool(found.unknown) is not bool(found.verdicts)
    return found.unknown


def test_a_settled_whole_reading_proves_it_gone() -> None:
    assert _gone(clean()) == ""
    seen = view(on(-30, with_codes(("P0171",))), clean())
    assert sorted(one.verdicts[0].p_beyond for one in seen.all(FIX)) == [0.0, 1.0]


@pytest.mark.parametrize(
    ("fields", "why"),
    [
        ({"answers": [{**EMPTY[0], "stored": "silent"}]}, "stored codes were not read"),
        ({"answers": [{**EMPTY[0], "pending": "not_asked"}]}, "pending codes were not read"),
        ({"answers": [{**EMPTY[0], "permanent": "not_asked"}]}, "permanent codes were not read"),
        ({"answers": [{**EMPTY[0], "permanent": "silent"}]}, "permanent codes were not read"),
        ({"read_before_clear": "no"}, "erased before"),
        ({"warm_ups_since_clear": 9}, "partial"),
        ({"warm_ups_since_clear": 1}, "recent: erasing a code is no repair"),
        ({"monitor_status": [{"since_clear": "00 27 65 00"}]}, "its monitor has not been completed"),
        ({"monitor_status": None}, "partial"),
        ({"test_results": [{"monitor": "ZZ", "test": "01", "value": "00 01"}]}, "a part of the reading is lost"),
    ],
)
def test_what_does_not_prove_it_gone(fields: dict[str, Any], why: str) -> None:
    assert why in _gone(clean(**fields))


def test_a_refusal_of_permanent_codes_is_an_answer() -> None:
    assert _gone(clean(answers=[{**EMPTY[0], "permanent": "refused"}])) == ""


@pytest.mark.parametrize(("value", "why"), [("00 4B", "margin of 0.25 only"), ("00 4A", ""), ("00 64", "0.00 only")])
def test_a_test_that_passes_only_just_does_not_prove_it_gone(value: str, why: str) -> None:
    row = {"monitor": "21", "test": "01", "scaling": "24", "value": value, "min": "00 00", "max": "00 64"}
    found = _gone(clean(test_results=[row]), with_codes(("P0420",)), "p0420")
    assert (why in found) if why else found == ""


def test_a_test_that_never_ran_does_not_prove_it_gone() -> None:
    row = {"monitor": "21", "test": "01", "scaling": "24", "value": "00 00", "min": "00 00", "max": "00 00"}
    assert _gone(clean(test_results=[row]), with_codes(("P0420",)), "p0420")


def test_the_permanent_code_alone_keeps_it() -> None:
    lists = clean(permanent=[{"code": "P0171"}])
    seen = view(on(-30, with_codes(("P0171",))), lists)
    assert len([one for one in seen.all(FIX) if one.verdicts and one.verdicts[0].p_beyond == 1.0]) == 2


def test_the_unit_that_held_it_must_be_read_again() -> None:
    gearbox = sheet(stored=[{"code": "U0100", "unit": "gearbox"}])
    assert "the gearbox unit, which held it, was not read" in _gone(clean(), gearbox, "u0073")
    both = [*EMPTY, {"unit": "gearbox", "stored": "empty"}]
    assert _gone(clean(answers=both), gearbox, "u0073") == ""
    silent = [*EMPTY, {"unit": "gearbox", "stored": "silent"}]
    assert "gearbox unit" in _gone(clean(answers=silent), gearbox, "u0073")


def test_a_clean_sheet_before_the_code_came_says_nothing_now() -> None:
    assert standings(FIX, on(-30, clean()), with_codes(("P0171",)))[-1] == ("governs", "fix_first")


def test_erasing_a_code_is_no_repair() -> None:
    erased = clean(warm_ups_since_clear=0, distance_since_clear="3 km", time_since_clear="5 min")
    assert standings(FIX, with_codes(("P0171",)), on(1, erased)) == [("governs", "fix_first"), ("unknown", None)]


def test_one_clean_reading_makes_it_milder_two_of_different_days_heal() -> None:
    first = with_codes(("P0171",))
    assert standings(FIX, first, on(10, clean())) == [("carried", "watch"), ("governs", "clean")]
    same_day = standings(FIX, first, on(10, clean()), on(10, clean(warm_ups_since_clear=61)))
    assert same_day[0] == ("carried", "watch")
    assert standings(FIX, first, on(10, clean()), on(20, clean()))[0][0] == "history"


def test_a_repair_and_one_clean_reading_heal() -> None:
    repair = [{
        "id": "r1", "date": DAY + datetime.timedelta(5), "what": "gasket renewed",
        "treats": ["intake-leak-after-throttle"],
    }]  # fmt: skip
    first = with_codes(("P0171",))
    assert standings(FIX, first, on(10, clean()), repair=repair)[0][0] == "history"
    young = clean(warm_ups_since_clear=2)
    assert standings(FIX, first, on(10, young), repair=repair)[0] == ("governs", "fix_first")


# Patterns over time --------------------------------------------------------------------------------------------------


def test_a_pattern_goes_with_its_codes() -> None:
    first = with_codes(("P0171", "P0300"), ("P0171", "P0300"))
    rule = "pattern-lean-and-several-misfires"
    assert standings(rule, first) == [("governs", "note")]
    assert standings(rule, first, on(10, clean()), on(20, clean()))[0][0] == "history"
    assert standings(rule, first, on(10, clean()))[0] == ("carried", "note")
    young = clean(warm_ups_since_clear=2)
    assert standings(rule, first, on(10, young)) == [("governs", "note"), ("unknown", None)]
    open_monitor = clean(monitor_status=[{"since_clear": "00 17 65 00"}])
    assert standings(rule, first, on(10, open_monitor)) == [("governs", "note"), ("unknown", None)]


def test_a_pattern_that_cannot_be_told_any_more_is_not_gone() -> None:
    first = with_codes(("P0301",), ("P0301",), loads_at_misfire="load_only", **OLD)
    later = with_codes(("P0301",), ("P0301",), **OLD)
    assert standings("pattern-misfire-at-load-only", first, on(10, later)) == [("governs", "note")]


# Codes without a family ----------------------------------------------------------------------------------------------

UNLISTED = [
    # Code, unit, exponent: grade, whether torque is held, what is said.
    ("P0171", None, 0.5, "note", True, "of another fuel"),  # on the diesel below
    ("P0999", None, 0.5, "note", True, "not in the table"),
    ("P0999", None, 0.35, "note", False, "not in the table"),
    ("P2999", None, 0.85, "note", True, "not in the table"),
    ("P3400", None, 0.5, "note", True, "not in the table"),
    ("P1234", None, 0.5, "fix_first", True, "maker's own"),
    ("P1234", None, 0.35, "note", False, "maker's own"),
    ("P3000", None, 1.0, "fix_first", True, "maker's own"),
    ("P33FF", None, 0.5, "fix_first", True, "maker's own"),
    ("P0999", "gearbox", 0.5, "fix_first", True, "gearbox"),
    ("C0123", "gearbox", 0.5, "fix_first", True, "gearbox"),
    ("U0999", "gearbox", 0.5, "fix_first", True, "gearbox"),
    ("P0999", "gearbox", 0.35, "note", False, "gearbox"),
    ("U0999", None, 0.7, "note", True, "supply and grounds first"),
    ("U0999", None, 0.5, "note", False, "supply and grounds first"),
    ("U3FFF", None, 0.85, "note", True, "supply and grounds first"),
    ("C0123", None, 1.0, "note", False, "brakes or body"),
    ("C1234", None, 1.0, "note", False, "brakes or body"),
    ("B0123", None, 1.0, "note", False, "brakes or body"),
    ("B3123", None, 1.0, "note", False, "read again"),
    ("C3123", None, 1.0, "note", False, "read again"),
]


@pytest.mark.parametrize(("code", "unit", "s", "grade", "held", "said"), UNLISTED)
def test_a_code_without_a_family(code: str, unit: str | None, s: float, grade: str, held: bool, said: str) -> None:
    row = {"code": code, "status": STATUS[s], **({"unit": unit} if unit else {})}
    seen = view(sheet(stored=[row]), vehicle=engine(fuel="diesel_b7"))
    finding = seen.one("unlisted")
    assert seen.grade("unlisted") == grade
    assert bool(seen.ceilings("code_unlisted")) is held
    assert said in finding.text
    assert code in finding.text
    gap = seen.gaps[f"code_meaning:{code}"]
    assert gap.required
    assert 'treats = ["fault_memory.unlisted"]' in gap.write


def test_two_units_that_miss_another_one() -> None:
    rows = [{"code": "U0999"}, {"code": "U0999", "unit": "brakes"}]
    assert "find the silent one" in view(sheet(stored=rows)).one("unlisted").text
    assert "find the silent one" not in view(sheet(stored=rows[:1])).one("unlisted").text


def test_a_maker_s_ceiling_is_standard_or_as_received() -> None:
    vehicle = engine(standard_torque={"2000 rpm": "300 N m", "5000 rpm": "280 N m"})
    seen = view(sheet(stored=[{"code": "P1234"}]), vehicle=vehicle)
    assert [one.value for one in seen.ceilings("code_unlisted")] == ["as_received"]
    assert [one.value for one in seen.ceilings("code_unlisted_standard")] == ["standard"]


def test_a_code_of_unknown_meaning_bars_clear() -> None:
    found = register(sheet(stored=[{"code": "B0123"}]))
    assert "code_meaning:B0123" in {gap.id.rpartition(".")[2] for gap in found.gaps}


def _open(*sheets: dict[str, Any], **more: Any) -> bool:
    return "code_meaning:P1234" in view(*sheets, as_of=DAY + datetime.timedelta(90), **more).gaps


def test_a_code_of_unknown_meaning_is_closed_as_other_faults_are() -> None:
    first = with_codes(("P1234",))
    assert _open(first)
    assert _open(first, on(10, clean()))
    assert not _open(first, on(10, clean()), on(20, clean()))
    assert _open(first, on(10, clean()), on(20, clean(warm_ups_since_clear=1)))
    assert _open(first, on(10, clean()), on(20, with_codes(("P1234",), **OLD)))
    assert _open(on(30, first), on(10, clean()), on(20, clean()))


def test_a_repair_closes_it_with_one_clean_reading_after_it() -> None:
    def repair(day: int, **more: Any) -> list[dict[str, Any]]:
        date = DAY + datetime.timedelta(day)
        return [{"id": "r", "date": date, "what": "valve renewed", "treats": ["fault_memory.unlisted"], **more}]

    first = with_codes(("P1234",))
    assert not _open(first, on(10, clean()), repair=repair(5))
    assert _open(first, on(10, clean()), repair=repair(15))
    assert _open(first, on(10, clean()), repair=repair(-5))
    assert _open(first, on(10, clean()), repair=repair(5, treats=["intake-leak-after-throttle"]))
    assert _open(first, on(10, clean(warm_ups_since_clear=1)), repair=repair(5))


def test_the_finding_of_unlisted_codes_heals_like_any_other() -> None:
    first = with_codes(("P1234",))
    assert standings("unlisted", first, on(10, clean()))[0] == ("carried", "watch")
    assert standings("unlisted", first, on(10, clean()), on(20, clean()))[0][0] == "history"
    young = clean(warm_ups_since_clear=1)
    assert standings("unlisted", first, on(10, young)) == [("governs", "fix_first"), ("unknown", None)]
    gearbox = sheet(stored=[{"code": "P1234", "unit": "gearbox"}])
    assert standings("unlisted", gearbox, on(10, clean()))[0] == ("governs", "fix_first")
