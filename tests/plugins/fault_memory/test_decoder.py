"""The decoder against an independent reader, against what was put in, and against any text at all."""

from __future__ import annotations

import random
from typing import Any

import pytest
from memory_cases import memory, sheet
from oracle_replies import decode
from reply_makers import can_list, frames, line_11, mutate, older_lists, reply, status_list

from loadworthy_plugins.fault_memory.answers import sort
from loadworthy_plugins.fault_memory.code_table import CODES
from loadworthy_plugins.fault_memory.codes import spelled, spelling_fault, to_bytes
from loadworthy_plugins.fault_memory.memory import is_known
from loadworthy_plugins.fault_memory.replies import read

LISTS = ("03", "07", "0A", "19 02", "19 15")
KNOWN = frozenset(CODES)


def ours(text: str, protocol: str) -> dict[str, dict[str, Any]]:
    found: dict[str, dict[str, Any]] = {}
    for one in sort(read(text), protocol, is_known).lists:
        codes = tuple(dict.fromkeys((code.code, code.status, code.failure_type) for code in one.codes))
        if one.service in LISTS:
            found.setdefault(one.unit, {})[one.service] = (one.state, codes)
    return found


def theirs(text: str, protocol: str) -> dict[str, dict[str, Any]]:
    found: dict[str, dict[str, Any]] = {}
    for unit, services in decode(text, protocol, KNOWN).items():
        for service, answer in services.items():
            if service in LISTS and answer["state"] != "data":
                found.setdefault(unit, {})[service] = (answer["state"], tuple(dict.fromkeys(answer["codes"])))
    return found


@pytest.mark.parametrize("block", range(8))
def test_well_formed_replies_read_as_the_independent_reader_has_them(block: int) -> None:
    for n in range(250):
        rng = random.Random(f"well-formed {block} {n}")
        made = reply(rng)
        assert ours(made.text, made.protocol) == theirs(made.text, made.protocol), made.text


def test_every_two_bytes_there_and_back() -> None:
    seen = set()
    for a in range(256):
        for b in range(256):
            code = spelled(a, b)
            if a or b:
                assert to_bytes(code) == (a, b)
                assert not spelling_fault(code)
            seen.add(code)
    assert len(seen) == 65_536
    with pytest.raises(ValueError, match="padding"):
        to_bytes("P0000")


@pytest.mark.parametrize("layout", ["can", "older", "status"])
def test_every_code_through_a_whole_reply(layout: str) -> None:
    every = [spelled(a, b) for a in range(256) for b in range(256) if a or b]
    for at in range(0, len(every), 255):
        part = every[at : at + 255]
        if layout == "can":
            messages = [can_list("03", part)]
        elif layout == "older":
            messages = older_lists("03", part)
        else:
            messages = [status_list(0x02, 0xFF, [(code, 0x2F, 0x11) for code in part])]
        if layout == "older":
            text = "\n".join(
                f"48 6B 10 {one.hex(' ')} {(0x48 + 0x6B + 0x10 + sum(one)) & 0xFF:02X}" for one in messages
            )
        else:
            text = "\n".join(" ".join(line_11("7E8", frame)) for one in messages for frame in frames(one, 0xAA))
        (found,) = [one for one in sort(read(text), "unknown", is_known).lists if one.codes]
        assert [code.code for code in found.codes] == part
        assert found.state == "codes"


ALPHABET = "0123456789ABCDEFabcdef \t\r\n>:,$xX?GZ.-Ж"
HEADS = (
    *("43 01 ", "7E8 04 43 ", "7E8 10 0A 43 04 ", "7E8 21 ", "48 6B 10 43 ", "87 F1 10 43 ", "59 02 FF "),
    *("0: 43 02 ", "014\n", "03\n", "18 DA F1 10 06 47 ", "46 21 80 24 ", "41 01 ", "42 02 00 ", "7F 03 "),
    *("4A 0", "NO DATA\n"),
)


def short_text(rng: random.Random) -> str:
    lines = []
    for _ in range(rng.randint(1, 3)):
        head = rng.choice(HEADS) if rng.random() < 0.8 else ""
        body = "".join(rng.choices(ALPHABET, weights=(*(6,) * 22, *(1,) * (len(ALPHABET) - 22)), k=rng.randint(0, 16)))
        lines.append(head + body)
    return "\n".join(lines)


@pytest.mark.parametrize("block", range(10))
def test_no_text_breaks_it_and_no_code_is_invented(block: int) -> None:
    """20 000 random or spoilt texts a block: nothing raises, and every code's two bytes were received side by side."""
    rng = random.Random(f"any text {block}")
    for n in range(20_000):
        text = short_text(rng) if n % 50 else mutate(rng, reply(rng).text)
        record = read(text)
        found = sort(record, rng.choice(("can", "older", "unknown")), is_known)
        received: dict[str, list[bytes]] = {}
        for message in record.messages:
            received.setdefault(message.unit, []).append(message.data)
        for one in found.lists:
            for code in one.codes:
                pair = bytes(to_bytes(code.code))
                assert any(pair in data for data in received[one.unit]), text
        for snapshot in found.snapshots:
            assert all(any(part in data for data in received[snapshot.unit]) for _, part in snapshot.data), text
        for (unit, _), content in found.parameters.items():
            assert any(content in data for data in received[unit]), text


@pytest.mark.parametrize("block", range(4))
def test_a_frame_that_is_missing_never_leaves_a_whole_list(block: int) -> None:
    rng = random.Random(f"missing frame {block}")
    for _ in range(300):
        codes = [spelled(rng.randrange(1, 256), rng.randrange(256)) for _ in range(rng.randint(3, 20))]
        lines = [
            " ".join(line_11("7E8", frame)) for frame in frames(can_list("03", codes), rng.choice((None, 0, 0xAA)))
        ]
        at = rng.randrange(len(lines))
        text = "\n".join(lines[:at] + lines[at + 1 :])
        (answer,) = [one for one in sort(read(text), "unknown", is_known).lists if one.unit == "7E8"]
        assert answer.state == "damaged"
        assert {code.code for code in answer.codes} <= set(codes)


@pytest.mark.parametrize("block", range(4))
def test_any_text_becomes_a_memory(block: int) -> None:
    rng = random.Random(f"memory {block}")
    for _ in range(60):
        text = mutate(rng, reply(rng).text) if rng.random() < 0.7 else short_text(rng)
        # A case holds no control characters but line ends.
        text = "\n".join("".join(one for one in line if one.isprintable()) for line in text.splitlines())
        if not text.strip():
            continue
        found = memory(sheet(raw_replies=text, protocol=rng.choice(("can", "older", "unknown"))))
        assert all(0.0 < one.s <= 1.0 for one in found.present)
        assert 0.0 <= found.age.exposure <= 1.0


def test_a_request_for_a_frame_is_no_empty_list() -> None:
    """02 43 00 asks for parameter 43 of frame 0, or is a frame of two bytes that says that there is no code."""
    asked = sort(read("02 43 00"), "unknown", is_known).lists
    assert [(one.service, one.state) for one in asked] == [("03", "damaged")]
    told = sort(read("03\n02 43 00"), "unknown", is_known).lists
    assert [(one.service, one.state) for one in told] == [("03", "empty")]


def test_a_line_that_lost_a_byte_is_not_read_by_the_other_layout() -> None:
    for text in ("43 01 33 00 00 00", "43 00 00 00"):
        assert [one.state for one in sort(read(text), "unknown", is_known).lists] == ["damaged"]


def test_padding_after_a_surplus_code_is_no_code() -> None:
    (found,) = sort(read("43 01 01 71 01 74 AA AA"), "can", is_known).lists
    assert [code.code for code in found.codes] == ["P0171", "P0174"]
    assert "more codes than the count" in found.why
