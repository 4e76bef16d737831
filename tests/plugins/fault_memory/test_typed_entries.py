"""What a person types wrongly is told whole and once, with what to write."""

from __future__ import annotations

from typing import Any

import pytest
from tests.plugins.fault_memory.memory_cases import clean, memory, sheet, view


def lost(**fields: Any) -> str:
    (gap,) = (gap for id, gap in view(sheet(**fields)).gaps.items() if id.startswith("memory_damaged"))
    return gap.text


def test_every_lost_part_is_told() -> None:
    text = lost(
        stored=[{"code": "PO171"}, {"code": "P0300", "status": "2G"}],
        monitor_status=[{"since_clear": "00 07 65"}],
        freeze_frames=[{"code": "P030", "bytes": "05 7F"}],
        test_results=[{"monitor": "A1", "test": "0B", "value": "12345"}],
    )
    for words in ("PO171", '"2G"', '"00 07 65"', "P030 is no code", '"12345"'):
        assert words in text


def test_like_faults_share_one_remedy_and_are_counted() -> None:
    text = lost(stored=[{"code": f"Q{n:04d}"} for n in range(10_000)])
    assert text.count("write a letter") == 1
    assert "Q0000 is no code, Q0001 is no code" in text
    assert "and 9994 more; write a letter" in text


def test_what_is_lost_is_told_once() -> None:
    found = view(sheet(stored=[{"code": "PO171"}]))
    every = [" ".join(str(getattr(one, key, "")) for key in ("text", "reason", "why")) for one in found.results]
    assert sum("PO171" in text for text in every) == 1


@pytest.mark.parametrize(
    ("code", "words"),
    [
        ("", "an empty text is no code"),
        ("P0300, P0301", "write one row for each"),
        ("X" * 400, "... is no code"),
    ],
)
def test_what_to_write_instead(code: str, words: str) -> None:
    text = lost(stored=[{"code": code}])
    assert words in text
    assert len(text) < 200


def test_ten_thousand_lines_of_no_data_make_one_short_note() -> None:
    note = view(clean(raw_replies="\n".join(f"hello world {n}" for n in range(10_000)))).one("record").text
    assert note.startswith("line 1 is no data: hello world 0; line 2")
    assert "and 9994 more" in note
    assert len(note) < 400


def test_a_short_parameter_of_a_freeze_frame_shifts_no_other() -> None:
    """Speed 0C has two bytes: with one of them missing, 04 B8 would have become part of it."""
    frames = [{"code": "P0300", "bytes": "0C 2F, 04 B8, 05 7F 00, 43 01 7A"}]
    found = memory(clean(freeze_frames=frames))
    (frame,) = found.frames
    assert sorted(frame.figures) == ["absolute_load", "coolant_temperature", "load"]
    assert any("parameter 0C has 2 bytes, 1 is given" in note for note in found.notes)
