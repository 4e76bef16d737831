"""What no code means: coverage by monitor, exposure, full load, what was heard, and how it fades."""

from __future__ import annotations

import datetime
from math import log
from typing import Any

import pytest
from memory_cases import DAY, EMPTY, OLD, case_of, clean, engine, host, limits, memory, register, sheet, view

from loadworthy_plugins.fault_memory.code_table import CAUSES, FAMILIES
from loadworthy_plugins.fault_memory.memory import read_memory
from loadworthy_plugins.fault_memory.pointing import family
from loadworthy_plugins.fault_memory.rules_codes import Reading
from loadworthy_plugins.fault_memory.silence import AT_LOAD, Silence, coverage, monitor_of, silence

DIESEL = engine(fuel="diesel_b7")
SPARK_READY, DIESEL_READY = [{"since_clear": "00 07 FF 00"}], [{"since_clear": "00 0F EB 00"}]
SUPPLY, COIL, CATALYST = "low-pressure-fuel-supply-weak", "ignition-coil-or-lead-weak", "catalyst-aged"


def silent(vehicle: dict[str, Any] | None = None, **fields: Any) -> dict[str, Silence]:
    case = case_of(clean(**fields), vehicle=vehicle)
    (one,) = case.of("fault_memory")
    found = read_memory(case, one)
    return {each.cause: each for each in silence(case, found, Reading(case, found, limits()).told)}


# Coverage ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("id", "spark", "compression"),
    [
        ("p0130", "oxygen sensor", "exhaust gas sensor"),
        ("p0136", "oxygen sensor", "exhaust gas sensor"),
        ("p0171", "fuel system", "fuel system"),
        ("p2096", "fuel system", "fuel system"),
        ("p0201", "fuel system", "fuel system"),
        ("p0087", "fuel system", "fuel system"),
        ("p0300", "misfire", "misfire"),
        ("p0351", "misfire", "misfire"),
        ("p0420", "catalyst", "catalyst"),
        ("p0496", "evaporative", "components"),
        ("p0401", "exhaust-gas recirculation or valve timing", "exhaust-gas recirculation or valve timing"),
        ("p2463", "air conditioning or particulate filter", "particulate filter"),
        ("p0299", "components", "boost pressure"),
        ("p0101", "components", "components"),
        ("p0730", "components", "components"),
        ("p0811", "components", "components"),
        ("p0524", "components", "components"),
        ("p0011", "components", "components"),
    ],
)
def test_monitor_of_a_family(id: str, spark: str, compression: str) -> None:
    for status, fuel, expected in ((SPARK_READY, "petrol_e10", spark), (DIESEL_READY, "diesel_b7", compression)):
        vehicle = engine(fuel=fuel)
        found = memory(clean(monitor_status=status), vehicle=vehicle)
        assert monitor_of(family(id), found, case_of(vehicle=vehicle))[0] == expected


def test_kind_of_ignition_comes_from_the_fuel_where_the_status_is_missing() -> None:
    found = memory(clean(monitor_status=None), vehicle=DIESEL)
    assert monitor_of(family("p0299"), found, case_of(vehicle=DIESEL))[0] == "boost pressure"


ALL = frozenset(("fuel", "misfire", "components", "catalyst", "purge", "lambda"))
NEEDS = {
    "mixture": "fuel", "injectors": "fuel", "fuel supply": "fuel", "misfire": "misfire", "ignition": "misfire",
    "catalyst": "catalyst", "purge": "purge", "EGR": "EGR", "particulate filter": "filter",
    "transmission": "gearbox", "clutch": "gearbox",
}  # fmt: skip


@pytest.mark.parametrize(
    ("status", "covered"),
    [
        ("00 07 65 00", ALL),
        ("00 07 65 01", ALL - {"catalyst"}),  # not complete
        ("00 07 64 00", ALL - {"catalyst"}),  # not supported
        ("00 27 65 00", ALL - {"fuel"}),
        ("00 17 65 00", ALL - {"misfire"}),
        ("00 47 65 00", ALL - {"components"}),
        ("00 07 65 24", ALL - {"purge", "lambda"}),
        ("00 07 E5 00", ALL | {"EGR"}),
        ("00 07 75 00", ALL | {"filter"}),
    ],
)
def test_coverage_is_the_share_of_logarithms_whose_monitor_is_complete(status: str, covered: frozenset[str]) -> None:
    case = case_of(clean(monitor_status=[{"since_clear": status}]))
    (one,) = case.of("fault_memory")
    found = coverage(read_memory(case, one), case)
    total: dict[str, float] = {}
    told: dict[str, float] = {}
    for row in FAMILIES.values():
        need = "lambda" if row[7].startswith("lambda") else NEEDS.get(row[1], "components")
        for cause, ratio, when in row[10]:
            if ratio > 1.0 and not when and row[3] in ("any", "petrol"):
                total[cause] = total.get(cause, 0.0) + log(ratio)
                told[cause] = told.get(cause, 0.0) + log(ratio) * (need in covered)
    assert found == pytest.approx({cause: told[cause] / total[cause] for cause in total})
    assert len({round(share, 6) for share in found.values()}) > 2


def test_no_monitor_status_covers_nothing() -> None:
    assert silent(monitor_status=None) == {}
    assert silent()[SUPPLY].coverage == pytest.approx(1.0)


def test_a_family_that_does_not_fit_covers_nothing() -> None:
    assert CATALYST in silent()
    assert CATALYST not in silent(vehicle=DIESEL, monitor_status=DIESEL_READY)
    boost = "wastegate-stuck-closed"
    assert boost in silent()
    assert boost not in silent(vehicle=engine(induction="none"))


def test_boost_on_a_diesel_needs_its_own_monitor() -> None:
    bad = silent(vehicle=DIESEL, monitor_status=[{"since_clear": "00 0F EB 08"}])
    good = silent(vehicle=DIESEL, monitor_status=DIESEL_READY)
    assert good["vanes-sticking"].coverage == pytest.approx(1.0)
    assert "vanes-sticking" not in bad


def test_the_gearbox_is_covered_only_where_its_unit_was_read() -> None:
    # Of its families only over-speed of the engine is the engine unit's own.
    alone = log(1.5) / (log(1.5) + log(4.0) + log(7.0) + log(8.0))
    assert silent()["gearbox-clutch-pack-slipping"].coverage == pytest.approx(alone)
    read = silent(answers=[*EMPTY, {"unit": "gearbox", "stored": "empty", "pending": "empty"}])
    assert read["gearbox-clutch-pack-slipping"].coverage == pytest.approx(1.0)
    refused = silent(answers=[*EMPTY, {"unit": "gearbox", "stored": "refused"}])
    assert refused["gearbox-clutch-pack-slipping"].coverage == pytest.approx(alone)


def test_a_status_list_says_of_each_code_whether_its_monitor_ran() -> None:
    whole = silent()[CATALYST].coverage
    never = silent(stored=[{"code": "P0420", "status": "50"}])
    assert never[CATALYST].coverage < whole
    # Where the monitor status does not know the monitor, a code that passed has been tested.
    without = [{"since_clear": "00 07 64 00"}]
    passed = silent(monitor_status=without, stored=[{"code": "P0420", "status": "00"}])
    assert passed[CATALYST].coverage > silent(monitor_status=without)[CATALYST].coverage
    # But never against the monitor status.
    unset = [{"since_clear": "00 07 65 01"}]
    said = silent(monitor_status=unset, stored=[{"code": "P0420", "status": "00"}])
    assert said[CATALYST].coverage == silent(monitor_status=unset)[CATALYST].coverage


def test_an_entry_whose_condition_is_not_known_to_hold_covers_nothing() -> None:
    bypass = "compressor-bypass-valve-leaking"
    unset = [{"since_clear": "00 27 65 00"}]  # the fuel system's monitor, which P2192 would need, is not complete
    assert silent(monitor_status=unset)[bypass].coverage == pytest.approx(1.0)
    vents = engine(bypass_vents=True)
    assert silent(monitor_status=unset, vehicle=vents)[bypass].coverage < 1.0


# Exposure, load, what was heard --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fields", "exposure"),
    [
        ({}, 1.0),
        ({"warm_ups_since_clear": 6}, 0.6),
        ({"warm_ups_since_clear": None, "distance_since_clear": None, "time_since_clear": None}, 0.5),
        ({"distance_lamp_on": "1600 km"}, 0.5),  # contradicts the distance since erasing
    ],
)
def test_exposure(fields: dict[str, Any], exposure: float) -> None:
    assert silent(**fields)[SUPPLY].exposure == pytest.approx(exposure)
    assert silent(**fields)[SUPPLY].ratio == pytest.approx(0.8**exposure)


#: The causes that show themselves at full load only.
LOADED = {
    "low-pressure-fuel-supply-weak", "high-pressure-fuel-pump-weak", "fuel-filter-restricted",
    "charge-air-leak-after-compressor", "compressor-bypass-valve-leaking", "wastegate-not-sealing",
    "wastegate-stuck-closed", "turbocharger-worn", "exhaust-restricted", "charge-cooler-not-cooling", "real-knock",
    "ignition-weak", "ignition-coil-or-lead-weak", "spark-gap-too-wide", "radiator-blocked", "water-pump-weak",
    "gearbox-clutch-pack-slipping", "converter-lock-up-slipping",
}  # fmt: skip


@pytest.mark.parametrize(("driven", "load"), [("yes", 1.0), ("unknown", 0.5), (None, 0.5), ("no", 0.25)])
def test_full_load_counts_for_what_shows_at_load(driven: str | None, load: float) -> None:
    gearbox = [*EMPTY, {"unit": "gearbox", "stored": "empty", "pending": "empty"}]
    found = silent(full_load_since_clear=driven, answers=gearbox)
    assert {one.load for cause, one in found.items() if cause in LOADED} == {load}
    assert {one.load for cause, one in found.items() if cause not in LOADED} == {1.0}
    assert {cause for cause in LOADED if CAUSES[cause][1] < 1.0} <= set(found)


def test_the_causes_at_load_are_those_of_the_table() -> None:
    assert AT_LOAD == LOADED
    assert set(CAUSES) >= AT_LOAD
    assert set(host().catalogue.causes) | set(host().catalogue.broader) >= {
        cause for cause in AT_LOAD if host().catalogue.causes.get(cause)
    }


@pytest.mark.parametrize(
    ("stored", "pending", "heard"),
    [
        ("empty", "empty", 1.0),
        ("empty", "not_asked", 0.7),
        ("empty", "silent", 0.0),
        ("empty", "refused", 0.0),
        ("empty", "damaged", 0.0),
        ("silent", "empty", 0.0),
        ("refused", "empty", 0.0),
        ("damaged", "empty", 0.0),
        ("not_asked", "empty", 0.0),
    ],
)
def test_what_was_heard(stored: str, pending: str, heard: float) -> None:
    found = silent(answers=[{"stored": stored, "pending": pending, "permanent": "empty"}])
    if heard == 0.0:
        assert found == {}
    else:
        assert found[CATALYST].heard == heard
        assert found[CATALYST].ratio == pytest.approx(0.15**heard)


def test_a_list_without_the_cause_is_silent_about_it() -> None:
    assert CATALYST in silent(stored=[{"code": "P0442"}])
    assert CATALYST not in silent(stored=[{"code": "P0420"}])


def test_a_code_for_a_broader_name_speaks_for_its_parts() -> None:
    # The misfire code speaks for weak ignition, and so for the coil that it covers.
    found = silent(stored=[{"code": "P0303"}])
    assert COIL not in found
    assert COIL in silent()


def test_only_the_parts_that_no_code_speaks_for_are_lowered() -> None:
    found = silent(stored=[{"code": "P0088"}])  # speaks for the pressure regulator, a part of the weak fuel supply
    assert set(found[SUPPLY].at) == {"fuel-filter-restricted", "fuel-pump-supply-voltage-low", "fuel-pump-weak"}
    weights = {one.cause for one in view(clean(stored=[{"code": "P0088"}])).one("silence").weights}
    assert "fuel-pressure-regulator-fault" not in weights
    assert SUPPLY not in weights
    assert "fuel-pump-weak" in weights


def test_a_code_with_a_weight_below_one_does_not_speak() -> None:
    # P0301 speaks against the fuel supply.
    assert SUPPLY in silent(stored=[{"code": "P0301"}])


def test_trims_and_results_speak_too() -> None:
    rich = {"region": "load", "long": "19 %", "coolant": "90 degC", "closed_loop": True}
    assert SUPPLY not in silent(trims=[rich])
    beyond = {"monitor": "21", "test": "01", "scaling": "24", "value": "00 96", "min": "00 00", "max": "00 64"}
    assert CATALYST not in silent(test_results=[beyond])


def test_the_least_of_all_weights() -> None:
    found = silent()
    expected = {cause: weight ** found[cause].exponent for cause, (_, weight, _) in CAUSES.items() if cause in found}
    assert {cause: one.ratio for cause, one in found.items()} == pytest.approx(expected)
    assert all(0.0 < one.ratio < 1.0 for one in found.values())
    assert not {cause for cause, (_, weight, _) in CAUSES.items() if weight == 1.0} & set(found)


# What a settled, clean memory lowers, and how it fades ---------------------------------------------------------------


def test_what_a_clean_settled_memory_lowers() -> None:
    seen = view(clean())
    db = {one.cause: one.db for one in seen.one("silence").weights}
    expected = {
        "injector-electrical-fault": -13.0,
        "sensor-reference-supply-fault": -10.0,
        CATALYST: -8.2,
        "lambda-sensor-fault": -6.0,
        "intake-leak-after-throttle": -4.6,
        SUPPLY: -1.0,
        "compression-low": -1.5,
        "turbocharger-worn": -0.7,
        "real-knock": -0.2,
    }
    found = {cause: db[cause] for cause in expected}
    assert found == pytest.approx(expected, abs=0.3)
    assert not {"oil-level-low", "clutch-slipping", "coolant-low-or-leaking"} & set(db)


def _silent_use(days: int, km: float, cause: str = CATALYST) -> tuple[float, float]:
    later = sheet(day=DAY + datetime.timedelta(days), odometer=f"{100_000 + km} km")
    found = register(clean(odometer="100000 km"), later, as_of=DAY + datetime.timedelta(days))
    uses = [
        use for belief in found.beliefs if belief.cause == cause for use in belief.weights if "silence" in use.finding
    ]
    return uses[0].raw_db, uses[0].db


@pytest.mark.parametrize(("days", "km", "share"), [(0, 0, 1.0), (30, 0, 0.5), (10, 1000, 0.5), (60, 500, 0.25)])
def test_silence_fades_by_half_in_thirty_days_or_a_thousand_kilometres(days: int, km: float, share: float) -> None:
    raw, now = _silent_use(days, km)
    assert raw == pytest.approx(10 * log(0.15) / log(10), rel=0.01)
    assert now == pytest.approx(raw * share, rel=0.01)


def test_an_erased_memory_is_silent_about_nothing() -> None:
    assert not view(clean(read_before_clear="no")).has("silence")
    assert view(clean(read_before_clear="unknown")).has("silence")
    assert OLD["warm_ups_since_clear"] == 60
