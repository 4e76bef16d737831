"""How far long work has come is told on a terminal, and leaves nothing behind."""

from __future__ import annotations

import io
import os
import pty
import subprocess
import sys
from typing import TYPE_CHECKING

import pytest

from loadworthy.cli import run
from loadworthy.cli.progress import Progress

if TYPE_CHECKING:
    from pathlib import Path

#: A check that takes its time.
SLOW = """
import time
from loadworthy.sdk import hookimpl

@hookimpl
def subjects(case):
    time.sleep({seconds})
    return {{}}
"""


class Clock:
    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        return self.now


def screen(text: str) -> list[str]:
    """What stands on a terminal after it has got this text: a carriage return goes back to the line's beginning."""
    lines = []
    for part in text.replace("\r\n", "\n").split("\n"):
        shown: list[str] = []
        for piece in part.split("\r"):
            shown[: len(piece)] = piece
        lines.append("".join(shown).rstrip())
    return lines


def test_nothing_is_said_before_a_second_has_passed() -> None:
    stream, clock = io.StringIO(), Clock()
    watch = Progress(240, stream, clock=clock)
    for number in range(1, 10):
        clock.now += 0.1
        watch.at(number, "car.toml")
    watch.clear()
    assert stream.getvalue() == ""
    clock.now = 1.0
    watch.at(12, "car.toml")
    assert stream.getvalue() == "\r12 of 240: car.toml"


def test_the_line_is_rewritten_and_erased() -> None:
    stream, clock = io.StringIO(), Clock()
    watch = Progress(3, stream, clock=clock)
    clock.now = 1.0
    watch.at(1, "a-long-name.toml")
    clock.now = 1.01
    watch.at(2, "soon-after.toml")
    assert "2 of 3" not in stream.getvalue()
    clock.now = 1.2
    watch.at(3, "b.toml")
    assert screen(stream.getvalue()) == ["3 of 3: b.toml"]
    watch.clear()
    assert screen(stream.getvalue()) == [""]
    before = stream.getvalue()
    watch.clear()
    assert stream.getvalue() == before


def test_plain_lines_stay_and_are_seldom() -> None:
    stream, clock = io.StringIO(), Clock()
    watch = Progress(500, stream, plain=True, clock=clock)
    for number in range(1, 500):
        clock.now += 0.05
        watch.at(number)
    watch.clear()
    assert stream.getvalue() == "20 of 500\n220 of 500\n420 of 500\n"


def test_names_cannot_move_the_cursor_and_fit_the_line(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "40")
    stream, clock = io.StringIO(), Clock()
    watch = Progress(2, stream, clock=clock)
    clock.now = 2.0
    watch.at(1, "\x1b[2J\n\u202ecaf\u00e9\uff21" + "x" * 100)
    line = stream.getvalue()[1:]
    assert line.isascii()
    assert line.isprintable()
    assert len(line) == 39


def test_work_goes_on_when_the_terminal_is_gone() -> None:
    class Gone(io.StringIO):
        def write(self, text: str) -> int:
            raise OSError(5, "gone")

    clock = Clock()
    watch = Progress(2, Gone(), clock=clock)
    clock.now = 2.0
    watch.at(1)
    watch.at(2)
    watch.clear()


def on_terminal(arguments: list[str], **env: str) -> tuple[str, str]:
    """Run with a terminal for the error stream; return what stands on standard output, and what the terminal got."""
    ours, theirs = pty.openpty()
    clean = {key: value for key, value in os.environ.items() if key not in ("NO_COLOR", "TERM")}
    process = subprocess.Popen(
        [sys.executable, "-m", "loadworthy", *arguments],
        stdout=subprocess.PIPE,
        stderr=theirs,
        env={**clean, "TERM": "xterm", "PYTHONPATH": os.pathsep.join(filter(None, sys.path)), **env},
    )
    os.close(theirs)
    said = b""
    while True:
        try:
            part = os.read(ours, 4096)
        except OSError:  # the other end is closed
            break
        if not part:
            break
        said += part
    os.close(ours)
    out, _ = process.communicate()
    return out.decode("utf-8"), said.decode("utf-8")


@pytest.fixture
def slow(tmp_path: Path) -> list[str]:
    plugin = tmp_path / "slow.py"
    plugin.write_text(SLOW.format(seconds=0.45), encoding="utf-8")
    for number in range(5):
        (tmp_path / f"car-{number}.toml").write_text(f'name = "car {number}"\nas_of = 2026-05-10\n', encoding="utf-8")
    return ["register", *sorted(map(str, tmp_path.glob("car-*.toml"))), "--plugin", str(plugin)]


def test_a_terminal_is_told_and_left_clean(slow: list[str]) -> None:
    out, said = on_terminal(slow)
    assert out.count("Outcome: ") == 5
    assert "\x1b" not in said
    assert "5 of 5: " in said
    assert "1 of 5" not in said
    assert screen(said) == [""]


def test_a_complaint_stands_on_a_line_of_its_own(slow: list[str], tmp_path: Path) -> None:
    (tmp_path / "car-3.toml").write_text("name = 3\n", encoding="utf-8")
    _, said = on_terminal(slow)
    shown = screen(said)
    assert shown[0].endswith("car-3.toml cannot be read: 1 fault")
    assert shown[-1] == ""
    assert not any(" of 5" in line for line in shown)


def test_without_colour_plain_lines(slow: list[str]) -> None:
    for setting in ({"NO_COLOR": "1"}, {"TERM": "dumb"}):
        _, said = on_terminal(slow, **setting)
        assert "\r" not in said.replace("\r\n", "\n")
        (line,) = filter(None, said.splitlines())
        assert line.partition(":")[0] in ("3 of 5", "4 of 5", "5 of 5")


def test_a_pipe_a_single_case_and_quick_work_hear_nothing(slow: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert run(slow) == 0
    assert capsys.readouterr().err == ""
    single = [slow[0], slow[1], *slow[-2:]]
    assert on_terminal(single)[1] == ""
    quick = ["check", *slow[1:-2]]
    out, said = on_terminal(quick)
    assert out.count("0 sheets") == 5
    assert said == ""
