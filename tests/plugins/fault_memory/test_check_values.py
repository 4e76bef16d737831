"""The check values of this check, each with the source of its expected figure.

``calc``: computed independently of this code, from the table's weights. Byte layouts: ISO 15031-6, ISO 15765-2,
ISO 14229-1 through public summaries and open libraries; formulas of parameters: open encyclopaedia ("OBD-II PIDs", two
copies); ``scapy``: the library scapy 2.8.0 (obd, uds, isotp).
"""

from __future__ import annotations

import pytest
from memory_cases import EMPTY, OLD, SIX, engine, memory, sheet, view, with_codes

from loadworthy_plugins.fault_memory import codes as c
from loadworthy_plugins.fault_memory.answers import Answers, Outcome, sort
from loadworthy_plugins.fault_memory.ceilings import at_standard
from loadworthy_plugins.fault_memory.memory import is_known
from loadworthy_plugins.fault_memory.outcomes import has_run, margin, mean_count, scaled
from loadworthy_plugins.fault_memory.pointing import total_trim, trim_exponent
from loadworthy_plugins.fault_memory.readiness import exposure, status_of
from loadworthy_plugins.fault_memory.replies import read
from loadworthy_plugins.fault_memory.snapshots import absolute_load, figures, parsed

SUPPLY, METER, FUEL = "low-pressure-fuel-supply-weak", "air-meter-reads-low", "wrong-fuel"
INTAKE, HIGH = "intake-leak-after-throttle", "fuel-pressure-too-high"


def answers(text: str, protocol: str = "unknown") -> Answers:
    return sort(read(text), protocol, is_known)


def listed(text: str, protocol: str = "unknown") -> list[str]:
    return [str(code) for one in answers(text, protocol).lists for code in one.codes]


@pytest.mark.parametrize(
    ("pair", "code"),
    [("01 71", "P0171"), ("C1 00", "U0100"), ("41 23", "C0123"), ("92 34", "B1234"), ("0A FF", "P0AFF")],
)
def test_1_two_bytes(pair: str, code: str) -> None:  # rule of ISO 15031-6; scapy
    assert c.spelled(*bytes.fromhex(pair)) == code
    assert bytes(c.to_bytes(code)) == bytes.fromhex(pair)


@pytest.mark.parametrize(("code", "pair"), [("P219A", "21 9A"), ("U3FFF", "FF FF"), ("P3400", "34 00")])
def test_2_back_to_bytes(code: str, pair: str) -> None:  # rule of ISO 15031-6
    assert bytes(c.to_bytes(code)) == bytes.fromhex(pair)


def test_2_whose_meaning() -> None:  # rule of ISO 15031-6, makers' service manuals
    assert [c.family_of_meaning(code) for code in ("P33FF", "P3400")] == ["maker", "standard"]


def test_3_one_code_on_can() -> None:  # public post with raw bytes
    (found,) = answers("7E8 04 43 01 01 28 AA AA AA").lists
    assert (found.unit, found.service, found.state, [str(code) for code in found.codes]) == (
        "7E8",
        "03",
        "codes",
        ["P0128"],
    )


def test_4_both_layouts() -> None:  # public post with raw bytes
    assert listed("43 01 33 00 00 00 00", "older") == ["P0133"]
    assert listed("43 02 01 02 01 13", "can") == ["P0102", "P0113"]


def test_5_unknown_layout_by_the_table() -> None:  # rule: the reading whose codes are all listed
    assert listed("43 01 01 71 00 00 00") == ["P0171"]
    assert [is_known(code) for code in ("P0101", "C3100")] == [True, False]


def test_6_two_frames() -> None:  # scapy's builder of ISO 15765-2 messages
    assert listed("7E8 10 0A 43 04 01 71 01 74\n7E8 21 03 00 C1 00 00 00 00") == ["P0171", "P0174", "P0300", "U0100"]


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("7E8 10 0A 43 04 01 71 01 74\n7E8 22 03 00 C1 00 00 00 00", "expected 1 got 2"),
        ("7E8 10 0A 43 04 01 71 01 74", "truncated 6 of 10"),
        ("7E8 21 03 00 C1 00 00 00 00", "orphan"),
    ],
)
def test_7_broken_messages(text: str, why: str) -> None:  # rules of ISO 15765-2
    found = answers(text)
    assert {one.state for one in found.lists} == {"damaged"}
    assert why in " ".join(found.notes)
    seen = view(sheet(raw_replies=text))
    assert max((one.s for one in memory(sheet(raw_replies=text)).present), default=0.0) <= 0.5
    assert [gap.required for id, gap in seen.gaps.items() if id.startswith("memory_damaged")] == [True]


def test_8_seventeen_frames() -> None:  # scapy
    pairs = bytes(byte for n in range(55) for byte in (0x01, n + 1))
    message = bytes((0x43, 55)) + pairs
    assert len(message) == 112
    lines = [f"7E8 10 70 {message[:6].hex(' ')}"]
    rest = message[6:]
    for n in range(16):
        part = rest[7 * n : 7 * n + 7]
        if part:
            lines.append(f"7E8 2{(n + 1) & 15:X} {part.ljust(7, bytes(1)).hex(' ')}")
    assert len(lines) == 17
    assert lines[16].startswith("7E8 20")
    assert listed("\n".join(lines)) == [f"P01{n + 1:02X}" for n in range(55)]


def test_9_status_list() -> None:  # public post with raw bytes, its spelling corrected by the two-bit rule
    (found,) = answers("10 13 59 02 FF 22 74 00\n21 64 03 43 00 64 03 68\n22 00 64 14 4B 00 68 00").lists
    names = [(str(code), c.status_name(code.status or 0, found.mask or 0)) for code in found.codes]
    assert names == [
        ("P2274", "pending"),
        ("P0343", "pending"),
        ("P0368", "pending"),
        ("P144B", "confirmed_lamp_off"),
    ]
    assert c.family_of_meaning("P144B") == "maker"


@pytest.mark.parametrize(
    ("status", "mask", "s"),
    [
        (0x2F, 0xFF, 1.0),
        (0x88, 0xFF, 0.85),
        (0x08, 0xFF, 0.7),
        (0x08, 0x7F, 0.85),
        (0x64, 0xFF, 0.5),
        (0x20, 0xFF, 0.35),
        (0x50, 0xFF, 0.0),
        (0x00, 0xFF, 0.0),
    ],
)
def test_10_status_to_exponent(status: int, mask: int, s: float) -> None:  # ISO 14229-1 bits; exponents are judgement
    assert c.EXPONENTS[c.status_name(status, mask)] == s


def test_11_three_byte_header() -> None:  # byte sum
    found = answers("48 6B 10 43 01 33 00 00 00 00 3A")
    assert [(one.unit, [str(code) for code in one.codes]) for one in found.lists] == [("10", ["P0133"])]
    assert found.notes == ()


def test_12_readiness_of_a_spark_engine() -> None:  # open encyclopaedia
    found = status_of(bytes.fromhex("82 07 65 05"))
    assert (found.lamp, found.codes, found.compression, found.share) == (True, 2, False, 0.5)
    unset = found.supported - found.complete
    assert unset == {"catalyst", "evaporative"}
    assert {"oxygen sensor", "oxygen sensor heater"} <= found.complete


def test_13_readiness_of_a_compression_engine() -> None:  # open encyclopaedia
    found = status_of(bytes.fromhex("00 0E EB 42"))
    assert found.compression
    assert "misfire" not in found.supported
    assert found.supported - found.complete == {"NOx or reduction", "particulate filter"}
    assert found.share == pytest.approx(0.667, abs=0.001)


def test_14_exposure() -> None:  # calc
    first, second = exposure(6, 150e3, 200 * 60, None), exposure(2, 30e3, 45 * 60, None)
    assert first.exposure == pytest.approx(0.60, abs=0.001)
    assert second.exposure == pytest.approx(0.15, abs=0.001)
    assert [first.kind, second.kind] == ["partial", "recent"]


def test_15_a_wiped_memory_counts_once() -> None:  # calc
    seen = view(
        with_codes(
            permanent=("P0420",),
            warm_ups_since_clear=1,
            distance_since_clear="12 km",
            time_since_clear="25 min",
            monitor_status=[{"since_clear": "00 07 65 45"}],
            lamp="off",
        )
    )
    finding = seen.one("memory_age")
    assert dict(finding.bands) == {"erased_just_now": 1.0}
    from memory_cases import host

    assert host().catalogue.rules["fault_memory.memory_age"].bands["erased_just_now"] == {
        "memory-recently-cleared": 40.0
    }
    assert seen.row.state == "unknown"
    assert "recent" in seen.row.why
    assert seen.one("p0420").steps[0].value == 0.7


FRAME_16 = "04 C8, 05 7B, 06 94, 0B C6, 0C 51 40, 0E 8E, 10 3B 60, 42 35 E8"


def test_16_freeze_frame() -> None:  # open encyclopaedia; scapy except for air flow
    found = {name: value for name, (value, _) in figures(parsed(FRAME_16)[0]).items()}
    assert 100 * found["load"] == pytest.approx(78.43, abs=0.01)
    assert found["coolant_temperature"] - 273.15 == pytest.approx(83, abs=0.01)
    assert 100 * found["short_trim_bank_1"] == pytest.approx(15.63, abs=0.01)
    assert found["manifold_pressure"] == 198e3
    assert 60 * found["engine_speed"] == pytest.approx(5200, abs=0.01)
    assert found["ignition_advance"] == pytest.approx(7, abs=0.01)
    assert 1e3 * found["air_flow"] == pytest.approx(152.0, abs=0.01)
    assert found["supply_voltage"] == pytest.approx(13.8, abs=0.01)


def test_17_absolute_load_and_its_ceiling() -> None:  # definition of absolute load, quoted from ISO 15031-5
    found = {name: value for name, (value, _) in figures(parsed(f"{FRAME_16}, 43 01 7A")[0]).items()}
    assert 100 * found["absolute_load"] == pytest.approx(148.24, abs=0.02)
    own = absolute_load(found["air_flow"], found["engine_speed"], 1.998e-3)
    assert 100 * own == pytest.approx(148.28, abs=0.02)
    seen = view(with_codes(("P2177",), freeze_frames=[{"code": "P2177", "bytes": f"{FRAME_16}, 43 01 7A"}]))
    (ceiling,) = seen.ceilings("code_p2177_frame")
    assert 100 * ceiling.steps[1].value == pytest.approx(133.41, abs=0.02)
    # The air that this load stands for at the frame's own speed.
    flow = ceiling.value.at(5200 / 60)
    assert 100 * absolute_load(flow, 5200 / 60, 1.998e-3) == pytest.approx(133.41, abs=0.02)


def test_18_other_parameters() -> None:  # open encyclopaedia
    text = "22 0E 74, 23 05 DC, 34 73 33 7E 40, 5E 04 36, 61 D7, 62 D7, 63 01 90"
    found = {name: value for name, (value, _) in figures(parsed(text)[0]).items()}
    assert found["fuel_pressure_above_manifold"] == pytest.approx(292.3e3, rel=2e-4)
    assert found["rail_pressure_gauge"] == pytest.approx(15e6, rel=2e-4)
    assert found["lambda_sensor_1"] == pytest.approx(0.9000, rel=2e-4)
    assert 1e3 * found["sensor_1_current"] == pytest.approx(-1.75, rel=2e-4)
    assert found["fuel_rate"] * 3.6e6 == pytest.approx(53.9, rel=2e-4)
    assert found["torque_demanded"] == pytest.approx(0.90, rel=2e-4)
    assert found["torque"] == pytest.approx(360.0, rel=2e-4)


def test_19_trims() -> None:  # calc
    total, product = total_trim(0x92 / 128 - 1, 0x8E / 128 - 1)
    assert 100 * total == pytest.approx(25.0, abs=0.002)
    # The bytes' own product, (146/128)(142/128) - 1, is 26.54.
    assert 100 * product == pytest.approx(26.54, abs=0.01)
    assert trim_exponent(0.19) == pytest.approx(0.30, abs=0.002)
    trim = {"region": "load", "long": "19 %", "coolant": "90 degC", "closed_loop": True}
    seen = view(with_codes(distance_since_clear="100 km", trims=[trim]))
    assert seen.ratio(SUPPLY) == pytest.approx(1.866, abs=0.002)


def test_20_one_test_result() -> None:  # public post with raw bytes; scapy
    (found,) = answers("46 3D 98 FE 00 69 80 00 0D 8A", "can").outcomes
    assert scaled(found.scaling, found.value) == (26.25, "Pa")
    assert found.high is not None
    assert scaled(found.scaling, found.high) == (866.5, "Pa")
    assert margin(found) == pytest.approx(0.970, abs=0.001)


def _outcome(scaling: str, *words: str) -> Outcome:
    value, low, high = (int(word.replace(" ", ""), 16) for word in words)
    return Outcome("", 0x21, 0x01, int(scaling, 16), value, low, high)


@pytest.mark.parametrize(
    ("scaling", "words", "value", "unit", "expected"),
    [
        ("17", ("27 12", "00 00", "29 AD"), 100.02, "kPa", 0.063),
        ("0A", ("0F A0", "0C 80", "FF FF"), 0.488, "V", 0.25),
        ("16", ("03 84", "00 00", "04 4C"), 50.0, "degC", 0.182),
        ("96", ("FF 38", "FE 0C", "00 C8"), -20.0, "degC", 0.429),
        ("84", ("FF 9C", "FF 38", "00 C8"), -0.1, "", 0.25),
    ],
)
def test_21_22_scaled_results(
    scaling: str, words: tuple[str, str, str], value: float, unit: str, expected: float
) -> None:  # scapy, unit ids after ISO 15031-5 annex E
    one = _outcome(scaling, *words)
    found = scaled(one.scaling, one.value)
    assert found is not None
    assert found == (pytest.approx(value, abs=0.001), unit)
    assert margin(one) == pytest.approx(expected, abs=0.001)


def test_23_misfire_mean_and_not_run() -> None:  # makers' service manuals
    assert mean_count(4, 30) == pytest.approx(6.6)
    assert not has_run(_outcome("24", "00 00", "00 00", "00 00"))


def test_24_lean_six_cylinder_with_misfire() -> None:  # calc, by an independent script from the table
    seen = view(
        with_codes(("P0171", "P0174"), ("P0171", "P0300"), monitor_status=[{"since_clear": "82 07 65 05"}]),
        vehicle=SIX,
    )
    assert [seen.one("p0171", f"bank {n}").steps[0].value for n in (1, 2)] == [1.0, 0.85]
    assert seen.one("p0300").steps[0].value == 0.5
    # The whole engine's causes; those of a bank count at bank 1, where the stronger code is.
    found = {cause: seen.ratio(cause, "bank 1") for cause in (SUPPLY, METER, FUEL, INTAKE, HIGH)}
    expected = {SUPPLY: 17.66, METER: 10.20, FUEL: 9.366, INTAKE: 8.485, HIGH: 0.20}
    assert found == {cause: pytest.approx(ratio, rel=0.005) for cause, ratio in expected.items()}
    odds = 0.02 / 0.98 * found[SUPPLY]
    assert odds / (1 + odds) == pytest.approx(0.265, abs=0.005)


def test_25_one_group_counts_once() -> None:  # calc
    seen = view(with_codes(("P2187",), ("P2187", "P0171")))
    assert seen.ratio(INTAKE) == pytest.approx(8.0, abs=0.001)
    assert seen.ratio(SUPPLY) == pytest.approx(1.2, abs=0.001)


def test_26_largest_above_and_smallest_below() -> None:  # calc
    seen = view(with_codes(("P0299", "P2263"), ("P2263",)))
    assert seen.ratio("wastegate-stuck-closed") == pytest.approx(0.2825, abs=0.001)
    assert seen.ratio("charge-air-leak-after-compressor") == pytest.approx(4.586, abs=0.001)


def test_27_silence_of_a_young_memory() -> None:  # calc
    counters = {"warm_ups_since_clear": 6, "distance_since_clear": "150 km", "time_since_clear": "200 min"}
    seen = view(sheet(answers=EMPTY, monitor_status=[{"since_clear": "00 07 65 05"}], **counters))
    assert seen.ratio("catalyst-aged") == pytest.approx(0.666, abs=0.002)
    assert seen.ratio("lambda-sensor-fault") == pytest.approx(0.443, abs=0.002)
    assert seen.ratio(SUPPLY) == pytest.approx(0.935, abs=0.002)
    from loadworthy_plugins.fault_memory.silence import silence

    (sheet_,) = seen.case.of("fault_memory")
    from loadworthy_plugins.fault_memory.memory import read_memory

    parts = {one.cause: one for one in silence(seen.case, read_memory(seen.case, sheet_), ())}
    assert parts["catalyst-aged"].coverage == pytest.approx(0.357, abs=0.002)
    assert parts["catalyst-aged"].exponent == pytest.approx(0.214, abs=0.002)
    assert parts["lambda-sensor-fault"].coverage == pytest.approx(0.979, abs=0.002)
    assert parts[SUPPLY].exponent == pytest.approx(0.30, abs=0.002)


@pytest.mark.parametrize(("driven", "ratio"), [("yes", 0.80), ("no", 0.946)])
def test_28_silence_of_a_settled_memory(driven: str, ratio: float) -> None:  # calc
    seen = view(sheet(answers=EMPTY, full_load_since_clear=driven, **OLD))
    assert seen.ratio("catalyst-aged") == pytest.approx(0.15, abs=0.001)
    assert seen.ratio(SUPPLY) == pytest.approx(ratio, abs=0.001)


def test_29_low_supply_halves_circuits() -> None:  # calc
    frame = {"code": "P0107", "bytes": "42 26 48"}
    seen = view(with_codes(("P0107",), ("P0107",), freeze_frames=[frame]))
    assert seen.ratio("manifold-pressure-sensor-fault") == pytest.approx(2.236, abs=0.001)
    assert seen.ratio("wiring-or-ground-fault") == pytest.approx(2.449, abs=0.001)


def test_30_electrical_failure_type() -> None:  # calc
    seen = view(with_codes(("P0087-11",), monitor_status=[{"since_clear": "81 07 65 00"}]))
    assert seen.ratio(SUPPLY) == pytest.approx(2.141, abs=0.001)
    assert seen.ratio("rail-pressure-sensor-fault") == pytest.approx(1.803, abs=0.001)


def test_31_broadcast() -> None:  # the library can-j1939 2.0.12
    (found,) = c.broadcast_faults(bytes.fromhex("44 FF 6E 00 00 05 FF FF"))
    assert found == (110, 0, 5, ("malfunction", "amber"))


def test_31_older_conversion_is_refused() -> None:  # SAE J1939-73 conversion method bit, through can-j1939
    with pytest.raises(ValueError, match="older conversion method"):
        c.broadcast_faults(bytes.fromhex("44 FF 6E 00 00 85 FF FF"))


def test_standard_is_the_lower_of_both() -> None:  # judgement
    from memory_cases import case_of

    plain = case_of()
    assert [one.value for one in at_standard("x", "why", plain, finding=None)] == ["as_received"]
    given = case_of(vehicle=engine(standard_torque={"2000 rpm": "300 Nm", "5000 rpm": "280 Nm"}))
    assert [one.value for one in at_standard("x", "why", given, finding=None)] == ["as_received", "standard"]
