"""A power cut at any moment of a dialogue: no line that was shown as saved is lost, and the case can be read."""

from __future__ import annotations

import os
import random
import re
import sys
import time
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from loadworthy.casefile import load
from support import bundled

if sys.platform == "win32":
    pytest.skip("no pseudo-terminals there", allow_module_level=True)

from recording.terminal import Terminal

MOMENTS = 200
AT_ONCE = 4
#: Longer (s) than a dialogue takes on a quiet machine, so that some end by themselves.
LONGEST = 0.6
START = '# kept\nname = "x"\n[vehicle]\nfuel = "petrol_e5"\ncylinder_count = 4\n# here too\n'
SAVED = re.compile(r"^saved: ([a-z_]+)(?:\.(\w+)|\[(\d+)\])? = (.*)\n", re.MULTILINE)
#: Answers by what a prompt begins with; whatever else is asked is skipped. Each run draws readings of its own.
FIXED = {
    "date": "2026-05-06",
    "time": "9:30",
    "odometer": "84500",
    "by": "M. K.",
    "conditions": "cold",
    "oil_volume": "5 mL",
    "compression_strokes": "6",
    "throttle_state": "wide_open",
    "test_order, first": "1 2 3 4",
    "check_valve": "yes",
}


class Run:
    """One dialogue that is fed as fast as it asks, until its last moment has come."""

    def __init__(self, path: Path, chance: random.Random) -> None:
        self.path = path
        self.chance = chance
        path.write_text(START, encoding="utf-8")
        self.moment = chance.uniform(0.0, LONGEST)
        self.terminal = Terminal("record", str(path), "compression")
        #: When its first line was asked for.
        self.began = float("inf")
        self._answered = 0

    def step(self) -> bool:
        """Feed one answer if one is asked for; false once the process is dead."""
        alive = self.terminal.pump(0.002)
        if alive and time.monotonic() - self.began >= self.moment:
            self.terminal.kill()
            return False
        if not alive:
            self.terminal.end()
            return False
        if self.terminal.seen.endswith(": ") and len(self.terminal.seen) > self._answered:
            self.began = min(self.began, time.monotonic())
            prompt = self.terminal.seen.rpartition("\n")[2]
            self._answered = len(self.terminal.seen)
            if not prompt.startswith("saved"):
                self.terminal.send(self._answer(prompt))
        return True

    def _answer(self, prompt: str) -> str:
        if prompt.startswith("cylinder") and "[bar gauge]" in prompt:
            return f"{self.chance.uniform(9.0, 13.0):.2f}"
        return next((answer for begin, answer in FIXED.items() if prompt.startswith(begin)), "")

    def check(self) -> int:
        """Compare the file with what was shown as saved; return how many lines that were."""
        data = self.path.read_bytes()
        assert data.startswith(START.encode())
        case = load(self.path, catalogue=bundled().catalogue)
        assert len(case.sheets) <= 1
        table: dict[str, Any] = tomllib.loads(data.decode()).get("compression", [{}])[0]
        lines = SAVED.findall(self.terminal.seen)
        for key, subject, item, text in lines:
            value = tomllib.loads(f"value = {text}")["value"]
            held = table[key]
            if subject:
                held = held[subject]
            assert held == value if not item else held[: len(value)] == value
        return len(lines)


def runs(folder: Path, chance: random.Random) -> Iterator[Run]:
    """Run the dialogues, several at once; yield each when it is over."""
    running: list[Run] = []
    begun = 0
    while begun < MOMENTS or running:
        if begun < MOMENTS and len(running) < AT_ONCE:
            running.append(Run(folder / f"car-{begun}.toml", chance))
            begun += 1
        for run in list(running):
            if not run.step():
                running.remove(run)
                yield run


def test_kill_at_random_moments(tmp_path: Path) -> None:
    drawn = int(os.environ.get("LOADWORTHY_DRAWN", random.randrange(2**32)))
    print(f"to repeat: LOADWORTHY_DRAWN={drawn}")
    counts = []
    for run in runs(tmp_path, random.Random(drawn)):
        with run.terminal:
            counts.append(run.check())
    assert len(counts) == MOMENTS
    # The moments fell all over the dialogue, not only before its first or behind its last line.
    assert len(set(counts)) >= 8
    assert sum(0 < count < max(counts) for count in counts) > MOMENTS / 3
