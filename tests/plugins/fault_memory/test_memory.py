"""What one sheet says: typed and raw evidence, units, counts, lamps, counters, masks, and what is unreadable."""

from __future__ import annotations

from typing import Any

import pytest
from memory_cases import EMPTY, OLD, case_of, clean, engine, memory, sheet, view, with_codes

from loadworthy_plugins.fault_memory.memory import Memory, Present, read_memory

LAMP = [{"since_clear": "81 07 65 00"}]
BOTH_EMPTY = "7E8 02 43 00\n7E8 02 47 00\n"


def one(found: Memory, code: str) -> Present:
    (present,) = (each for each in found.present if each.code == code)
    return present


def codes(found: Memory) -> dict[str, float]:
    return {each.code: each.s for each in found.present}


# Lists: typed and raw --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("lists", "state", "s"),
    [
        ({"stored": ("P0171",), "pending": ("P0171",)}, "confirmed_failing_now", 1.0),
        ({"stored": ("P0171",)}, "confirmed", 0.85),
        ({"pending": ("P0171",)}, "pending", 0.5),
        ({"permanent": ("P0171",)}, "permanent_only", 0.7),
        ({"pending": ("P0171",), "permanent": ("P0171",)}, "permanent_only", 0.7),
        ({"stored": ("P0171",), "permanent": ("P0171",)}, "confirmed", 0.85),
    ],
)
def test_lists_without_status_give_the_state(lists: dict[str, tuple[str, ...]], state: str, s: float) -> None:
    found = one(memory(with_codes(**lists, monitor_status=LAMP)), "P0171")
    assert (found.state, found.s) == (state, s)


def test_stored_with_the_lamp_bit_off_is_weaker() -> None:
    found = one(memory(with_codes(("P0171",), monitor_status=[{"since_clear": "01 07 65 00"}])), "P0171")
    assert (found.state, found.s) == ("confirmed_lamp_off", 0.7)


def test_stored_without_monitor_status_is_confirmed() -> None:
    assert one(memory(with_codes(("P0171",))), "P0171").s == 0.85


def test_lamp_bit_of_another_unit_says_nothing() -> None:
    status = [{"since_clear": "81 07 65 00"}, {"unit": "gearbox", "since_clear": "00 04 00 00"}]
    assert one(memory(with_codes(("P0171",), monitor_status=status)), "P0171").s == 0.85


def test_raw_and_typed_evidence_read_alike() -> None:
    raw = memory(sheet(raw_replies="7E8 04 43 01 01 71\n7E8 04 47 01 03 00\n7E8 02 4A 00"))
    typed = memory(
        sheet(
            answers=[{"stored": "codes", "pending": "codes", "permanent": "empty"}],
            stored=[{"code": "p0171"}],
            pending=[{"code": "P0300"}],
        )
    )
    assert codes(raw) == codes(typed) == {"P0171": 0.85, "P0300": 0.5}
    assert raw.states == typed.states == {"03": "codes", "07": "codes", "0A": "empty"}


def test_typed_and_raw_of_one_code_are_one_code() -> None:
    found = memory(sheet(raw_replies="7E8 04 43 01 01 71", pending=[{"code": "P0171"}]))
    assert codes(found) == {"P0171": 1.0}


@pytest.mark.parametrize("state", ["refused", "silent", "damaged", "not_asked"])
@pytest.mark.parametrize("which", ["stored", "pending"])
def test_only_an_empty_list_says_that_there_is_none(which: str, state: str) -> None:
    answers = [{"stored": "empty", "pending": "empty", "permanent": "empty", which: state}]
    seen = view(clean(answers=answers))
    assert not memory(clean(answers=answers)).is_read
    assert seen.row.state == "unknown"
    assert ("lost" if state == "damaged" else state.replace("_", " ")) in seen.row.why
    assert seen.ceilings("memory_unread")


def test_a_list_with_codes_is_read_too() -> None:
    assert memory(clean(stored=[{"code": "P0442"}])).is_read
    assert memory(clean()).is_read


def test_without_monitor_status_the_reading_is_not_whole() -> None:
    seen = view(clean(monitor_status=None))
    assert not memory(clean(monitor_status=None)).is_read
    assert seen.row.state == "unknown"
    assert "monitor status" in seen.row.why


def test_a_refusal_is_no_empty_list() -> None:
    found = memory(sheet(raw_replies="7E8 03 7F 03 11\n7E8 02 47 00"))
    assert (found.states["03"], found.states["07"]) == ("refused", "empty")


def test_no_data_is_silence() -> None:
    assert memory(sheet(raw_replies="03\nNO DATA\n")).states["03"] == "silent"


# Several units -----------------------------------------------------------------------------------------------------


def test_the_engine_unit_alone_answers_for_the_engine() -> None:
    gearbox = [{"unit": "gearbox", "stored": "empty", "pending": "empty"}]
    found = memory(sheet(answers=gearbox, monitor_status=OLD["monitor_status"]))
    assert found.states["03"] == "not_asked"
    assert found.gearbox_read
    assert not found.is_read
    assert not memory(clean()).gearbox_read


def test_units_are_named_by_identifier_or_by_the_sheet() -> None:
    raw = "7E8 04 43 01 01 71\n7E9 04 43 01 07 30\n7EB 04 43 01 C1 00"
    found = memory(sheet(raw_replies=raw))
    assert {each.code: each.units for each in found.present} == {
        "P0171": ("engine",),
        "P0730": ("gearbox",),
        "U0100": ("7EB",),
    }
    named = memory(sheet(raw_replies=raw, units=[{"identifier": "7EB", "kind": "brakes"}]))
    assert one(named, "U0100").units == ("brakes",)


def test_one_code_in_several_units_is_one_code_with_the_largest_exponent() -> None:
    rows = [{"code": "U0100"}, {"code": "U0100", "unit": "gearbox"}]
    found = memory(sheet(stored=rows, pending=[{"code": "U0100", "unit": "gearbox"}]))
    assert codes(found) == {"U0100": 1.0}
    assert one(found, "U0100").units == ("engine", "gearbox")
    assert one(found, "U0100").differing


def test_lists_of_two_units_do_not_add_up_to_failing_now() -> None:
    found = memory(sheet(stored=[{"code": "U0100"}], pending=[{"code": "U0100", "unit": "gearbox"}]))
    assert one(found, "U0100").s == 0.85


def test_a_monitor_is_complete_only_where_every_unit_says_so() -> None:
    status = [{"since_clear": "00 07 65 00"}, {"unit": "gearbox", "since_clear": "00 04 01 01"}]
    found = memory(clean(monitor_status=status))
    assert "catalyst" not in found.complete
    assert found.share == 0.75
    assert "catalyst" in memory(clean()).complete


# Counts ------------------------------------------------------------------------------------------------------------


def test_more_codes_counted_than_listed_is_an_incomplete_list() -> None:
    fields = {**OLD, "monitor_status": [{"since_clear": "82 07 65 00"}]}
    seen = view(with_codes(("P0171",), **fields))
    assert memory(with_codes(("P0171",), **fields)).states["03"] == "damaged"
    assert any("counts 2 codes, its list holds 1" in gap.text for gap in seen.gaps.values())
    assert [gap.required for id, gap in seen.gaps.items() if id.startswith("memory_damaged")] == [True]


def test_fewer_codes_counted_than_listed_is_a_note() -> None:
    found = memory(with_codes(("P0171", "P0300"), monitor_status=LAMP))
    assert not found.damaged
    assert any("counts 1 codes, its list holds 2" in note for note in found.notes)


def test_lamp_commanded_without_a_code_asks_for_the_other_units() -> None:
    found = memory(clean(monitor_status=[{"since_clear": "80 07 65 00"}]))
    assert any("read the other units" in note for note in found.notes)
    assert not memory(clean()).notes
    unread = memory(clean(answers=None, monitor_status=[{"since_clear": "80 07 65 00"}]))
    assert any("read the other units" in note for note in unread.notes)


def test_lamp_lit_with_its_bit_off_asks_for_the_other_units() -> None:
    assert any("read the other units" in note for note in memory(clean(lamp="on")).notes)


# Status bytes and masks ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("status", "s"), [("2F", 1.0), ("88", 0.85), ("08", 0.7), ("64", 0.5), ("20", 0.35), ("50", None), ("00", None)]
)
def test_typed_status(status: str, s: float | None) -> None:
    found = codes(memory(sheet(stored=[{"code": "P0171", "status": status}])))
    assert found == ({"P0171": s} if s is not None else {})


def test_a_bit_that_the_mask_lacks_says_nothing() -> None:
    row = {"stored": [{"code": "P0171", "status": "08"}]}
    assert codes(memory(sheet(**row))) == {"P0171": 0.7}
    assert codes(memory(sheet(**row, status_availability_mask="7F"))) == {"P0171": 0.85}


def test_supported_codes_are_no_faults() -> None:
    found = memory(sheet(raw_replies="7E8 10 0F 59 02 FF 04 20 00\n7E8 21 50 03 00 00 00 01 71\n7E8 22 00 08"))
    assert codes(found) == {"P0171": 0.7}
    assert found.untested == {"P0420"}
    assert found.passed == {"P0300"}


def test_the_strongest_source_counts_and_the_difference_is_told() -> None:
    seen = view(sheet(stored=[{"code": "P0171"}], pending=[{"code": "P0171", "status": "20"}]))
    assert seen.one("p0171").steps[0].value == 0.85
    assert "sources differ" in seen.one("p0171").text


def test_failed_and_not_tested_contradict_each_other() -> None:
    found = one(memory(sheet(stored=[{"code": "P0171", "status": "38"}])), "P0171")
    assert found.contradictory
    assert found.s == 0.7
    assert "contradict" in view(sheet(stored=[{"code": "P0171", "status": "38"}])).one("p0171").text


def test_a_code_that_failed_once_is_intermittent_or_healed() -> None:
    assert one(memory(sheet(stored=[{"code": "P0171", "status": "28"}])), "P0171").intermittent
    assert not one(memory(sheet(stored=[{"code": "P0171", "status": "2F"}])), "P0171").intermittent
    assert "wiggle" in view(sheet(stored=[{"code": "P0171", "status": "28"}])).one("p0171").text


# Damage ------------------------------------------------------------------------------------------------------------


def test_codes_of_a_damaged_answer_are_pending_at_best() -> None:
    found = memory(sheet(raw_replies="7E8 10 0A 43 04 01 71 01 74\n7E8 02 47 00"))
    assert codes(found) == {"P0171": 0.5, "P0174": 0.5}
    assert found.states["03"] == "damaged"
    assert found.damaged


def test_a_code_of_a_damaged_answer_and_of_a_whole_one_has_the_whole_ones_state() -> None:
    found = memory(sheet(raw_replies="7E8 04 43 01 01 71\n7E8 10 0A 47 04 01 71 01 74"))
    assert codes(found) == {"P0171": 0.85, "P0174": 0.5}


@pytest.mark.parametrize(
    ("code", "said"),
    [("PO171", "write P0171"), ("P0I71", "write P0171"), ("171", "as in P0171"), ("P0000", "padding")],
)
@pytest.mark.parametrize("where", ["stored", "pending", "permanent"])
def test_a_typing_error_is_a_gap_that_says_what_to_write(where: str, code: str, said: str) -> None:
    answers = [{"stored": "empty", "pending": "empty", "permanent": "empty", where: "codes"}]
    seen = view(clean(answers=answers, **{where: [{"code": code}]}))
    (gap,) = (gap for id, gap in seen.gaps.items() if id.startswith("memory_damaged"))
    assert gap.required
    assert said in gap.text
    assert seen.row.state == "unknown"
    assert seen.ceilings("memory_unread")


@pytest.mark.parametrize(
    ("field", "rows", "said"),
    [
        ("stored", [{"code": "P0171", "status": "2G"}], "status of P0171"),
        ("stored", [{"code": "P0087", "failure_type": "111"}], "failure type of P0087"),
        ("monitor_status", [{"since_clear": "00 07 65"}], "monitor status of engine"),
        ("test_results", [{"monitor": "21", "test": "01", "value": "12"}], "value of a test result"),
        ("test_results", [{"monitor": "2X", "test": "01", "value": "12 34"}], "monitor"),
        ("freeze_frames", [{"code": "PO171", "bytes": "0C 51 40"}], "write P0171"),
    ],
)
def test_bytes_that_cannot_be_read_are_a_gap(field: str, rows: list[dict[str, Any]], said: str) -> None:
    seen = view(clean(**{field: rows}))
    assert seen.row.state == "unknown"
    (gap,) = (gap for id, gap in seen.gaps.items() if id.startswith("memory_damaged"))
    assert said in gap.text


# Frames and the lamp -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("frame", [{"code": "P0300", "bytes": "0C 51 40"}, {"bytes": "02 03 00, 0C 51 40"}])
def test_a_frame_without_its_code_makes_that_code_pending(frame: dict[str, str]) -> None:
    found = memory(clean(freeze_frames=[frame]))
    assert codes(found) == {"P0300": 0.5}
    assert any("read again" in note for note in found.notes)


def test_an_empty_frame_is_no_code() -> None:
    assert codes(memory(clean(freeze_frames=[{"bytes": "02 00 00, 0C 51 40"}]))) == {}


def test_a_frame_of_a_listed_code_changes_nothing() -> None:
    found = memory(clean(stored=[{"code": "P0300"}], freeze_frames=[{"code": "P0300", "bytes": "0C 51 40"}]))
    assert found.present == memory(clean(stored=[{"code": "P0300"}])).present


def test_the_flashing_lamp_is_a_misfire() -> None:
    seen = view(clean(lamp="flashing"))
    assert codes(memory(clean(lamp="flashing"))) == {"P0300": 0.5}
    assert seen.grade("p0300") == "stop"
    assert seen.grade("lamp") == "stop"


def test_the_flashing_lamp_adds_nothing_to_a_misfire_code() -> None:
    assert codes(memory(clean(lamp="flashing", pending=[{"code": "P0302"}]))) == {"P0302": 0.5}


# Counters ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"distance_lamp_on": "1600 km"}, "distance with the lamp on"),
        ({"time_lamp_on": "2100 min"}, "time with the lamp on"),
        ({"time_since_clear": "61 min", "distance_since_clear": "140 km"}, "138 km/h"),
        ({"time_since_clear": "2000 min", "distance_since_clear": "160 km"}, "5 km/h"),
    ],
)
def test_contradicting_counters_make_the_age_unknown(fields: dict[str, str], said: str) -> None:
    found = memory(clean(**fields))
    assert said in found.contradiction
    assert not found.age.known
    assert (found.age.kind, found.age.exposure) == ("partial", 0.5)
    assert view(clean(**fields)).row.state == "unknown"
    assert said in view(clean(**fields)).advice


@pytest.mark.parametrize(
    "fields",
    [
        {"distance_lamp_on": "1500 km"},
        {"time_since_clear": "60 min", "distance_since_clear": "140 km"},
        {"time_since_clear": "2000 min", "distance_since_clear": "170 km"},
    ],
)
def test_counters_within_reason_do_not_contradict(fields: dict[str, str]) -> None:
    assert memory(clean(**fields)).contradiction == ""


def test_counters_of_the_raw_record_and_typed_ones_the_younger_memory_counts() -> None:
    raw = "7E8 04 41 01 00 07\n7E8 03 41 30 05\n7E8 04 41 31 00 64\n7E8 04 41 4E 00 C8"
    found = memory(sheet(raw_replies=raw))
    assert found.counters == {"warm_ups": 5.0, "distance": 100e3, "time": 12000.0}
    typed = memory(sheet(raw_replies=raw, warm_ups_since_clear=3, distance_since_clear="150 km"))
    assert (typed.counters["warm_ups"], typed.counters["distance"]) == (3.0, 100e3)


def test_counters_of_another_unit_are_not_the_engines() -> None:
    assert memory(sheet(raw_replies="7E9 03 41 30 05")).counters == {}


@pytest.mark.parametrize(("share", "exposure"), [("00 07 65 00", 0.5), ("00 07 65 04", 0.1)])
def test_without_counters_the_age_is_partial(share: str, exposure: float) -> None:
    found = memory(sheet(answers=EMPTY, monitor_status=[{"since_clear": share}])).age
    assert (found.kind, found.exposure, found.known) == ("partial", exposure, False)


@pytest.mark.parametrize(
    ("fields", "kind"),
    [
        ({}, "settled"),
        ({"warm_ups_since_clear": 9}, "partial"),
        ({"warm_ups_since_clear": 2}, "recent"),
        ({"monitor_status": [{"since_clear": "00 07 65 04"}]}, "partial"),
        ({"monitor_status": [{"since_clear": "00 07 00 00"}]}, "settled"),
    ],
)
def test_class_of_the_memory(fields: dict[str, Any], kind: str) -> None:
    assert memory(clean(**fields)).age.kind == kind


# Readiness against the vehicle ---------------------------------------------------------------------------------------


def test_ignition_that_does_not_fit_the_fuel_is_noted() -> None:
    diesel = engine(fuel="diesel_b7")
    assert any("spark ignition" in note for note in memory(clean(), vehicle=diesel).notes)
    status = {"monitor_status": [{"since_clear": "00 0E EB 00"}]}
    assert not memory(clean(**status), vehicle=diesel).notes
    assert any("compression ignition" in note for note in memory(clean(**status)).notes)


def test_incomplete_but_not_supported_is_noted() -> None:
    assert any("not supported" in note for note in memory(clean(monitor_status=[{"since_clear": "00 07 01 04"}])).notes)


def test_erased_before_reading() -> None:
    assert memory(clean(read_before_clear="no")).erased
    assert memory(clean(raw_replies="04\n7E8 01 44\n" + BOTH_EMPTY)).erased
    assert not memory(clean()).erased
    seen = view(clean(read_before_clear="no"))
    assert seen.row.state == "unknown"
    assert seen.ceilings("memory_unread")
    assert not seen.has("silence")


def test_order_of_rows_never_matters() -> None:
    rows = [{"code": "P0171"}, {"code": "P0300"}, {"code": "U0100", "unit": "gearbox"}]
    case = case_of(sheet(stored=rows, pending=rows[:1]))
    back = case_of(sheet(stored=rows[::-1], pending=rows[:1]))
    a, b = (read_memory(c, next(iter(c.of("fault_memory")))) for c in (case, back))
    assert a.present == b.present


@pytest.mark.parametrize(
    ("protocol", "count", "state"),
    [("older", "00", "empty"), ("older", "01", "silent"), ("can", "00", "silent"), (None, "00", "silent")],
)
def test_silence_is_an_empty_list_only_of_an_older_unit_that_counts_no_code(
    protocol: str | None, count: str, state: str
) -> None:
    answers = [{"stored": "silent", "pending": "empty"}]
    status = [{"since_clear": f"{count} 07 65 00"}]
    found = memory(clean(answers=answers, protocol=protocol, monitor_status=status))
    assert found.states["03"] == state


def test_the_header_shows_an_older_unit_too() -> None:
    status = "48 6B 10 41 01 00 07 65 00 71"
    assert memory(sheet(raw_replies=f"03\nNO DATA\n{status}")).states["03"] == "empty"
    assert memory(sheet(raw_replies="03\nNO DATA\n7E8 06 41 01 00 07 65 00")).states["03"] == "silent"
