"""Photos and papers: what is attached, what check says of them, and that no name makes it hang or tell secrets."""

from __future__ import annotations

import hashlib
import os
import sys
import time
from pathlib import Path
from typing import Any

import pytest

from loadworthy.case import Attached, Case, Sheet
from loadworthy.cli import run
from loadworthy.recording import papers
from loadworthy.recording.answers import AnswerError
from loadworthy.recording.papers import attach, examine

CONTENT = b"a photo"
DIGEST = hashlib.sha256(CONTENT).hexdigest()


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    inside = tmp_path / "cases"
    (inside / "photos").mkdir(parents=True)
    (inside / "photos" / "a.jpg").write_bytes(CONTENT)
    (tmp_path / "secret.txt").write_bytes(CONTENT)
    return inside


def examined(folder: Path, *files: Attached) -> tuple[list[str], list[str]]:
    import datetime

    sheet = Sheet("bench", "s", datetime.date(2026, 5, 4), file=files)
    faults, notes = examine(Case(sheets=(sheet,), path=str(folder / "car.toml")))
    return [fault.code for fault in faults], [note.code for note in notes]


def test_a_file_is_attached_by_its_path_from_the_case(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    expected = {"path": "photos/a.jpg", "sha256": DIGEST}
    assert attach(str(folder / "photos" / "a.jpg"), str(folder / "car.toml")) == expected
    monkeypatch.chdir(folder / "photos")
    assert attach("a.jpg", "../car.toml") == expected


@pytest.mark.parametrize(
    "name", ["photos", "missing.jpg", "../secret.txt", "/dev/zero", "/dev/null", "a\0b", "", "pipe", "loop"]
)
def test_what_cannot_be_attached(folder: Path, name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(folder)
    os.mkfifo("pipe")
    os.symlink("loop", "loop")
    with pytest.raises(AnswerError):
        attach(name, "car.toml")


def test_same_changed_missing(folder: Path) -> None:
    a = Attached("photos/a.jpg", DIGEST)
    assert examined(folder, a, Attached("photos/a.jpg")) == ([], [])
    assert examined(folder, Attached("b.jpg", DIGEST), Attached("c.jpg")) == ([], ["attached-missing"] * 2)
    (folder / "photos" / "a.jpg").write_bytes(CONTENT + b"!")
    assert examined(folder, a) == (["attached-changed"], [])
    assert examined(folder, Attached("photos/a.jpg"), a) == (["attached-changed"], [])


@pytest.mark.parametrize(
    "path",
    ["../secret.txt", "photos/../../secret.txt", "..\\secret.txt", "/etc/passwd", "link.txt", "up/secret.txt", "."],
)
@pytest.mark.parametrize("digest", [DIGEST, "0" * 64, ""])
def test_nothing_outside_the_folder_is_looked_for(
    folder: Path, path: str, digest: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    (folder / "link.txt").symlink_to(folder.parent / "secret.txt")
    (folder / "up").symlink_to(folder.parent)
    opened: list[Any] = []
    monkeypatch.setattr(papers.os, "open", lambda name, *_: opened.append(name))
    # The same words whether the digest is right, wrong or not given: nothing can be learnt.
    assert examined(folder, Attached(path, digest)) == ([], ["attached-outside"])
    assert opened == []


def test_pipes_devices_folders_and_loops_are_not_read(folder: Path) -> None:
    os.mkfifo(folder / "pipe")
    (folder / "loop").symlink_to("loop")
    (folder / "zero").symlink_to("/dev/zero")
    started = time.monotonic()
    for name in ("pipe", "loop", "photos", "x" * 5000, "a\0b"):
        faults, notes = examined(folder, Attached(name, DIGEST), Attached(name))
        assert faults == []
        assert len(notes) == 2
        assert set(notes) <= {"attached-unread", "attached-missing", "attached-outside"}
    assert examined(folder, Attached("zero", DIGEST)) == ([], ["attached-outside"])
    assert time.monotonic() - started < 5.0


def test_huge_files_are_not_read(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with open(folder / "huge.bin", "wb") as file:
        file.truncate(50_000_000_000)
    started = time.monotonic()
    assert examined(folder, Attached("huge.bin", DIGEST)) == ([], ["attached-unread"])
    assert time.monotonic() - started < 2.0
    monkeypatch.setattr(papers, "MAX_TOTAL", len(CONTENT) + 1)
    (folder / "b.jpg").write_bytes(CONTENT)
    both = Attached("photos/a.jpg", DIGEST), Attached("b.jpg", DIGEST)
    assert examined(folder, *both) == ([], ["attached-unread"])


def test_a_file_is_read_in_pieces(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(papers, "_PIECE", 2)
    assert examined(folder, Attached("photos/a.jpg", DIGEST)) == ([], [])


def test_no_permission_is_a_note(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> int:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(papers.os, "open", refuse)
    assert examined(folder, Attached("photos/a.jpg", DIGEST)) == ([], ["attached-unread"])


def test_check_opens_them_and_register_never(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    case = folder / "car.toml"
    photo = f'{{path = "photos/a.jpg", sha256 = "{DIGEST}"}}'
    case.write_text(f"[[compression]]\ndate = 2026-05-04\nfile = [{photo}, 'b.jpg']\n")
    assert run(["check", str(case)]) == 0
    assert "b.jpg: there is no such file" in " ".join(capsys.readouterr().out.split())
    (folder / "photos" / "a.jpg").write_bytes(b"another")
    assert run(["check", str(case)]) == 2
    assert "photos/a.jpg was changed since it was attached" in " ".join(capsys.readouterr().err.split())
    names: list[str] = []
    watching = True

    def watch(event: str, arguments: tuple[Any, ...]) -> None:
        if watching and event == "open":
            names.append(str(arguments[0]))

    sys.addaudithook(watch)
    assert run(["register", str(case)]) == 0
    watching = False
    assert str(case) in names
    assert not any("photos" in name or "b.jpg" in name for name in names)
