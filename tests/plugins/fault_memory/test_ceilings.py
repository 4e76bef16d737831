"""Which ceiling each code and each state of the memory sets, and what lifts it."""

from __future__ import annotations

import datetime
from typing import Any

import pytest
from memory_cases import DAY, EMPTY, OLD, clean, engine, register, sheet, view, with_codes

from loadworthy.case import Curve
from loadworthy.findings import Band, Demand
from loadworthy_plugins.fault_memory.snapshots import absolute_load

STANDARD = {"2000 rpm": "300 N m", "4000 rpm": "320 N m", "6000 rpm": "260 N m"}
BASE = {"2000 rpm": "280 N m", "4000 rpm": "300 N m", "6000 rpm": "240 N m"}
GIVEN = engine(standard_torque=STANDARD)
RETEST, READING = "drive-until-monitors-complete", "full-memory-reading"
DISPLACEMENT = 1.998e-3


def demand(base: tuple[float, ...] | None = (280.0, 300.0), standard: tuple[float, ...] | None = None) -> Demand:
    """Return a demand at 2 000 and 4 000 rpm whose manifold pressure is 500 Pa for each newton metre, +- 10 %."""
    torque = ((200.0, 300.0, 400.0), (200.0, 300.0, 400.0))
    nominal = tuple(tuple(500.0 * t for t in row) for row in torque)
    high = tuple(tuple(1.1 * p for p in row) for row in nominal)
    low = tuple(tuple(0.9 * p for p in row) for row in nominal)
    return Demand(
        speeds=(2000 / 60, 4000 / 60),
        torque=torque,
        plan=(400.0, 400.0),
        base=base,
        standard=standard,
        quantities={"manifold_pressure": Band(low, nominal, high)},
    )


# By the family -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("code", ["P0171", "P0128"])
def test_standard_torque_is_the_lower_of_standard_and_as_received(code: str) -> None:
    id = f"code_{code.lower()}"
    seen = view(with_codes((code,)), vehicle=GIVEN)
    (received,), (standard,) = seen.ceilings(id), seen.ceilings(f"{id}_standard")
    assert (received.quantity, received.value) == ("torque", "as_received")
    assert (standard.quantity, standard.value) == ("torque", "standard")
    assert received.origin == standard.origin == "fault"
    assert received.until == standard.until == RETEST
    finding = seen.one(code.lower())
    assert received.finding == standard.finding == (finding.rule, None, finding.sheet)
    assert not view(with_codes((code,))).ceilings(f"{id}_standard")


@pytest.mark.parametrize("code", ["P0087", "P0136"])
def test_a_stop_holds_by_its_grade_and_a_note_sets_no_ceiling(code: str) -> None:
    seen = view(with_codes((code,), **OLD))
    assert not any(name.startswith("code_") for name in seen.ceiling_names)
    assert register(with_codes((code,), **OLD)).outcome == ("hold" if code == "P0087" else "incomplete")


def test_the_ceiling_of_a_cylinders_code_is_at_that_cylinder() -> None:
    rows = [{"code": "P0303", "status": "20"}]
    (ceiling,) = view(sheet(stored=rows)).ceilings("code_p0301")
    assert (ceiling.subject, ceiling.value) == ("cylinder 3", "as_received")
    assert ceiling.finding is not None
    assert ceiling.finding[1] == "cylinder 3"


def test_boost_is_held_at_the_pressure_of_the_torque_as_received() -> None:
    seen = view(with_codes(("P0299",)), demand=demand())
    (ceiling,) = seen.ceilings("code_p0299")
    assert ceiling.quantity == "manifold_pressure"
    assert ceiling.value == Curve((2000 / 60, 4000 / 60), (pytest.approx(550 * 280), pytest.approx(550 * 300)))
    assert not seen.ceilings("code_p0299_standard")


def test_boost_is_held_at_standard_where_that_is_lower() -> None:
    (ceiling,) = view(with_codes(("P0299",)), demand=demand(standard=(250.0, 350.0))).ceilings("code_p0299")
    assert ceiling.value.values == (pytest.approx(550 * 250), pytest.approx(550 * 300))


@pytest.mark.parametrize(
    ("vehicle", "given"),
    [
        (engine(induction="none"), demand()),
        (engine(induction=None), demand()),
        (engine(), None),
        (engine(), demand(base=None)),
        (engine(), Demand(speeds=(33.0,), torque=((1.0, 2.0),), plan=(2.0,), base=(1.0,))),
    ],
)
def test_boost_that_cannot_be_had_means_torque(vehicle: dict[str, Any], given: Demand | None) -> None:
    seen = view(with_codes(("P2187",)), vehicle=vehicle, demand=given)
    assert [(one.quantity, one.value) for one in seen.ceilings("code_p2187")] == [("torque", "as_received")]


def test_an_over_speed_holds_the_speed_limit() -> None:
    vehicle = engine(standard_torque=STANDARD, base_torque_measured={"2000 rpm": "280 N m", "5500 rpm": "260 N m"})
    (ceiling,) = view(with_codes(("P0219",)), vehicle=vehicle).ceilings("code_p0219")
    assert (ceiling.quantity, ceiling.value) == ("engine_speed", pytest.approx(5500 / 60))
    (ceiling,) = view(with_codes(("P0219",)), vehicle=GIVEN).ceilings("code_p0219")
    assert ceiling.value == pytest.approx(6000 / 60)
    (ceiling,) = view(with_codes(("P0219",))).ceilings("code_p0219")
    assert (ceiling.quantity, ceiling.value) == ("torque", "as_received")


# By the freeze frame -------------------------------------------------------------------------------------------------

LOAD = "43 01 7A"  # 148.24 %


def frame(code: str = "P2177", bytes_: str = f"0C 51 40, {LOAD}", **more: Any) -> dict[str, Any]:
    return {"code": code, "bytes": bytes_, **more}


def loads(*frames: dict[str, Any], codes: tuple[str, ...] = ("P2177",), vehicle: dict[str, Any] | None = None,
          id: str = "p2177") -> list[float]:  # fmt: skip
    """Return the absolute load of each ceiling by frame, at 5 200 rpm."""
    seen = view(with_codes(codes, freeze_frames=list(frames)), vehicle=vehicle)
    assert seen.ceilings(f"code_{id}")[0].value == "as_received"
    found = seen.ceilings(f"code_{id}_frame")
    assert {one.quantity for one in found} <= {"air_flow"}
    return [absolute_load(one.value.at(5200 / 60), 5200 / 60, DISPLACEMENT) for one in found]


@pytest.mark.parametrize(("code", "id"), [("P2177", "p2177"), ("P0127", "p0127"), ("P0168", "p0168")])
def test_load_below_this_codes_frame(code: str, id: str) -> None:
    assert loads(frame(code), codes=(code,), id=id) == [pytest.approx(0.9 * 1.4824, rel=1e-4)]


def test_the_frame_of_another_code_is_not_used() -> None:
    assert loads(frame("P0300"), codes=("P2177", "P0300")) == []
    both = loads(frame("P0300", "43 00 80"), frame(), codes=("P2177", "P0300"))
    assert both == [pytest.approx(1.3341, rel=1e-4)]


def test_of_several_frames_of_the_code_the_lowest_load_counts() -> None:
    several = (frame(), frame(bytes_="43 01 00"), frame(bytes_="43 01 40"))
    assert loads(*several) == loads(*several[::-1]) == [pytest.approx(0.9 * 256 / 255)]


def test_without_a_frame_the_torque_is_standard() -> None:
    assert loads() == []
    assert loads(frame(bytes_="0C 51 40")) == []


def test_a_pending_code_counts_a_weaker_one_does_not() -> None:
    rows = [{"code": "P2177", "status": "20"}]
    seen = view(sheet(stored=rows, freeze_frames=[frame()]))
    assert not any(name.startswith("code_p2177") for name in seen.ceiling_names)
    assert loads(frame(), codes=("P2177",))


def test_a_bank_has_its_own_frame() -> None:
    six = engine(cylinder_count=6, cylinder_banks=[[1, 3, 5], [2, 4, 6]])
    seen = view(with_codes(("P2177", "P2179"), freeze_frames=[frame("P2179")]), vehicle=six)
    assert [one.subject for one in seen.ceilings("code_p2177_frame")] == ["bank 2"]


FRAME_04 = "04 C8, 0C 3E 80"  # 78.43 % at 4 000 rpm


def test_with_calculated_load_only_a_share_of_standard_torque() -> None:
    seen = view(with_codes(("P2177",), freeze_frames=[frame(bytes_=FRAME_04)]), vehicle=GIVEN)
    (ceiling,) = seen.ceilings("code_p2177_frame")
    assert (ceiling.quantity, ceiling.value) == ("torque", pytest.approx(0.9 * 200 / 255 * 320))
    assert {"code_p2177", "code_p2177_standard"} <= seen.ceiling_names


@pytest.mark.parametrize(
    ("bytes_", "vehicle"),
    [(FRAME_04, engine()), ("04 C8", GIVEN), ("04 C8, 0C 6D 60", GIVEN)],  # no curve; no speed; 7 000 rpm: beyond it
)
def test_a_share_of_a_torque_that_is_not_known_is_no_ceiling_of_its_own(bytes_: str, vehicle: dict[str, Any]) -> None:
    seen = view(with_codes(("P2177",), freeze_frames=[frame(bytes_=bytes_)]), vehicle=vehicle)
    assert not seen.ceilings("code_p2177_frame")
    assert seen.ceilings("code_p2177")


def test_absolute_load_goes_before_calculated_load() -> None:
    both = frame(bytes_=f"{FRAME_04}, {LOAD}")
    (ceiling,) = view(with_codes(("P2177",), freeze_frames=[both]), vehicle=GIVEN).ceilings("code_p2177_frame")
    assert ceiling.quantity == "air_flow"
    # Without displacement the air is not known: the calculated load stands in.
    unknown = {**GIVEN, "displacement": None}
    unknown = {key: value for key, value in unknown.items() if value is not None}
    (ceiling,) = view(with_codes(("P2177",), freeze_frames=[both]), vehicle=unknown).ceilings("code_p2177_frame")
    assert ceiling.quantity == "torque"


def test_the_frame_may_stand_in_the_raw_record() -> None:
    raw = "7E8 10 09 42 02 00 21 77 43\n7E8 21 00 01 7A 00 00 00 00"
    seen = view(with_codes(("P2177",), raw_replies=raw))
    (ceiling,) = seen.ceilings("code_p2177_frame")
    assert ceiling.steps[0].value == pytest.approx(378 / 255)


# By the state of the memory ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("one", "name", "until"),
    [
        (clean(warm_ups_since_clear=2), "memory_too_young", RETEST),
        (clean(warm_ups_since_clear=6), "memory_too_young", RETEST),
        (clean(answers=[{**EMPTY[0], "stored": "refused"}]), "memory_unread", READING),
        (clean(answers=[{**EMPTY[0], "stored": "damaged"}]), "memory_unread", READING),
        (clean(raw_replies="7E8 10 0A 43 04 01 71 01 74"), "memory_unread", READING),
        (clean(read_before_clear="no"), "memory_unread", READING),
    ],
)
def test_what_the_state_of_the_memory_holds(one: dict[str, Any], name: str, until: str) -> None:
    seen = view(one, vehicle=GIVEN)
    (received,), (standard,) = seen.ceilings(name), seen.ceilings(f"{name}_standard")
    assert (received.value, standard.value) == ("as_received", "standard")
    assert received.origin == "gap"
    assert (received.until, received.row) == (until, "fault_memory")
    other = {"memory_too_young", "memory_unread"} - {name}
    assert not other & seen.ceiling_names


def test_reporting_that_is_suspect_holds_the_calibration() -> None:
    seen = view(clean(provocation="no_code"), vehicle=GIVEN)
    (ceiling,) = seen.ceilings("reporting_suspect")
    assert (ceiling.value, ceiling.until, ceiling.origin) == ("as_received", "calibration-identifiers", "fault")
    assert ceiling.finding == ("fault_memory.provocation", None, seen.one("provocation").sheet)
    assert "no road calibration" in ceiling.reason


# In the register -----------------------------------------------------------------------------------------------------

PLAN = {"torque": {"2000 rpm": "330 N m", "4000 rpm": "380 N m", "6000 rpm": "300 N m"}}
BASED = engine(base_torque_measured=BASE, standard_torque=STANDARD)


def held(*sheets: dict[str, Any], days: int = 1) -> set[str]:
    found = register(*sheets, vehicle=BASED, plan=PLAN, as_of=DAY + datetime.timedelta(days))
    return {view.ceiling.name for view in found.ceilings if view.plugin == "fault_memory"}


def test_a_ceiling_stands_as_long_as_its_finding() -> None:
    later = {**clean(), "date": DAY + datetime.timedelta(10)}
    last = {**clean(), "date": DAY + datetime.timedelta(20)}
    coded = with_codes(("P0171",), **OLD)
    assert "code_p0171" in held(coded, days=30)
    assert "code_p0171" in held(coded, {**clean(warm_ups_since_clear=1), "date": last["date"]}, days=30)
    assert "code_p0171" not in held(coded, later, last, days=30)


def test_allowed_torque_is_the_lower_of_standard_and_as_received() -> None:
    lower = {**BASED, "standard_torque": {**STANDARD, "4000 rpm": "290 N m"}}
    found = register(with_codes(("P0171",), **OLD), vehicle=lower, plan=PLAN).allowed
    allowed = {round(60 * speed): torque for speed, torque in zip(found.speeds, found.torque, strict=True)}
    assert (allowed[2000], allowed[4000], allowed[6000]) == (
        pytest.approx(280.0),
        pytest.approx(290.0),
        pytest.approx(240.0),
    )
