"""Appending: no byte before it changes, nothing is lost by two writers or by a kill at any moment."""

from __future__ import annotations

import os
import random
import signal
import stat
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest
from filelock import FileLock

from loadworthy import CaseError
from loadworthy.casefile import append, dump, load, write
from support import DEMOS, bundled

DEMO = next(p for p in DEMOS if p.stem == "petrol-six-clear")
EVENT = {"kind": "overheating", "date": "2026-05-05", "note": 'said "hot", 30 °C\tback\\slash'}

WRITER = """
import sys, tomllib
sys.path.insert(0, {tests!r})
from support import bundled
from loadworthy.casefile import append
path, name, count = sys.argv[1], sys.argv[2], int(sys.argv[3])
catalogue = bundled().catalogue
print("ready", flush=True)
for number in range(count):
    append(path, "event", {{"kind": f"{{name}}-{{number}}", "date": "2026-05-05"}}, catalogue=catalogue)
    print(number, flush=True)
"""


def writer(path: Path, name: str, count: int) -> subprocess.Popen[str]:
    code = WRITER.format(tests=str(Path(__file__).parents[2]))
    command = [sys.executable, "-c", code, str(path), name, str(count)]
    return subprocess.Popen(command, stdout=subprocess.PIPE, text=True)


@pytest.mark.parametrize("tail", [b"", b"\n", b"# no line end"])
@pytest.mark.parametrize("newline", [b"\n", b"\r\n"])
def test_every_byte_before_the_new_table_stays(tmp_path: Path, tail: bytes, newline: bytes) -> None:
    path = tmp_path / "car.toml"
    before = (b"# kept\n" + DEMO.read_bytes() + tail).replace(b"\n", newline)
    path.write_bytes(before)
    append(path, "event", EVENT, catalogue=bundled().catalogue)
    after = path.read_bytes()
    assert after.startswith(before)
    assert newline == b"\n" or b"\n" not in after.replace(b"\r\n", b"")
    event = load(path, catalogue=bundled().catalogue).events[0]
    assert (event.kind, event.note) == ("overheating", EVENT["note"])


def test_a_sheet_with_tables_and_lists_is_appended(tmp_path: Path) -> None:
    path = tmp_path / "car.toml"
    path.write_bytes(DEMO.read_bytes())
    sheet = {
        "date": "2026-05-06",
        "dry_reading": {"1": "12.1 bar", "2": ["12.0 bar", "12.2 bar"]},
        "test_order": [1, 2],
        "throttle_state": "wide_open",
    }
    before = load(path, catalogue=bundled().catalogue).sheets
    append(path, "compression", sheet, catalogue=bundled().catalogue)
    assert len(load(path, catalogue=bundled().catalogue).sheets) == len(before) + 1


def test_a_refused_table_leaves_the_file_alone(tmp_path: Path) -> None:
    path = tmp_path / "car.toml"
    path.write_bytes(DEMO.read_bytes())
    with pytest.raises(CaseError, match="has no unit"):
        append(path, "compression", {"date": "2026-05-06", "dry_reading": {"1": 12.1}}, catalogue=bundled().catalogue)
    assert path.read_bytes() == DEMO.read_bytes()
    assert [p.name for p in tmp_path.iterdir() if not p.name.endswith(".lock")] == ["car.toml"]


def test_links_are_followed_and_modes_kept(tmp_path: Path) -> None:
    real, link = tmp_path / "real.toml", tmp_path / "link.toml"
    real.write_bytes(b"")
    real.chmod(0o640)
    link.symlink_to(real)
    append(link, "event", EVENT, catalogue=bundled().catalogue)
    assert link.is_symlink()
    assert stat.S_IMODE(real.stat().st_mode) == 0o640
    assert load(real, catalogue=bundled().catalogue).events


def test_dump_writes_what_load_reads(tmp_path: Path) -> None:
    catalogue = bundled().catalogue
    case = load(DEMO, catalogue=catalogue)
    dump(case, tmp_path / "copy.toml", catalogue=catalogue)
    again = load(tmp_path / "copy.toml", catalogue=catalogue)
    assert [s.values for s in again.sheets] == [s.values for s in case.sheets]


def test_two_writers_lose_nothing(tmp_path: Path) -> None:
    path = tmp_path / "car.toml"
    path.write_bytes(DEMO.read_bytes())
    both = [writer(path, name, 15) for name in ("left", "right")]
    for process in both:
        process.communicate(timeout=120)
        assert process.returncode == 0
    kinds = {event.kind for event in load(path, catalogue=bundled().catalogue).events}
    assert kinds == {f"{name}-{n}" for name in ("left", "right") for n in range(15)}


def test_a_kill_at_any_moment_loses_no_accepted_table(tmp_path: Path) -> None:
    chance = random.Random(20260504)
    catalogue = bundled().catalogue
    for attempt in range(12):
        path = tmp_path / f"car-{attempt}.toml"
        path.write_bytes(DEMO.read_bytes())
        process = writer(path, "k", 10_000)
        assert process.stdout is not None
        assert process.stdout.readline() == "ready\n"
        time.sleep(chance.uniform(0.0, 0.25))
        os.kill(process.pid, signal.SIGKILL)
        accepted = [line for line in process.stdout.read().splitlines() if line]
        process.wait()
        process.stdout.close()
        data = path.read_bytes()
        assert data.startswith(DEMO.read_bytes())
        events = load(path, catalogue=catalogue).events
        assert len(events) >= len(accepted)
        assert {e.kind for e in events} == {f"k-{n}" for n in range(len(events))}


@pytest.mark.parametrize(
    "table",
    [{**EVENT, "note": None}, {**EVENT, "note": object()}, {**EVENT, "note": "\ud800"}, {1: "x"}, [1]],
    ids=["none", "object", "surrogate", "number as key", "list"],
)
def test_what_no_file_can_hold_is_a_fault(tmp_path: Path, table: Any) -> None:
    path = tmp_path / "car.toml"
    path.write_bytes(b"name = 'x'\n")
    with pytest.raises(CaseError, match="no case file can hold"):
        append(path, "event", table, catalogue=bundled().catalogue)
    assert path.read_bytes() == b"name = 'x'\n"


@pytest.mark.parametrize("before", [b'event = [{kind = "a", date = 2026-05-05}]\n', b"event = 1\n", b"[event]\n"])
def test_a_section_written_in_another_way_says_so(tmp_path: Path, before: bytes) -> None:
    path = tmp_path / "car.toml"
    path.write_bytes(before)
    with pytest.raises(CaseError, match=r"write each as \[\[event\]\]"):
        append(path, "event", EVENT, catalogue=bundled().catalogue)
    assert path.read_bytes() == before


def test_a_missing_file_or_folder_leaves_nothing_behind(tmp_path: Path) -> None:
    catalogue = bundled().catalogue
    for path in (tmp_path / "none.toml", tmp_path / "no folder" / "none.toml"):
        with pytest.raises(CaseError, match="no such file"):
            append(path, "event", EVENT, catalogue=catalogue)
    with pytest.raises(CaseError, match="no such folder"):
        dump(load(DEMO, catalogue=catalogue), tmp_path / "no folder" / "none.toml", catalogue=catalogue)
    assert list(tmp_path.iterdir()) == []


def test_what_a_killed_writer_left_is_swept_by_the_next(tmp_path: Path) -> None:
    path = tmp_path / "car.toml"
    path.write_bytes(b"")
    left, other = tmp_path / ".car.toml.77-0123abcd.tmp", tmp_path / ".car.toml.old.77-0123abcd.tmp"
    left.write_bytes(b"half")
    other.write_bytes(b"of another file")
    append(path, "event", EVENT, catalogue=bundled().catalogue)
    assert not left.exists()
    assert other.exists()


def test_a_locked_file_is_refused_in_time(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "car.toml"
    path.write_bytes(DEMO.read_bytes())
    monkeypatch.setattr(write, "LOCK_TIMEOUT", 0.2)
    catalogue = bundled().catalogue
    case = load(path, catalogue=catalogue)
    with FileLock(f"{path}.lock"):
        with pytest.raises(CaseError, match="somebody else"):
            append(path, "event", EVENT, catalogue=catalogue)
        with pytest.raises(CaseError, match="somebody else"):
            dump(case, path, catalogue=catalogue)
    assert path.read_bytes() == DEMO.read_bytes()


def test_a_write_that_fails_leaves_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "car.toml"
    path.write_bytes(DEMO.read_bytes())

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(write.os, "fsync", full)
    with pytest.raises(CaseError, match="No space left"):
        append(path, "event", EVENT, catalogue=bundled().catalogue)
    assert path.read_bytes() == DEMO.read_bytes()
    assert sorted(p.name for p in tmp_path.iterdir()) == ["car.toml", "car.toml.lock"]


def test_a_new_file_gets_the_mode_of_the_umask(tmp_path: Path) -> None:
    old = os.umask(0o027)
    try:
        write.replace(tmp_path / "new.toml", b"")
    finally:
        os.umask(old)
    assert stat.S_IMODE((tmp_path / "new.toml").stat().st_mode) == 0o640


def test_a_read_only_file_stays(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "car.toml"
    path.write_bytes(b"")
    monkeypatch.setattr(write.os, "access", lambda *_: False)  # root may write to everything
    with pytest.raises(CaseError, match="read-only"):
        append(path, "event", EVENT, catalogue=bundled().catalogue)
    assert path.read_bytes() == b""


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes here")
def test_nothing_takes_the_place_of_a_pipe_or_device(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    with pytest.raises(OSError, match="no ordinary file"):
        write.replace(pipe, b"text")
    with pytest.raises(CaseError, match="no ordinary file"):
        write.dump({"name": "car"}, pipe)
    assert stat.S_ISFIFO(pipe.stat().st_mode)
