"""The reference reader of raw replies against published examples, by hand, and against generated texts."""

from __future__ import annotations

import re
from random import Random

import pytest
from oracle_replies import Answer, clear_sent, decode
from oracle_values import code_bytes, code_text, exponent, kind_of, read_dm1, read_results, readiness
from reply_makers import (
    CAN_FORMS,
    FORMS,
    NUMBERED_FORMS,
    PADDING,
    PLAIN,
    Line,
    can_list,
    frames,
    interleave,
    line_11,
    line_older,
    lines_pieces,
    list_lines,
    mutate,
    older_lists,
    pairs,
    random_code,
    reply,
    spoil_lines,
    status_list,
)

ALL_CODES = [code_text(value >> 8, value & 0xFF) for value in range(1, 0x10000)]


def answer(text: str, unit: str, service: str, protocol: str = "unknown", known: tuple[str, ...] = ()) -> Answer:
    return decode(text, protocol, set(known))[unit][service]


def names(found: Answer) -> list[str]:
    return [code for code, _, _ in found["codes"]]


def written(lines: list[Line]) -> str:
    return "\n".join(" ".join(line) for line in lines)


# -- single bytes


@pytest.mark.parametrize(
    ("content", "code"),
    # The two-bit rule of ISO 15031-6; also as scapy's OBD layer prints them.
    [
        ("0171", "P0171"),
        ("C100", "U0100"),
        ("4123", "C0123"),
        ("9234", "B1234"),
        ("0AFF", "P0AFF"),
        ("219A", "P219A"),
        ("FFFF", "U3FFF"),
        ("3400", "P3400"),
    ],
)
def test_spelling_of_two_bytes(content: str, code: str) -> None:
    high, low = bytes.fromhex(content)
    assert code_text(high, low) == code
    assert code_bytes(code) == bytes([high, low])


@pytest.mark.parametrize(
    ("code", "kind"),
    # Groups of ISO 15031-6: P3400 begins the standard part of P3.
    [
        ("P33FF", "maker"),
        ("P3400", "standard"),
        ("P0171", "standard"),
        ("P144B", "maker"),
        ("P2187", "standard"),
        ("U3000", "both"),
        ("U2100", "maker"),
        ("U0100", "standard"),
        ("B3001", "reserved"),
        ("C1555", "maker"),
    ],
)
def test_who_defines_a_code(code: str, kind: str) -> None:
    assert kind_of(code) == kind


def test_every_two_bytes_there_and_back() -> None:
    assert [int.from_bytes(code_bytes(code), "big") for code in ALL_CODES] == list(range(1, 0x10000))
    assert len(set(ALL_CODES)) == 65535
    # 0000 spells P0000 but is padding, never a code.
    assert code_text(0, 0) == "P0000"
    assert answer("43 00 00 00 00 00 00", "", "03", "older")["state"] == "empty"


@pytest.mark.parametrize("wrong", ["P017", "p0171", "P4171", "X0171", "PO171", "P01711"])
def test_what_is_no_code_has_no_bytes(wrong: str) -> None:
    with pytest.raises(ValueError, match=wrong):
        code_bytes(wrong)


@pytest.mark.parametrize(
    ("status", "mask", "name", "weight"),
    # Bits (ISO 14229-1): 0 failed now, 1 this cycle, 2 pending, 3 confirmed, 4 and 6 not tested, 5 since clear, 7 lamp.
    [
        (0x2F, 0xFF, "confirmed_failing_now", 1.0),
        (0x88, 0xFF, "confirmed", 0.85),
        (0x08, 0xFF, "confirmed_lamp_off", 0.7),
        (0x08, 0x7F, "confirmed", 0.85),
        (0x64, 0xFF, "pending", 0.5),
        (0x20, 0xFF, "failed_since_clear_only", 0.35),
        (0x50, 0xFF, "not_tested_since_clear", 0.0),
        (0x00, 0xFF, "passed", 0.0),
    ],
)
def test_status_to_exponent(status: int, mask: int, name: str, weight: float) -> None:
    assert exponent(status, mask) == (name, weight)


def test_readiness_of_a_spark_engine() -> None:
    # 82 07 65 05 by the bit table of PID 01 in public references.
    found = readiness(0x82, 0x07, 0x65, 0x05)
    assert (found.lamp, found.codes, found.ignition) == (True, 2, "spark")
    assert found.monitors == {
        "catalyst": False,
        "evaporative": False,
        "oxygen sensor": True,
        "oxygen sensor heater": True,
    }
    assert found.ratio == 0.5


def test_readiness_of_a_compression_engine() -> None:
    # 00 0E EB 42 by the same table.
    found = readiness(0x00, 0x0E, 0xEB, 0x42)
    assert (found.lamp, found.codes, found.ignition) == (False, 0, "compression")
    assert "misfire" not in found.continuous
    assert [name for name, done in found.monitors.items() if not done] == ["NOx/SCR", "particulate filter"]
    assert found.ratio == pytest.approx(0.667, abs=0.001)


def test_an_on_board_test_result() -> None:
    # A public post with raw bytes; unit id FE is signed with 0.25 Pa a count (ISO 15031-5, annex E).
    found = answer("46 3D 98 FE 00 69 80 00 0D 8A", "", "06")
    assert found["state"] == "data"
    (result,) = read_results(bytes.fromhex(found["data"][0]))
    assert (result.monitor, result.test, result.unit) == (0x3D, 0x98, 0xFE)
    assert (result.value * 0.25, result.high * 0.25) == (26.25, 866.5)
    # The lower limit stands at the end of the scale: none. One limit: (hi - x) / |hi|.
    assert result.margin() == pytest.approx(0.970, abs=0.001)


def test_margins_by_hand() -> None:
    # Two limits: 0x2712 between 0 (no limit) and 0x29AD; 0x0FA0 over 0x0C80, no upper limit; three zeros: not run.
    message = bytes.fromhex(
        "46 01 01 17 2712 0000 29AD 01 01 0A 0FA0 0C80 FFFF 01 01 84 FF9C FF38 00C8 01 01 01 000000000000"
    )
    margins = [result.margin() for result in read_results(message)]
    assert margins[:3] == pytest.approx([0.063, 0.25, 0.25], abs=0.001)
    assert margins[3] is None


def test_dm1() -> None:
    # As the can-j1939 2.0.12 library reads it: 44 has 01 at the malfunction and at the amber place.
    lamps, codes = read_dm1(bytes.fromhex("44 FF 6E 00 00 05 FF FF"))
    assert lamps == ["malfunction", "amber"]
    assert codes == [(110, 0, 5)]
    with pytest.raises(ValueError, match="conversion bit"):
        read_dm1(bytes.fromhex("44 FF 6E 00 00 85"))


# -- lists, published examples


@pytest.mark.parametrize("protocol", ["can", "older", "unknown"])
def test_one_code_behind_an_identifier(protocol: str) -> None:
    # A public post; the frames prove CAN, whatever is stated.
    found = decode("7E8 04 43 01 01 28 AA AA AA", protocol)
    assert found == {"7E8": {"03": {"state": "codes", "codes": [("P0128", None, None)], "data": ["43010128"]}}}


def test_older_and_can_layout() -> None:
    # Public posts of both layouts.
    assert names(answer("43 01 33 00 00 00 00", "", "03", "older")) == ["P0133"]
    assert names(answer("43 02 01 02 01 13", "", "03", "can")) == ["P0102", "P0113"]
    assert names(answer("43 02 01 02 01 13", "", "03", "unknown")) == ["P0102", "P0113"]


@pytest.mark.parametrize(
    ("text", "known", "state", "codes"),
    # Seven bytes that fit both layouts: the codes of the table decide, if exactly one reading is all in it.
    [
        ("43 01 01 71 00 00 00", ("P0171", "P0101"), "codes", ["P0171"]),
        ("43 01 01 71 00 00 00", ("P0101", "C3100"), "codes", ["P0101", "C3100"]),
        ("43 01 01 71 00 00 00", ("P0171", "P0101", "C3100"), "damaged", []),
        ("43 01 01 71 00 00 00", (), "damaged", []),
        ("43 00 00 00 00 00 00", (), "empty", []),
        # Not CAN: a count of 3 needs eight bytes; a counted 0000 is no code.
        ("43 03 00 00 00 00 00", (), "codes", ["P0300"]),
        ("43 01 00 00 00 00 00", (), "codes", ["P0100"]),
        ("43 01 33 01", (), "codes", ["P3301"]),
        ("43 01 33", (), "damaged", []),
        ("43 01 33 00 00 00 00 00 00", ("P0133",), "damaged", []),
    ],
)
def test_unknown_layout(text: str, known: tuple[str, ...], state: str, codes: list[str]) -> None:
    found = answer(text, "", "03", "unknown", known)
    assert (found["state"], names(found)) == (state, codes)


def test_two_frames() -> None:
    # Frames as scapy's ISOTP layer builds them for 43 04 0171 0174 0300 C100.
    found = answer("7E8 10 0A 43 04 01 71 01 74\n7E8 21 03 00 C1 00 00 00 00", "7E8", "03")
    assert (found["state"], names(found)) == ("codes", ["P0171", "P0174", "P0300", "U0100"])


FIRST = "7E8 10 0A 43 04 01 71 01 74"


@pytest.mark.parametrize(
    ("text", "service", "codes"),
    # ISO 15765-2: expected 1 got 2; truncated 6 of 10; consecutive without first; a new first frame.
    [
        (FIRST + "\n7E8 22 03 00 C1 00 00 00 00", "03", ["P0171", "P0174"]),
        (FIRST, "03", ["P0171", "P0174"]),
        ("7E8 21 03 00 C1 00 00 00 00", "", []),
        ("03\n7E8 21 03 00 C1 00 00 00 00", "03", []),
        (FIRST + "\n" + FIRST + "\n7E8 21 03 00 C1 00 00 00 00", "03", ["P0171", "P0174"] * 2 + ["P0300", "U0100"]),
        (FIRST + "\n7E8 21 03 00 C1", "03", ["P0171", "P0174"]),
    ],
)
def test_broken_sequences(text: str, service: str, codes: list[str]) -> None:
    found = answer(text, "7E8", service)
    assert (found["state"], names(found)) == ("damaged", codes)


def test_numbers_of_seventeen_frames_start_again() -> None:
    # 112 bytes: 43 37 and 55 codes; scapy's ISOTP layer numbers the frames likewise.
    codes = [f"P{number:04X}" for number in range(0x100, 0x137)]
    made = frames(can_list("03", codes), 0xAA)
    assert len(made) == 17
    assert [frame[0] & 15 for frame in made[1:]] == [*range(1, 16), 0]
    for lines in ([line_11("7E8", frame) for frame in made], [pairs(frame) for frame in made]):
        (found,) = decode(written(lines), "can").values()
        assert (found["03"]["state"], names(found["03"])) == ("codes", codes)
    assert names(answer(written(lines_pieces(can_list("03", codes), None)), "", "03")) == codes


def test_status_list() -> None:
    # A public post; its text says U2274 and B144B, which the two-bit rule does not give.
    found = answer("10 13 59 02 FF 22 74 00\r21 64 03 43 00 64 03 68\r22 00 64 14 4B 00 68 00", "", "19 02")
    assert found["state"] == "codes"
    assert found["codes"] == [("P2274", 0x64, 0), ("P0343", 0x64, 0), ("P0368", 0x64, 0), ("P144B", 0x68, 0)]
    assert [exponent(status or 0, 0xFF)[0] for _, status, _ in found["codes"]] == ["pending"] * 3 + [
        "confirmed_lamp_off"
    ]
    assert kind_of("P144B") == "maker"


def test_three_byte_header() -> None:
    # 48+6B+10+43+01+33 = 13A hex: the sum is 3A.
    found = decode("48 6B 10 43 01 33 00 00 00 00 3A", "older")
    assert (found["10"]["03"]["state"], names(found["10"]["03"])) == ("codes", ["P0133"])
    assert line_older("10", bytes.fromhex("43013300000000"))[-1] == "3A"
    # 87+F1+10+43+01+33 = 1FF hex; a wrong sum behind 8n F1 is damage, behind .. 6B it may be the CRC of SAE J1850.
    assert answer("87 F1 10 43 01 33 00 00 00 00 FF", "10", "03")["state"] == "codes"
    assert answer("87 F1 10 43 01 33 00 00 00 00 FE", "10", "03")["state"] == "damaged"
    assert answer("41 6B 10 43 01 33 00 00 00 00 00", "10", "03")["state"] == "codes"


def test_a_wiped_memory_keeps_its_permanent_code() -> None:
    found = decode("03\r43 00\r07\r47 00\r0A\r4A 01 04 20\r>", "can")[""]
    assert {service: (said["state"], names(said)) for service, said in found.items()} == {
        "03": ("empty", []),
        "07": ("empty", []),
        "0A": ("codes", ["P0420"]),
    }


# -- lines and answers, by the rules


@pytest.mark.parametrize(
    ("text", "unit", "service", "state"),
    [
        ("03\nNO DATA", "", "03", "silent"),
        ("> 07\nno answer\n>", "", "07", "silent"),
        ("03\nUNABLE TO CONNECT", "", "03", "damaged"),
        ("43 01 01 71\nBUFFER FULL", "", "03", "damaged"),
        ("43 00\nSEARCHING...", "", "03", "empty"),
        ("7E8 03 7F 03 11", "7E8", "03", "refused"),
        ("7F 19 31", "", "19 02", "refused"),
        ("19 15\n7F 19 12", "", "19 15", "refused"),
        ("7E8 03 7F 03 78\n7E8 02 43 00", "7E8", "03", "empty"),
        ("18 DA F1 10 02 43 00 AA AA AA AA AA", "10", "03", "empty"),
        ("18DAF110 8 0243 00AAAAAAAAAA", "10", "03", "empty"),
        ("7A2 02 43 00", "other:7A2", "03", "empty"),
        ("7E80243 00", "7E8", "03", "empty"),
        ("7E8 8 02 43 00 AA AA", "7E8", "", "damaged"),
        ("7E8 00 0A 43 04 01 71 01 74 03 00 C1 00", "7E8", "03", "codes"),
        ("7E8 04 43 02 01 71", "7E8", "03", "damaged"),
        ("00A\n0: 43 04 01 71 01 74\n1: 03 00 C1 00", "", "03", "codes"),
        ("00A\n0: 43 04 01 71 01 74\n0: 43 04 01 71 01 74\n1: 03 00 C1 00", "", "03", "damaged"),
        ("03\n43 00\nDE AD", "", "03", "damaged"),
        ("43 00 \u00e9", "", "", "damaged"),
        ("59 02 FF", "", "19 02", "empty"),
        ("59 02", "", "19 02", "damaged"),
        ("59 02 FF 01 71 00", "", "19 02", "damaged"),
        ("59 01 FF 01 00 02", "", "19 01", "data"),
        ("43 01 01 71 01 74", "", "03", "codes"),
        ("43 01 01 71 01 74 05", "", "03", "damaged"),
        ("7E8 02 43 00\n7E9 02 43 00\nDATA ERROR", "7E9", "03", "damaged"),
        ("7E8 02 43 00\n7E9 02 43 00\nDATA ERROR", "7E8", "03", "damaged"),
        ("48 6B 10 43 01 33 00 00 00 00 3A\n48 6B 10 53 01 33 00 00 00 00 4A", "", "03", "damaged"),
        ("000\n0: 43 00", "", "", "damaged"),
        ("03\n7E8 02 53 00", "7E8", "03", "damaged"),
        ("03\n7E8 02 03 00", "7E8", "03", "damaged"),
    ],
)
def test_states(text: str, unit: str, service: str, state: str) -> None:
    assert answer(text, unit, service, "can")["state"] == state


def test_silence_on_older_protocols_is_empty_only_with_a_count_of_zero() -> None:
    none = "01 01\n48 6B 10 41 01 00 07 65 00 71\n03\nNO DATA"
    assert decode(none, "older")["10"]["03"]["state"] == "empty"
    assert "" not in decode(none, "older")
    two = none.replace("41 01 00", "41 01 02")
    assert decode(two, "older")[""]["03"]["state"] == "silent"
    assert "03" not in decode(two, "older")["10"]
    assert answer("01 01\n41 01 00 07 65 00\n03\nNO DATA", "", "03", "can")["state"] == "silent"


def test_requests_and_flow_control_of_a_tester_are_no_data() -> None:
    seen = "7DF 02 01 00\n7E0 30 00 00\n18 DB 33 F1 01 03\n18 DA 10 F1 30 00 00"
    assert decode(seen, "can") == {}


def test_a_clear_in_the_text() -> None:
    assert clear_sent("03\n43 01 01 71\n04\n44\n03\n43 00")
    assert clear_sent("14 FF FF FF")
    assert not clear_sent("03\n04 43 01 01 71 00 00 00")


# -- generated texts


@pytest.mark.parametrize("form", FORMS)
def test_generated_texts_say_what_was_put_in(form: str) -> None:
    for number in range(200):
        made = reply(Random(f"{form} {number}"), form)
        told = {
            unit: {service: (said["state"], said["codes"], said["data"]) for service, said in services.items()}
            for unit, services in decode(made.text, made.protocol).items()
        }
        assert told == made.said, made.text


@pytest.mark.parametrize("form", FORMS)
def test_units_mixed_line_by_line_are_kept_apart(form: str) -> None:
    units = ["7E8", "7EA", "other:701"] if form == "header 11" else ["10", "18", "28"]
    units = units if form.startswith("header") else [""]
    rng = Random(form)
    lists = {unit: [random_code(rng) for _ in range(count)] for unit, count in zip(units, (17, 0, 5), strict=False)}
    mixed = interleave(rng, [list_lines(rng, form, unit, "07", codes) for unit, codes in lists.items()])
    found = decode(PLAIN.text(rng, mixed), "can" if form in CAN_FORMS else "older")
    assert {unit: names(services["07"]) for unit, services in found.items()} == lists


def test_all_codes_in_lists_on_can() -> None:
    for start in range(0, len(ALL_CODES), 255):
        codes = ALL_CODES[start : start + 255]
        text = written([line_11("7E8", frame) for frame in frames(can_list("03", codes), 0x00)])
        assert names(answer(text, "7E8", "03")) == codes


def test_all_codes_in_lists_on_older_protocols() -> None:
    text = written([line_older("10", message) for message in older_lists("07", ALL_CODES)])
    found = answer(text, "10", "07")
    assert (found["state"], names(found)) == ("codes", ALL_CODES)


def test_all_codes_in_status_lists() -> None:
    for start in range(0, len(ALL_CODES), 1000):
        items = [
            (code, number % 256, 255 - number % 256) for number, code in enumerate(ALL_CODES[start : start + 1000])
        ]
        text = written([pairs(frame) for frame in frames(status_list(2, 0xFF, items), 0xCC)])
        assert answer(text, "", "19 02")["codes"] == items


@pytest.mark.parametrize("padding", [None, *PADDING])
@pytest.mark.parametrize("count", range(12))
def test_padding_adds_nothing(count: int, padding: int | None) -> None:
    rng = Random(f"{count} {padding}")
    codes = [random_code(rng) for _ in range(count)]
    text = PLAIN.text(rng, [line_11("7EA", frame) for frame in frames(can_list("0A", codes), padding)])
    found = answer(text, "7EA", "0A")
    assert (found["state"], names(found)) == ("codes" if codes else "empty", codes)


@pytest.mark.parametrize("way", ["drop", "shorten"])
@pytest.mark.parametrize("form", NUMBERED_FORMS)
def test_a_line_lost_or_shortened_never_makes_another_whole_list(form: str, way: str) -> None:
    """One such error in numbered frames gives the truth, damage or nothing, but no other list and no false `empty`.

    Two lines that change places are not held to this: frames with the same number in two messages cannot be told apart.
    """
    damaged = 0
    for number in range(400):
        rng = Random(f"{form} {way} {number}")
        made = reply(rng, form, spoken=False)
        text = spoil_lines(rng, made.text, (way,))
        for unit, services in decode(text, made.protocol).items():
            for service, said in services.items():
                damaged += said["state"] == "damaged"
                if said["state"] in ("codes", "empty"):
                    assert (said["state"], said["codes"]) == made.said[unit][service][:2], text
    assert damaged > 50


@pytest.mark.parametrize("form", FORMS)
def test_no_damage_makes_the_reader_fail(form: str) -> None:
    states = set()
    for number in range(300):
        rng = Random(f"{form} spoilt {number}")
        made = reply(rng, form)
        for services in decode(mutate(rng, made.text), rng.choice(("can", "older", "unknown"))).values():
            for said in services.values():
                states.add(said["state"])
                assert all(re.fullmatch("[PCBU][0-3][0-9A-F]{3}", code) and code != "P0000" for code in names(said))
                assert said["codes"] or said["state"] != "codes"
                assert not (said["codes"] and said["state"] == "empty")
    assert states == {"codes", "empty", "refused", "damaged", "silent", "data"}
