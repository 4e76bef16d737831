"""Patterns of codes and readings: where each holds, where it does not, where its data are missing, what it weighs."""

from __future__ import annotations

import datetime
from math import log10
from typing import Any

import pytest
from memory_cases import DAY, SIX, case_of, engine, limits, sheet, with_codes
from renew_table import source, vocabulary

import loadworthy_plugins.fault_memory as fault_memory
from loadworthy.case import Case
from loadworthy.declarations import Field, Section
from loadworthy.hookspecs import hookimpl
from loadworthy.host import Host
from loadworthy_plugins.fault_memory.memory import read_memory
from loadworthy_plugins.fault_memory.patterns import Lacking, Pattern, patterns

PATTERNS = {one["id"]: one for one in source()["pattern"]}
IDS = vocabulary()
LIT = [{"since_clear": "81 07 65 00"}]
TRIMS = {"distance_since_clear": "1500 km"}
METERED = {"air_metering": "air_meter"}
BY_SPEED = {"air_metering": "speed_density"}
DIESEL = engine(fuel="diesel_b7")
FOUR = engine()
LOW_FRAME = [{"bytes": "42 26 48"}]  # 9.8 V
UNITS = [{"code": "U0100", "unit": unit} for unit in ("engine", "gearbox", "brakes")]


def trim(region: str = "load", long: str = "2 %", **more: Any) -> dict[str, Any]:
    return {"region": region, "long": long, "coolant": "90 degC", "closed_loop": True, **more}


def codes(*stored: str, pending: tuple[str, ...] | None = None, **fields: Any) -> dict[str, Any]:
    """Return a sheet with codes that fail now (exponent 1) unless ``pending`` says which are pending too."""
    return with_codes(stored, stored if pending is None else pending, monitor_status=LIT, **fields)


def found(one: dict[str, Any], vehicle: dict[str, Any] | None = None) -> dict[str, Pattern | Lacking]:
    case = case_of(one, vehicle=vehicle)
    (own,) = case.of("fault_memory")
    return {each.id: each for each in patterns(case, read_memory(case, own), limits())}


#: Pattern, sheet, vehicle, exponent.
HOLDS: list[tuple[str, dict[str, Any], dict[str, Any], float]] = [
    ("lean-both-banks", codes("P0171", "P0174"), SIX, 1.0),
    ("lean-both-banks", codes("P0171", "P0174", pending=("P0171",)), SIX, 0.85),
    ("lean-one-bank-only", codes("P0171", trims=[trim(long="5 %", bank=2)], **TRIMS), SIX, 1.0),
    ("lean-one-bank-only", codes("P0174", pending=(), trims=[trim(long="-5 %", bank=1)], **TRIMS), SIX, 0.85),
    ("lean-and-several-misfires", codes("P2177", "P0300"), FOUR, 1.0),
    ("lean-and-several-misfires", codes("P0171", "P0301", "P0302", pending=("P0171", "P0301")), FOUR, 0.85),
    ("lean-and-several-misfires", codes("P0171", "P0301", "P0302", "P0303", pending=("P0301", "P0302")), FOUR, 0.85),
    ("misfire-and-own-coil-code", codes("P0303", "P0352"), engine(coil_map=[{"coil": "B", "cylinder": 3}]), 1.0),
    ("misfire-and-own-coil-code", codes("P0303", "P0352", pending=("P0352",)), FOUR, 0.85),  # presumed
    ("misfire-and-own-injector-code", codes("P0303", "P0203"), FOUR, 1.0),
    ("misfire-and-own-injector-code", codes("P0302", "P02A0", pending=()), FOUR, 0.85),
    ("misfire-two-neighbours", codes("P0302", "P0303", pending=("P0302",)), FOUR, 0.85),
    ("misfire-two-neighbours", codes("P0303", "P0305"), SIX, 1.0),
    ("misfire-one-bank", codes("P0301", "P0305"), SIX, 1.0),
    ("misfire-one-bank", codes("P0301", "P0303", "P0305", pending=("P0301", "P0303")), SIX, 1.0),
    ("misfire-at-load-only", codes("P0301", pending=(), loads_at_misfire="load_only"), FOUR, 1.0),
    ("misfire-at-load-only", codes(loads_at_misfire="load_only"), FOUR, 1.0),
    ("misfire-at-idle-only", codes("P0300", loads_at_misfire="idle_only"), FOUR, 1.0),
    ("misfire-with-crank-signal-fault", codes("P0335", "P0301", pending=("P0301",)), FOUR, 0.85),
    ("misfire-with-crank-signal-fault", codes("P0315", "P0300"), FOUR, 1.0),
    ("misfire-with-crank-signal-fault", codes("P0336", "P0316"), FOUR, 1.0),
    ("underboost-and-rich-at-load", codes("P0299", "P0172", pending=("P0299",)), engine(**METERED), 0.85),
    ("underboost-and-rich-at-load", codes("P2263", trims=[trim(long="-8.5 %")], **TRIMS), engine(**METERED), 1.0),
    (
        "underboost-and-rich-at-load",
        codes("P0299", trims=[trim(long="-9 %", bank=1), trim(long="12 %", bank=2)], **TRIMS),
        {**SIX, "induction": "turbo", **METERED},
        1.0,
    ),
    (
        "underboost-mixture-normal-metered",
        codes("P02CB", pending=(), trims=[trim(long="5 %")], **TRIMS),
        engine(**METERED),
        0.85,
    ),
    ("under-and-overboost", codes("P0299", "P0234", pending=("P0234",)), FOUR, 0.85),
    ("under-and-overboost", codes("P2262", "P226B"), FOUR, 1.0),
    ("underboost-and-overspeed", codes("P0049", "P0299", pending=("P0299",)), FOUR, 0.85),
    ("underboost-and-overspeed", codes("P00C5", "P2263"), FOUR, 1.0),
    ("soot-and-underboost", codes("P2463", "P0299", pending=("P2463",)), DIESEL, 0.85),
    ("catalyst-after-misfire", codes("P0420", "P0301", pending=("P0420",)), FOUR, 0.85),
    ("catalyst-after-misfire", codes("P0430", "P0172"), SIX, 1.0),
    ("catalyst-after-misfire", codes("P0421", "P250F"), FOUR, 1.0),
    ("catalyst-after-misfire", codes("P0420", trims=[trim(long="-16 %")], **TRIMS), FOUR, 1.0),
    ("many-sensors-one-supply", codes("P0641", "P0107", "P0122", pending=("P0641", "P0122")), FOUR, 0.85),
    ("low-voltage-flood", sheet(stored=[{"code": "P0562"}, *UNITS], pending=[{"code": "P0562"}]), FOUR, 0.85),
    ("low-voltage-flood", sheet(stored=UNITS, pending=UNITS, freeze_frames=LOW_FRAME),
     FOUR, 1.0),
    ("timing-codes-with-oil-codes", codes("P0011", "P0524", pending=("P0011",)), FOUR, 0.85),
    ("timing-codes-with-oil-codes", codes("P0011", "P0014"), FOUR, 1.0),
    ("timing-codes-with-oil-codes", codes("P0011", "P0014", "P0524", pending=("P0011", "P0014")), FOUR, 1.0),
    ("timing-both-shafts-same-way", codes("P0016", "P0017", pending=("P0016",)), FOUR, 0.85),
    ("timing-both-shafts-same-way", codes("P0018", "P0019"), FOUR, 1.0),
    ("timing-both-shafts-same-way", codes("P0008"), FOUR, 1.0),
    ("cold-runner", codes("P0128", pending=()), FOUR, 0.85),
    ("cold-runner", codes(warm_ups_since_clear=2, distance_since_clear="300 km"), FOUR, 1.0),
    ("cold-runner", codes("P0125", pending=(), warm_ups_since_clear=9, distance_since_clear="901 km"), FOUR, 1.0),
]  # fmt: skip

#: Pattern, sheet, vehicle: what is near to it and is not it.
HOLDS_NOT: list[tuple[str, dict[str, Any], dict[str, Any]]] = [
    ("lean-both-banks", codes("P0171"), SIX),
    ("lean-both-banks", codes("P0171", "P0174"), FOUR),
    ("lean-one-bank-only", codes("P0171", "P0174", trims=[trim(bank=2)], **TRIMS), SIX),
    ("lean-one-bank-only", codes("P0171", trims=[trim(long="5.5 %", bank=2)], **TRIMS), SIX),
    ("lean-one-bank-only", codes("P0171", trims=[trim(bank=2), trim("idle", "7 %", bank=2)], **TRIMS), SIX),
    ("lean-one-bank-only", codes("P0171", trims=[trim(bank=2)], **TRIMS), FOUR),
    ("lean-and-several-misfires", codes("P0171", "P0301"), FOUR),
    ("lean-and-several-misfires", codes("P0300"), FOUR),
    ("lean-and-several-misfires", codes("P0171", "P0300"), DIESEL),  # the lean code does not fit a diesel
    ("misfire-and-own-coil-code", codes("P0303", "P0352"), engine(coil_map=[{"coil": "B", "cylinder": 2}])),
    ("misfire-and-own-coil-code", codes("P0300", "P0352"), FOUR),
    ("misfire-and-own-injector-code", codes("P0303", "P0202"), FOUR),
    ("misfire-two-neighbours", codes("P0301", "P0303"), FOUR),
    ("misfire-two-neighbours", codes("P0301", "P0302"), SIX),  # two banks
    ("misfire-two-neighbours", codes("P0301", "P0302", "P0303"), FOUR),
    ("misfire-one-bank", codes("P0301", "P0302"), SIX),
    ("misfire-one-bank", codes("P0301", "P0302"), FOUR),
    ("misfire-one-bank", codes("P0301"), SIX),
    ("misfire-one-bank", codes("P0301", "P0309"), SIX),  # a cylinder that the engine does not have
    ("misfire-at-load-only", codes("P0301", loads_at_misfire="both"), FOUR),
    ("misfire-at-load-only", codes("P0301", loads_at_misfire="idle_only"), FOUR),
    ("misfire-at-idle-only", codes("P0301", loads_at_misfire="load_only"), FOUR),
    ("misfire-with-crank-signal-fault", codes("P0335"), FOUR),
    ("misfire-with-crank-signal-fault", codes("P0301"), FOUR),
    ("misfire-with-crank-signal-fault", codes("P0315"), FOUR),
    ("underboost-and-rich-at-load", codes("P0299", "P0172"), engine(**BY_SPEED)),
    ("underboost-and-rich-at-load", codes("P0299", trims=[trim(long="-8 %")], **TRIMS), engine(**METERED)),
    ("underboost-and-rich-at-load", codes("P0299", trims=[trim("idle", "-9 %"), trim()], **TRIMS), engine(**METERED)),
    ("underboost-and-rich-at-load", codes("P0172"), engine(**METERED)),
    ("underboost-and-rich-at-load", codes("P0299", "P0172"), engine(induction="none", **METERED)),
    ("underboost-mixture-normal-metered", codes("P0299", trims=[trim(long="5.5 %")], **TRIMS), engine(**METERED)),
    ("underboost-mixture-normal-metered", codes("P0299", "P0172", trims=[trim()], **TRIMS), engine(**METERED)),
    ("underboost-mixture-normal-metered", codes("P0299", trims=[trim()], **TRIMS), {**DIESEL, **METERED}),
    (
        "underboost-mixture-normal-metered",
        codes("P0299", trims=[trim()], **TRIMS),
        engine(air_metering="speed_density"),
    ),
    ("under-and-overboost", codes("P0299"), FOUR),
    ("under-and-overboost", codes("P0234", "P2263"), FOUR),  # the second may be either way
    ("underboost-and-overspeed", codes("P0049"), FOUR),
    ("underboost-and-overspeed", codes("P0049", "P0234"), FOUR),
    ("soot-and-underboost", codes("P2463", "P0299"), FOUR),
    ("soot-and-underboost", codes("P2463"), DIESEL),
    ("catalyst-after-misfire", codes("P0420"), FOUR),
    ("catalyst-after-misfire", codes("P0301"), FOUR),
    ("catalyst-after-misfire", codes("P0420", "P0315"), FOUR),  # says nothing of a misfire
    ("catalyst-after-misfire", codes("P0420", trims=[trim(long="-15 %")], **TRIMS), FOUR),
    ("many-sensors-one-supply", codes("P0641", "P0107"), FOUR),
    ("many-sensors-one-supply", codes("P0641", "P0201", "P0351", "P0107"), FOUR),  # injector and coil are no sensors
    ("many-sensors-one-supply", codes("P0107", "P0122", "P0237"), FOUR),
    ("low-voltage-flood", sheet(stored=[{"code": "P0562"}, *UNITS[:2]]), FOUR),
    ("low-voltage-flood", sheet(stored=UNITS), FOUR),
    ("low-voltage-flood", sheet(stored=UNITS, freeze_frames=[{"bytes": "42 29 04"}]), FOUR),  # 10.500 V
    ("low-voltage-flood", sheet(stored=[{"code": "P0560"}, *UNITS]), FOUR),
    ("timing-codes-with-oil-codes", codes("P0011"), FOUR),
    ("timing-codes-with-oil-codes", codes("P0011", "P0012"), FOUR),  # one phaser
    ("timing-codes-with-oil-codes", codes("P0524"), FOUR),
    ("timing-both-shafts-same-way", codes("P0016"), FOUR),
    ("timing-both-shafts-same-way", codes("P0016", "P0019"), FOUR),
    ("cold-runner", codes(warm_ups_since_clear=3, distance_since_clear="300 km"), FOUR),
    ("cold-runner", codes(warm_ups_since_clear=1, distance_since_clear="299 km"), FOUR),
    ("cold-runner", codes(warm_ups_since_clear=255, distance_since_clear="30000 km"), FOUR),  # the counter holds
    ("cold-runner", codes(warm_ups_since_clear=1, distance_since_clear="500 km", distance_lamp_on="600 km"), FOUR),
]

#: Pattern, sheet, vehicle, what the advice says.
LACKS: list[tuple[str, dict[str, Any], dict[str, Any], str]] = [
    ("lean-both-banks", codes("P0171", "P0174"), engine(cylinder_banks=None), "state cylinder_banks"),
    ("lean-one-bank-only", codes("P0171"), engine(cylinder_banks=None), "state cylinder_banks"),
    ("lean-one-bank-only", codes("P0174"), SIX, "record the trims of bank 1"),
    ("lean-one-bank-only", codes("P0171", trims=[trim(bank=2)]), SIX, "record the trims of bank 2"),  # still learning
    ("misfire-and-own-coil-code", codes("P0303", "P0352", "P0351"), FOUR, "state coil_map"),
    (
        "misfire-and-own-coil-code",
        codes("P0303", "P0352"),
        engine(coil_map=[{"coil": "A", "cylinder": 1}]),
        "state coil_map",
    ),
    ("misfire-two-neighbours", codes("P0302", "P0303"), engine(cylinder_banks=None), "state cylinder_banks"),
    ("misfire-one-bank", codes("P0302", "P0303"), engine(cylinder_banks=None), "state cylinder_banks"),
    ("misfire-at-load-only", codes("P0300"), FOUR, "state loads_at_misfire"),
    ("misfire-at-idle-only", codes("P0300"), FOUR, "state loads_at_misfire"),
    ("underboost-and-rich-at-load", codes("P0299", "P0172"), FOUR, "state air_metering"),
    ("underboost-and-rich-at-load", codes("P0299"), engine(**METERED), "record the trims at load"),
    ("underboost-mixture-normal-metered", codes("P0299"), FOUR, "state air_metering"),
    ("underboost-mixture-normal-metered", codes("P0299"), engine(**METERED), "record the trims at load"),
    ("underboost-mixture-normal-metered", codes("P0299"), engine(fuel=None, **METERED), "state fuel"),
    ("soot-and-underboost", codes("P2463", "P0299"), engine(fuel=None), "state fuel"),
    ("alcohol-in-ordinary-petrol-engine", codes("P0171"), FOUR, "state built_for_ethanol"),
    ("alcohol-in-ordinary-petrol-engine", codes("P0171"), engine(built_for_ethanol=False), "measure the alcohol"),
]


@pytest.mark.parametrize(("id", "one", "vehicle", "power"), HOLDS, ids=[row[0] for row in HOLDS])
def test_a_pattern_that_holds(id: str, one: dict[str, Any], vehicle: dict[str, Any], power: float) -> None:
    pattern = found(one, vehicle)[id]
    assert isinstance(pattern, Pattern)
    assert pattern.power == pytest.approx(power)
    # The weights are those of the source, to the power of the least certain conjunct.
    expected = {
        IDS[each["cause"]]: 10 * power * log10(each["factor"])
        for each in PATTERNS[id]["multiply"]
        if "when" not in each
    }
    assert {weight.cause: weight.db for weight in pattern.weights} == pytest.approx(expected)
    assert {weight.group for weight in pattern.weights} == {f"pattern {id}"}
    assert pattern.reason == PATTERNS[id]["reason"]


@pytest.mark.parametrize(("id", "one", "vehicle"), HOLDS_NOT, ids=[row[0] for row in HOLDS_NOT])
def test_a_pattern_that_does_not_hold(id: str, one: dict[str, Any], vehicle: dict[str, Any]) -> None:
    assert id not in found(one, vehicle)


@pytest.mark.parametrize(("id", "one", "vehicle", "said"), LACKS, ids=[row[0] for row in LACKS])
def test_a_pattern_that_lacks_its_data_says_what_to_write(
    id: str, one: dict[str, Any], vehicle: dict[str, Any], said: str
) -> None:
    lacking = found(one, vehicle)[id]
    assert isinstance(lacking, Lacking)
    assert said in lacking.what


def test_every_pattern_is_tried() -> None:
    assert {row[0] for row in HOLDS} | {"alcohol-in-ordinary-petrol-engine"} == set(PATTERNS)
    assert {row[0] for row in HOLDS_NOT} | {"alcohol-in-ordinary-petrol-engine"} == set(PATTERNS)


def test_nothing_is_advised_without_a_code_of_the_pattern() -> None:
    assert found(codes(), engine(cylinder_banks=None)) == {}


# Places --------------------------------------------------------------------------------------------------------------


def subjects(one: dict[str, Any], id: str, cause: str, vehicle: dict[str, Any] | None = None) -> set[str | None]:
    pattern = found(one, vehicle)[id]
    assert isinstance(pattern, Pattern)
    return {weight.subject for weight in pattern.weights if weight.cause == cause}


def test_a_factor_on_a_cylinder_acts_on_the_cylinders_that_the_codes_name() -> None:
    coil, injector = "ignition-coil-or-lead-weak", "injector-restricted"
    assert subjects(codes("P0303", "P0352"), "misfire-and-own-coil-code", coil) == {"cylinder 3"}
    assert subjects(codes("P0303", "P0203"), "misfire-and-own-injector-code", injector) == {"cylinder 3"}
    assert subjects(codes("P0302", "P0303"), "misfire-two-neighbours", "head-gasket") == {"cylinder 2", "cylinder 3"}
    several = codes("P0171", "P0301", "P0304")
    assert subjects(several, "lean-and-several-misfires", "ignition-weak") == {"cylinder 1", "cylinder 4"}
    load = codes("P0302", loads_at_misfire="load_only")
    assert subjects(load, "misfire-at-load-only", "valve-seal") == {"cylinder 2"}


def test_where_no_cylinder_is_named_it_acts_on_all() -> None:
    assert subjects(codes("P0171", "P0300"), "lean-and-several-misfires", "ignition-weak") == {None}
    assert subjects(codes("P0171", "P0300"), "lean-and-several-misfires", "ignition-weak", SIX) == {None}
    assert subjects(codes(loads_at_misfire="load_only"), "misfire-at-load-only", "valve-seal") == {None}


def test_codes_of_a_bank_name_its_cylinders() -> None:
    one = codes("P0171", trims=[trim(bank=2)], **TRIMS)
    odd = {"cylinder 1", "cylinder 3", "cylinder 5"}
    assert subjects(one, "lean-one-bank-only", "injector-restricted", SIX) == odd
    both = {f"cylinder {n}" for n in range(1, 7)}
    assert subjects(codes("P0171", "P0174"), "lean-both-banks", "injector-restricted", SIX) == both


def test_causes_that_sit_in_no_cylinder_have_no_place() -> None:
    assert subjects(codes("P0302", "P0303"), "misfire-two-neighbours", "low-pressure-fuel-supply-weak") == {None}


def test_a_factor_with_a_condition_counts_only_where_it_holds() -> None:
    bypass, one = "compressor-bypass-valve-leaking", codes("P0299", "P0172")
    for vents, expected in ((True, {None}), (False, set()), (None, set())):
        vehicle = engine(bypass_vents=vents, **METERED)
        assert subjects(one, "underboost-and-rich-at-load", bypass, vehicle) == expected


# History and other sections ------------------------------------------------------------------------------------------


def test_what_aged_the_catalyst_may_stand_on_an_earlier_sheet() -> None:
    earlier = codes("P0301", pending=(), day=DAY - datetime.timedelta(200))
    case = case_of(earlier, codes("P0420"))
    before, now = case.of("fault_memory")
    pattern = {each.id: each for each in patterns(case, read_memory(case, now), limits())}["catalyst-after-misfire"]
    assert isinstance(pattern, Pattern)
    assert pattern.power == pytest.approx(0.85)
    # Two readings of one day belong together.
    day = case_of(codes("P0301", pending=()), codes("P0420"))
    for one in day.of("fault_memory"):
        if read_memory(day, one).has("P0420"):
            assert "catalyst-after-misfire" in {each.id for each in patterns(day, read_memory(day, one), limits())}
    # What came later was not known then.
    back = case_of(codes("P0420", day=DAY - datetime.timedelta(200)), codes("P0301"))
    first = next(iter(back.of("fault_memory")))
    assert "catalyst-after-misfire" not in {each.id for each in patterns(back, read_memory(back, first), limits())}
    assert before.date < now.date


class FuelSample:
    """Stands for the check that owns fuel samples."""

    @staticmethod
    @hookimpl
    def declare() -> tuple[Section, ...]:
        content = Field("ethanol_fraction", "quantity", "alcohol in the fuel", kind="ratio", u=0.01)
        return (Section("fuel_sample", "a sample from the tank", (content,)),)


@pytest.mark.parametrize(
    ("contents", "built", "code", "holds"),
    [
        (("85 %",), False, "P0171", True),
        (("85 %",), False, "P0169", True),
        (("25 %",), False, "P0171", False),
        (("26 %",), False, "P0171", True),
        (("85 %",), True, "P0171", False),
        (("85 %",), False, "P0300", False),
        (("85 %", "5 %"), False, "P0171", False),  # the latest sample counts
        (("5 %", "85 %"), False, "P0171", True),
    ],
)
def test_alcohol_in_an_engine_that_is_not_built_for_it(
    contents: tuple[str, ...], built: bool, code: str, holds: bool
) -> None:
    host = Host({"fault_memory": fault_memory, "fuel_quality": FuelSample}, entry_points=False)
    samples = [
        {"date": DAY - datetime.timedelta(len(contents) - i), "ethanol_fraction": value}
        for i, value in enumerate(contents)
    ]
    for order in (samples, samples[::-1]):
        data = {
            "as_of": DAY,
            "vehicle": engine(built_for_ethanol=built),
            "fault_memory": [codes(code)],
            "fuel_sample": order,
        }
        case = Case.from_dict(data, catalogue=host.catalogue)
        (own,) = case.of("fault_memory")
        seen = {each.id: each for each in patterns(case, read_memory(case, own), limits())}
        pattern = seen.get("alcohol-in-ordinary-petrol-engine")
        assert isinstance(pattern, Pattern) is holds
        if isinstance(pattern, Pattern):
            assert [(one.cause, one.db) for one in pattern.weights] == [("wrong-fuel", pytest.approx(10 * log10(6.0)))]
