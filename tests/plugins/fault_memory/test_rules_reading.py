"""The reading as a whole: age, reporting, provocation, lamp, readiness, margins, misfires, trims of banks."""

from __future__ import annotations

import datetime
from typing import Any

import pytest
from memory_cases import DAY, EMPTY, OLD, SIX, clean, engine, host, register, sheet, view, with_codes

CLEARED, CHANGED = "memory-recently-cleared", "hardware-or-calibration-changed-before"
SHORT = {"time_since_clear": "30 min"}
READY, HALF, LESS = "00 07 65 00", "00 07 65 05", "00 07 65 45"  # complete: 4, 2 and 1 of 4


def status(since_clear: str, **more: str) -> list[dict[str, str]]:
    return [{"since_clear": since_clear, **more}]


def on(days: int, one: dict[str, Any]) -> dict[str, Any]:
    return {**one, "date": DAY + datetime.timedelta(days)}


def ratio(rule: str, band: str, cause: str) -> float:
    return host().catalogue.rules[f"fault_memory.{rule}"].bands[band][cause]


# Age of the memory ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fields", "band", "lr"),
    [
        # m1: at most one warm-up and less than 20 km.
        ({"warm_ups_since_clear": 1, "distance_since_clear": "19 km", **SHORT}, "erased_just_now", 40.0),
        ({"warm_ups_since_clear": 1, "distance_since_clear": "20 km", **SHORT}, "recent_complete", 4.0),
        ({"warm_ups_since_clear": 2, "distance_since_clear": "19 km", **SHORT}, "recent_complete", 4.0),
        # m2, m3: exposure below 0.3, monitors open or complete.
        ({"warm_ups_since_clear": 2, "monitor_status": status(HALF)}, "recent_not_complete", 15.0),
        ({"warm_ups_since_clear": 2}, "recent_complete", 4.0),
        # m7: settled.
        ({}, "settled", 0.05),
    ],
)
def test_age_by_counters(fields: dict[str, Any], band: str, lr: float) -> None:
    seen = view(clean(**fields))
    assert dict(seen.one("memory_age").bands) == {band: 1.0}
    assert ratio("memory_age", band, CLEARED) == lr
    assert seen.grade("memory_age") == ("clean" if band == "settled" else "watch")


def test_exposure_of_exactly_three_tenths_is_not_recent() -> None:
    assert view(clean(warm_ups_since_clear=3)).one("memory_age").unknown


@pytest.mark.parametrize(
    ("monitors", "band"), [(LESS, "no_counters_not_complete"), (HALF, None), (READY, None), (None, None)]
)
def test_age_without_counters(monitors: str | None, band: str | None) -> None:  # m4: below one half
    finding = view(sheet(answers=EMPTY, monitor_status=status(monitors) if monitors else None)).one("memory_age")
    assert dict(finding.bands) == ({band: 1.0} if band else {})
    assert bool(finding.unknown) is (band is None)
    assert ratio("memory_age", "no_counters_not_complete", CLEARED) == 6.0


@pytest.mark.parametrize(
    ("changed", "fires"),
    [
        ({}, True),
        ({"lamp": "unknown"}, True),  # by the lamp bit
        ({"lamp": "on"}, False),
        ({"lamp": "unknown", "monitor_status": status("80 07 65 00")}, False),
        ({"pending": [{"code": "P0442"}]}, False),
        ({"answers": [{**EMPTY[0], "stored": "silent"}]}, False),
        ({"permanent": []}, False),
    ],
)
def test_a_permanent_code_alone_was_erased_by_hand(changed: dict[str, Any], fires: bool) -> None:  # m5
    finding = view(clean(**{"permanent": [{"code": "P0420"}], "lamp": "off", **changed})).one("memory_age")
    assert dict(finding.bands) == ({"permanent_alone": 1.0} if fires else {"settled": 1.0})
    assert ratio("memory_age", "permanent_alone", CLEARED) == 20.0


@pytest.mark.parametrize("permanent", ["50", "2F"])
def test_a_permanent_status_list_says_so_too(permanent: str) -> None:
    raw = f"7E8 02 43 00\n7E8 02 47 00\n7E8 07 59 15 FF 04 20 00 {permanent}"
    found = view(sheet(raw_replies=raw, lamp="off", **OLD)).one("memory_age")
    assert dict(found.bands) == {"permanent_alone": 1.0}


def test_only_the_strongest_sign_of_erasing_counts() -> None:
    fields = {"warm_ups_since_clear": 1, "distance_since_clear": "12 km", "monitor_status": status(LESS), **SHORT}
    seen = view(clean(permanent=[{"code": "P0420"}], **fields))
    assert dict(seen.one("memory_age").bands) == {"erased_just_now": 1.0}


@pytest.mark.parametrize(
    ("then", "now", "driven", "fell"),
    [
        ("1000 km", "1899 km", 1000, True),  # 0.9 of the odometer's difference
        ("1000 km", "1901 km", 1000, False),
        ("1000 km", "500 km", 0, True),
        ("1000 km", "1000 km", 0, False),
        ("65535 km", "65535 km", 5000, False),  # the counter holds
    ],
)
def test_a_distance_that_fell_shows_a_clear_between(then: str, now: str, driven: int, fell: bool) -> None:  # m6
    open_time = {"time_since_clear": None}
    first = on(-30, clean(distance_since_clear=then, odometer="100000 km", **open_time))
    # Not settled: once it is, an erasure is no gap any more.
    open_time["warm_ups_since_clear"] = 9
    second = clean(distance_since_clear=now, odometer=f"{100_000 + driven} km", **open_time)
    findings = {one.sheet: one for one in view(first, second).all("memory_age")}
    bands = [dict(one.bands) for one in findings.values()]
    assert ({"known": 1.0} in bands) is fell
    assert ratio("memory_age", "known", CLEARED) == 100.0


def test_a_fall_is_not_seen_without_odometer_nor_backwards() -> None:
    first, second = clean(distance_since_clear="1000 km"), clean(distance_since_clear="300 km")
    assert not any("known" in one.bands for one in view(on(-30, first), second).all("memory_age"))
    with_odometer = {"odometer": "100000 km"}
    later = on(-30, {**second, **with_odometer})
    assert not any("known" in one.bands for one in view(later, {**first, **with_odometer}).all("memory_age"))


def test_the_house_says_how_much_a_counter_may_fall_short() -> None:
    from memory_cases import case_of, limits

    from loadworthy.house import House
    from loadworthy_plugins.fault_memory.judging import judge_case

    first = on(-30, clean(distance_since_clear="1000 km", odometer="100000 km", time_since_clear=None))
    case = case_of(
        first,
        clean(distance_since_clear="1700 km", odometer="101000 km", time_since_clear=None, warm_ups_since_clear=9),
    )
    house = House.from_dict(
        {"limits": {"fault_memory.distance_shortfall": {"value": 0.6, "reason": "short journeys"}}},
        catalogue=host().catalogue,
    )
    for used, fell in ((limits(), True), (house.resolve(host().catalogue), False)):
        bands = [dict(one.bands) for one in judge_case(case, None, used) if getattr(one, "rule", "").endswith("_age")]
        assert ({"known": 1.0} in bands) is fell


def test_an_erased_sheet_is_known_to_be_erased() -> None:
    assert dict(view(clean(read_before_clear="no")).one("memory_age").bands) == {"known": 1.0}


def test_contradicting_counters_are_no_counters() -> None:
    fields = {"warm_ups_since_clear": 1, "distance_since_clear": "10 km", "distance_lamp_on": "20 km"}
    finding = view(clean(**fields)).one("memory_age")
    assert "longer than" in finding.unknown


# Does it still report ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fields", "vehicle", "band", "lr", "grade", "held"),
    [
        ({}, {"monitors_expected": ["secondary air"]}, "monitor_missing", 12.0, "fix_first", True),
        (
            {"warm_ups_since_clear": 1, "distance_since_clear": "9 km", "time_since_clear": "20 min"},
            {},
            "complete_at_once",
            6.0,
            "fix_first",
            True,
        ),
        ({"lamp_at_key_on": "dark"}, {}, "lamp_dark_at_key_on", 4.0, "watch", False),
        ({"monitor_status": status("81 07 65 00")}, {}, "commanded_on_but_dark", 8.0, "fix_first", True),
        (
            {"answers": [{**EMPTY[0], "permanent": "refused"}]},
            {"model_year": 2010, "jurisdiction": "US-CA"},
            "permanent_refused",
            3.0,
            "watch",
            False,
        ),
    ],
)
def test_signs_that_faults_are_not_reported(
    fields: dict[str, Any], vehicle: dict[str, Any], band: str, lr: float, grade: str, held: bool
) -> None:
    seen = view(clean(**fields), vehicle=engine(**vehicle))
    assert dict(seen.one("reporting").bands) == {band: 1.0}
    assert ratio("reporting", band, CHANGED) == lr
    assert seen.grade("reporting") == grade
    # Posterior from a prior of 0.193: above one half no calibration for the road.
    odds = lr * 0.193 / 0.807
    assert (odds / (1 + odds) > 0.5) is held
    assert [one.value for one in seen.ceilings("reporting_suspect")] == (["as_received"] if held else [])
    assert seen.one("reporting").steps[0].value == pytest.approx(odds / (1 + odds))


@pytest.mark.parametrize(
    ("fields", "vehicle"),
    [
        ({}, {"monitors_expected": ["catalyst", "misfire"]}),
        ({"monitor_status": None}, {"monitors_expected": ["secondary air"]}),
        ({"warm_ups_since_clear": 2, "distance_since_clear": "9 km", "time_since_clear": "20 min"}, {}),
        ({"warm_ups_since_clear": 1, "distance_since_clear": "10 km", "time_since_clear": "20 min"}, {}),
        ({"warm_ups_since_clear": 1, "distance_since_clear": "9 km", "monitor_status": status(HALF)}, {}),
        ({"lamp_at_key_on": "unknown"}, {}),
        ({"monitor_status": status("81 07 65 00"), "lamp": "on"}, {}),
        ({"monitor_status": status("81 07 65 00"), "lamp": None}, {}),
        ({"answers": [{**EMPTY[0], "permanent": "refused"}]}, {"model_year": 2009, "jurisdiction": "US-CA"}),
        ({"answers": [{**EMPTY[0], "permanent": "refused"}]}, {"model_year": 2015, "jurisdiction": "DE"}),
        ({"answers": [{**EMPTY[0], "permanent": "refused"}]}, {"model_year": 2015}),
        ({"answers": [{**EMPTY[0], "permanent": "not_asked"}]}, {"model_year": 2015, "jurisdiction": "US"}),
    ],
)
def test_what_is_no_such_sign(fields: dict[str, Any], vehicle: dict[str, Any]) -> None:
    fields = {**fields}
    one = {key: value for key, value in clean(**fields).items() if value is not None}
    assert not view(one, vehicle=engine(**vehicle)).has("reporting")


def test_of_several_signs_the_strongest_counts_and_all_are_told() -> None:
    seen = view(clean(lamp_at_key_on="dark"), vehicle=engine(monitors_expected=["secondary air"]))
    finding = seen.one("reporting")
    assert dict(finding.bands) == {"monitor_missing": 1.0}
    assert "dark" in finding.text
    assert "secondary air" in finding.text


def test_a_lamp_that_lights_at_key_on_clears_but_weighs_nothing() -> None:
    seen = view(clean(lamp_at_key_on="lit"))
    assert seen.grade("reporting") == "clean"
    assert not seen.one("reporting").bands


@pytest.mark.parametrize(
    ("answer", "grade", "band", "lr", "held"),
    [("no_code", "fix_first", "silent", 25.0, True), ("code_set", "clean", "reported", 0.3, False)],
)
def test_provocation(answer: str, grade: str, band: str, lr: float, held: bool) -> None:
    seen = view(clean(provocation=answer))
    assert (seen.grade("provocation"), dict(seen.one("provocation").bands)) == (grade, {band: 1.0})
    assert ratio("provocation", band, CHANGED) == lr
    assert bool(seen.ceilings("reporting_suspect")) is held
    rules = host().catalogue.rules
    assert rules["fault_memory.provocation"].group == rules["fault_memory.reporting"].group == "reporting"


def test_a_provocation_that_was_not_done_says_nothing() -> None:
    assert not view(clean(provocation="not_done")).has("provocation")
    assert not view(clean()).has("provocation")


# Lamp, readiness -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("lamp", "grade"), [("off", "clean"), ("on", "note"), ("flashing", "stop")])
def test_lamp(lamp: str, grade: str) -> None:
    assert view(clean(lamp=lamp)).grade("lamp") == grade


def test_a_lamp_that_nobody_saw_is_no_lamp_that_is_off() -> None:
    assert not view(clean(lamp="unknown")).has("lamp")
    assert not view(clean(lamp=None)).has("lamp")


def test_a_flashing_lamp_holds_the_case() -> None:
    assert register(clean(lamp="flashing")).outcome == "hold"


@pytest.mark.parametrize(
    ("year", "open_ones", "rejected"),
    [
        (2001, 1, False),
        (2001, 2, True),
        (2000, 2, False),
        (2000, 3, True),
        (1996, 3, True),
        (1995, 3, False),
        (None, 3, False),
    ],
)
def test_readiness_by_model_year(year: int | None, open_ones: int, rejected: bool) -> None:
    byte = {1: "01", 2: "05", 3: "25"}[open_ones]
    seen = view(clean(monitor_status=status(f"00 07 65 {byte}")), vehicle=engine(model_year=year))
    finding = seen.one("readiness")
    assert seen.grade("readiness") == "note"
    assert ("would be rejected" in finding.text) is rejected
    assert seen.row.state == "unknown"


def test_complete_monitors_without_any_code_are_a_passed_test() -> None:
    seen = view(clean())
    assert seen.grade("readiness") == "clean"
    assert seen.row.state == "met"


@pytest.mark.parametrize(
    "one",
    [
        with_codes(("P0455",), ("P0455",), **OLD),
        clean(warm_ups_since_clear=9),
        clean(answers=[{**EMPTY[0], "pending": "not_asked"}]),
    ],
)
def test_complete_is_not_passed(one: dict[str, Any]) -> None:
    assert view(one).grade("readiness") is None
    passed = [
        (belief.cause, use.note)
        for belief in register(one).beliefs
        for use in belief.weights
        if use.note.startswith("clean drive-until-monitors-complete")
    ]
    assert passed == []


def test_a_passed_drive_counts_once_with_the_age_of_the_memory() -> None:
    (belief,) = (one for one in register(clean()).beliefs if one.cause == CLEARED)
    counting = [use for use in belief.weights if use.counts]
    assert len(counting) == 1
    assert counting[0].raw_db == pytest.approx(-13.01, abs=0.01)


# Margins -------------------------------------------------------------------------------------------------------------


def result(value: int, monitor: str = "3A", low: str = "00 00", high: str = "03 E8", **more: str) -> dict[str, str]:
    row = {"monitor": monitor, "test": "01", "scaling": "24", "value": f"{value:04X}", "min": low, "max": high}
    return {**row, **more}


@pytest.mark.parametrize(
    ("value", "grade", "gap"),
    [
        (750, "clean", False),  # 0.250 of the maximum left
        (751, "watch", False),
        (900, "watch", False),  # 0.100
        (901, "watch", True),
        (1001, "watch", True),
    ],
)
def test_margin_of_a_result(value: int, grade: str, gap: bool) -> None:
    seen = view(clean(test_results=[result(value)]))
    assert seen.grade("test_margin") == grade
    assert ("test_margin" in seen.gaps) is gap
    if gap:
        assert "500 km" in seen.gaps["test_margin"].text
        assert not seen.gaps["test_margin"].required


def test_the_least_margin_of_several_counts() -> None:
    seen = view(clean(test_results=[result(100), result(950), result(800)]))
    text = seen.one("test_margin").text
    assert text.index("0.05") < text.index("0.20")
    assert "0.90" not in text


def test_a_lower_limit_and_both() -> None:
    low = {"low": "03 E8", "high": "FF FF"}
    assert view(clean(test_results=[result(1240, **low)])).grade("test_margin") == "watch"
    assert view(clean(test_results=[result(1260, **low)])).grade("test_margin") == "clean"
    both = {"low": "00 64", "high": "00 C8"}
    assert view(clean(test_results=[result(120, **both)])).grade("test_margin") == "watch"
    assert view(clean(test_results=[result(150, **both)])).grade("test_margin") == "clean"


def test_a_result_that_never_ran_or_has_no_limit_says_nothing() -> None:
    assert not view(clean(test_results=[result(0, high="00 00")])).has("test_margin")
    assert not view(clean(test_results=[result(5, high="FF FF")])).has("test_margin")


def test_repeated_results_close_the_gap() -> None:
    first = on(-10, clean(test_results=[result(950)]))
    assert "test_margin" in view(first, clean()).gaps
    assert "test_margin" not in view(first, clean(test_results=[result(100)])).gaps
    assert "test_margin" in view(first, clean(test_results=[result(950)])).gaps


# Misfires, trims of banks, cold runner, load ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("counts", "grade"),
    [((6, 1, 1, 1), "watch"), ((5, 1, 1, 1), "clean"), ((10, 2, 2, 2), "clean"), ((11, 2, 2, 2), "watch")],
)
def test_misfire_counts(counts: tuple[int, ...], grade: str) -> None:
    rows = [result(n, f"{0xA2 + i:02X}", high="FF FF", test="0B") for i, n in enumerate(counts)]
    assert view(clean(test_results=rows)).grade("misfire_counts") == grade


def test_one_cylinders_counts_cannot_be_compared() -> None:
    rows = [result(30, "A2", high="FF FF", test="0B")]
    assert not view(clean(test_results=rows)).has("misfire_counts")


def test_the_last_cycles_count_is_not_the_mean() -> None:
    rows = [result(n, f"{0xA2 + i:02X}", high="FF FF", test="0C") for i, n in enumerate((30, 1, 1, 1))]
    assert not view(clean(test_results=rows)).has("misfire_counts")


def trim(bank: int, long: str, region: str = "load", **more: Any) -> dict[str, Any]:
    return {"region": region, "bank": bank, "long": long, "coolant": "90 degC", "closed_loop": True, **more}


@pytest.mark.parametrize(
    ("first", "second", "grade", "said"),
    [
        ("3 %", "-1 %", "clean", "shared"),
        ("3 %", "-2 %", "watch", "shared"),  # 5 points: within one standard uncertainty of the limit of 6
        ("4 %", "-2 %", "watch", "a fault of one bank"),
        ("10 %", "-2 %", "watch", "a fault of one bank"),
    ],
)
def test_trims_of_two_banks(first: str, second: str, grade: str, said: str) -> None:
    seen = view(clean(trims=[trim(1, first), trim(2, second)]), vehicle=SIX)
    assert seen.grade("trim_banks") == grade
    assert said in seen.one("trim_banks").text


def test_trims_are_compared_within_a_region_and_only_usable_ones() -> None:
    assert not view(clean(trims=[trim(1, "10 %"), trim(2, "0 %", "idle")]), vehicle=SIX).has("trim_banks")
    cold = trim(2, "0 %", coolant="50 degC")
    assert not view(clean(trims=[trim(1, "10 %"), cold]), vehicle=SIX).has("trim_banks")
    assert not view(clean(trims=[trim(1, "10 %")]), vehicle=SIX).has("trim_banks")


def test_the_worst_pair_counts_in_any_order() -> None:
    rows = [trim(1, "1 %"), trim(2, "12 %"), trim(2, "2 %"), trim(1, "0 %", "idle"), trim(2, "3 %", "idle")]
    texts = {view(clean(trims=order), vehicle=SIX).one("trim_banks").text for order in (rows, rows[::-1])}
    assert len(texts) == 1
    assert "+12.0 %" in texts.pop()


@pytest.mark.parametrize(
    ("warm_ups", "distance", "grade"),
    [
        (2, "300 km", "watch"),
        (3, "300 km", "clean"),
        (9, "901 km", "watch"),
        (2, "299 km", None),
        (255, "60000 km", None),
    ],
)
def test_cold_runner(warm_ups: int, distance: str, grade: str | None) -> None:
    seen = view(clean(warm_ups_since_clear=warm_ups, distance_since_clear=distance, time_since_clear=None))
    assert (seen.grade("warm_ups") if seen.has("warm_ups") else None) == grade


FRAME = "0C 51 40, 10 3B 60"  # 152.0 g/s at 5 200 rpm: 148.28 % of 1.998 L


@pytest.mark.parametrize(
    ("load", "grade"),
    [("01 7A", "clean"), ("01 49", "clean"), ("01 48", "note"), ("01 BC", "clean"), ("01 BE", "note")],
)
def test_load_against_the_air_meter(load: str, grade: str) -> None:
    frame = {"code": "P0300", "bytes": f"{FRAME}, 43 {load}"}
    assert view(clean(freeze_frames=[frame])).grade("load_figures") == grade


def test_load_cannot_be_compared_without_displacement_or_air_flow() -> None:
    frame = {"code": "P0300", "bytes": f"{FRAME}, 43 01 48"}
    assert not view(clean(freeze_frames=[frame]), vehicle=engine(displacement=None)).has("load_figures")
    assert not view(clean(freeze_frames=[{"code": "P0300", "bytes": "0C 51 40, 43 01 48"}])).has("load_figures")


# What somebody stated ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"cleared_on": DAY, "cleared_by": "the last workshop"}, "erased on 2026-05-04 by the last workshop"),
        ({"battery_off_on": DAY - datetime.timedelta(2)}, "battery off on 2026-05-02"),
    ],
)
def test_a_stated_erasure_is_known_unless_the_memory_is_settled(fields: dict[str, Any], words: str) -> None:
    young = view(clean(warm_ups_since_clear=5, **fields)).one("memory_age")
    assert dict(young.bands) == {"known": 1.0}
    assert words in young.text
    assert dict(view(clean(**fields)).one("memory_age").bands) == {"settled": 1.0}
    assert view(clean(warm_ups_since_clear=5)).one("memory_age").unknown


def test_an_erasure_after_the_reading_says_nothing_of_it() -> None:
    later = DAY + datetime.timedelta(1)
    assert view(clean(warm_ups_since_clear=5, cleared_on=later)).one("memory_age").unknown
