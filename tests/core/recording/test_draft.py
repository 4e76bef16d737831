"""The table being written, in the file: nothing else changes, nothing is lost, nothing is left that cannot be read."""

from __future__ import annotations

import errno
import os
import threading
from pathlib import Path
from typing import Any

import pytest
from recording.benched import CATALOGUE, VEHICLE, case_of, check, draft, known, rows, written

from loadworthy import CaseError
from loadworthy.casefile import append
from loadworthy.recording.draft import Draft, is_working_id, under_way

LINES: list[tuple[tuple[str | int, ...], Any]] = [
    (("date",), "2026-05-04"),
    (("must",), "said"),
    (("grip",), "12 bar"),
    (("each", "1"), "11 bar"),
    (("each", "2"), ["12 bar", "12.1 bar"]),
    (("points", 0, "load"), "1 kN"),
    (("points", 0, "word"), "rough"),
    (("points", 1, "load"), "2 kN"),
    (("pull", "2000 rpm"), "300 N m"),
]
HAND = {
    "date": "2026-05-04",
    "must": "said",
    "grip": "12 bar",
    "each": {"1": "11 bar", "2": ["12 bar", "12.1 bar"]},
    "points": [{"load": "1 kN", "word": "rough"}, {"load": "2 kN"}],
    "pull": {"2000 rpm": "300 N m"},
}


def by_hand(folder: Path, *sheets: dict[str, Any]) -> Path:
    path = written(folder, VEHICLE, name="hand.toml")
    for sheet in sheets:
        append(path, "bench", sheet, catalogue=CATALOGUE)
    return path


@pytest.mark.parametrize("newline", ["\n", "\r\n"])
@pytest.mark.parametrize("start", ["", "\ufeff"])
@pytest.mark.parametrize("end", ["\n", "# the end", "[plan] # empty\n"])
def test_line_by_line_equals_by_hand_and_keeps_every_byte(tmp_path: Path, newline: str, start: str, end: str) -> None:
    before = (start + VEHICLE + end).replace("\n", newline)
    path = written(tmp_path, before)
    one = draft(path)
    for at, value in LINES:
        assert one.try_out(at, value).faults == ()
        one.set(at, value)
        assert case_of(path).sheets[0].unfinished
        assert path.read_bytes().startswith(before.encode())
    case = one.finish()
    assert not case.sheets[0].unfinished
    assert case.digest == case_of(path).digest == case_of(by_hand(tmp_path, HAND)).digest
    assert "unfinished" not in path.read_text(encoding="utf-8")
    after = path.read_bytes().decode()
    assert newline == "\n" or "\n" not in after.replace("\r\n", "")


def test_a_working_id_lasts_as_long_as_it_is_needed(tmp_path: Path) -> None:
    path = written(tmp_path, VEHICLE)
    one = draft(path)
    one.set(("date",), "2026-05-04")
    id = rows(path, "bench")[0]["id"]
    assert is_working_id(id, "bench")
    one.set(("must",), "said")
    append(path, "void", {"sheet": id, "why": "wrong", "who": "A", "date": "2026-05-05"}, catalogue=CATALOGUE)
    one.finish()
    assert rows(path, "bench")[0]["id"] == id
    assert case_of(path).voids[0].sheet == id
    named = draft(path)
    named.set_all({"date": "2026-05-04", "must": "said", "id": "mine"}, finished=False)
    named.finish()
    assert rows(path, "bench")[1]["id"] == "mine"


def test_two_that_begin_alike_do_not_meet(tmp_path: Path) -> None:
    path = written(tmp_path, VEHICLE)
    both = draft(path), draft(path)
    for one in both:
        one.set(("date",), "2026-05-04")
    both[0].set(("must",), "first")
    both[1].set(("must",), "second")
    both[0].set(("grip",), "12 bar")
    for one in both:
        one.finish()
    assert [row.get("must") for row in rows(path, "bench")] == ["first", "second"]
    assert [row.get("grip") for row in rows(path, "bench")] == ["12 bar", None]


def test_two_events_that_begin_alike_do_not_meet(tmp_path: Path) -> None:
    path = written(tmp_path, VEHICLE)
    both = draft(path, "event"), draft(path, "event")
    for one in both:
        one.set(("kind",), "shock")
    both[0].set(("date",), "2026-05-04")
    both[1].set(("date",), "2026-05-05")
    both[0].set(("note",), "hard")
    for one in both:
        one.finish()
    assert [(event.date.day, event.note) for event in case_of(path).events] == [(4, "hard"), (5, "")]


def test_equal_sheets_are_refused_when_finished_and_nothing_is_lost(tmp_path: Path) -> None:
    path = by_hand(tmp_path, {"date": "2026-05-04", "must": "said"})
    again = draft(path)
    again.set_all({"date": "2026-05-04", "must": "said"}, finished=False)
    with pytest.raises(CaseError, match="entered twice"):
        again.finish()
    assert case_of(path).sheets[-1].unfinished or case_of(path).sheets[0].unfinished
    again.set_all({"id": "second"}, finished=True)
    assert sorted(sheet.id for sheet in case_of(path).sheets)[-1] == "second"


def test_what_is_missing_is_refused_only_at_the_end(tmp_path: Path) -> None:
    path = written(tmp_path, VEHICLE)
    one = draft(path)
    one.set(("date",), "2026-05-04")
    assert [fault.place for fault in one.try_all({}, finished=True).faults] == [""]
    before = path.read_bytes()
    with pytest.raises(CaseError, match="must is missing"):
        one.finish()
    assert path.read_bytes() == before
    assert under_way(str(path), known("bench")) == [one.values]
    resumed = draft(path, values=one.values)
    resumed.set(("must",), "said")
    resumed.finish()
    assert under_way(str(path), known("bench")) == []


def test_a_trial_tells_faults_and_what_is_unusual_and_writes_nothing(tmp_path: Path) -> None:
    path = written(tmp_path, VEHICLE)
    one = draft(path)
    one.set(("date",), "2026-05-04")
    before = path.read_bytes()
    wrong = one.try_out(("each", "1"), "12 bar abs")
    assert [(fault.place, fault.code, fault.line) for fault in wrong.faults] == [("each.1", "bad-quantity", None)]
    odd = one.try_out(("grip",), "20 bar")
    assert [note.code for note in odd.notes] == ["unusual"]
    assert "8.00 bar gauge and 16.0 bar gauge" in odd.notes[0].problem
    assert one.try_out(("grip",), "12 bar") == ((), ())
    assert path.read_bytes() == before


def test_taking_out(tmp_path: Path) -> None:
    path = written(tmp_path, VEHICLE)
    one = draft(path)
    for at, value in LINES:
        one.set(at, value)
    one.take_out(("each", "1"))
    assert rows(path, "bench")[0]["each"] == {"2": ["12 bar", "12.1 bar"]}
    one.take_out(("each", "2"))
    one.take_out(("points", 1, "load"))
    assert "each" not in rows(path, "bench")[0]
    assert rows(path, "bench")[0]["points"] == [{"load": "1 kN", "word": "rough"}]


def test_facts_of_the_vehicle(tmp_path: Path) -> None:
    path = written(tmp_path)
    facts = draft(path, "vehicle")
    facts.set(("build",), "light")
    facts.set(("wheels",), 3)
    assert path.read_text(encoding="utf-8").startswith(
        '# our car\nname = "a car"\n\n[vehicle]\nbuild = "light" # by the papers\nwheels = 3\n'
    )
    assert facts.try_out(("wheels",), 1000).faults[0].place == "vehicle.wheels"
    plan = draft(path, "plan")
    plan.set(("goal",), "power")
    assert path.read_text(encoding="utf-8").endswith('\n[plan]\ngoal = "power"\n')


def test_a_row_of_facts_is_written_once_it_is_complete(tmp_path: Path) -> None:
    path = written(tmp_path, VEHICLE)
    facts = draft(path, "vehicle")
    first = facts.try_out(("spots", 0, "word"), "rough")
    assert first.incomplete
    facts.wait(("spots", 0, "word"), "rough")
    assert path.read_text(encoding="utf-8") == VEHICLE
    facts.set(("spots", 0, "load"), "1 kN")
    assert case_of(path).vehicle["spots"][0]["word"] == "rough"
    assert facts.waiting == {}


def test_others_write_meanwhile(tmp_path: Path) -> None:
    path = written(tmp_path, VEHICLE)
    one = draft(path)

    def others() -> None:
        for number in range(25):
            append(path, "event", {"kind": f"e{number}", "date": "2026-05-04"}, catalogue=CATALOGUE)

    thread = threading.Thread(target=others)
    thread.start()
    one.set(("date",), "2026-05-04")
    for number in range(25):
        one.set(("each", str(number)), f"{number + 1} bar")
    thread.join()
    one.set(("must",), "said")
    case = one.finish()
    assert len(case.events) == 25
    assert len(case.sheets[0].get("each")) == 25


def test_a_table_that_somebody_finished_or_deleted_is_not_written_to(tmp_path: Path) -> None:
    path = written(tmp_path, VEHICLE)
    one = draft(path)
    one.set_all({"date": "2026-05-04", "must": "said"}, finished=False)
    other = Draft(str(path), known("bench"), check, one.values)
    other.finish()
    before = path.read_bytes()
    with pytest.raises(CaseError, match="no longer in the file"):
        one.set(("grip",), "12 bar")
    assert path.read_bytes() == before


def test_a_key_that_changed_meanwhile_is_not_overwritten(tmp_path: Path) -> None:
    path = written(tmp_path, VEHICLE)
    mine, other = draft(path, "plan"), draft(path, "plan")
    other.set(("torque", "2000 rpm"), "300 N m")
    with pytest.raises(CaseError, match="at the same time"):
        mine.set_all({"torque": {"3000 rpm": "310 N m"}}, finished=False)


def test_a_broken_file_is_not_made_worse(tmp_path: Path) -> None:
    path = written(tmp_path, VEHICLE)
    one = draft(path)
    one.set(("date",), "2026-05-04")
    broken = path.read_bytes() + b"\nnonsense = 1\n"
    path.write_bytes(broken)
    for change in (lambda: one.try_out(("must",), "x"), lambda: one.set(("must",), "x"), one.finish):
        with pytest.raises(CaseError):
            change()
    assert path.read_bytes() == broken


def test_a_read_only_file_stays_as_it_is(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = written(tmp_path, VEHICLE)
    real = os.access
    # Whoever may do anything is refused nothing by the mode alone.
    monkeypatch.setattr(os, "access", lambda name, mode: mode != os.W_OK and real(name, mode))
    with pytest.raises(CaseError, match="read-only"):
        draft(path).set(("date",), "2026-05-04")
    assert path.read_text(encoding="utf-8") == VEHICLE


@pytest.mark.parametrize("failing", ["fsync", "replace"])
def test_no_room_on_the_disk_loses_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, failing: str) -> None:
    path = written(tmp_path, VEHICLE)
    one = draft(path)
    one.set(("date",), "2026-05-04")
    before = path.read_bytes()

    def full(*_: Any) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with monkeypatch.context() as patch:
        patch.setattr(os, failing, full)
        with pytest.raises(CaseError, match="No space left"):
            one.set(("must",), "said")
    assert path.read_bytes() == before
    assert one.get(("must",)) is None
    assert sorted(p.name for p in tmp_path.iterdir()) == ["car.toml", "car.toml.lock"]
    one.set(("must",), "said")
    assert one.finish().sheets


def test_a_file_at_its_largest_takes_no_more(tmp_path: Path) -> None:
    path = written(tmp_path, VEHICLE + "#" * (4_000_000 - len(VEHICLE) - 10) + "\n")
    with pytest.raises(CaseError, match="longer than a case may be"):
        draft(path).set(("date",), "2026-05-04")
    assert case_of(path).sheets == ()
