"""Cold start as a ratio within one run: the whole register against the bare imports of what it is made of."""

from __future__ import annotations

import os
import subprocess
from typing import TYPE_CHECKING

from installed import environment
from support import DEMOS

if TYPE_CHECKING:
    from pathlib import Path

BARE = "import click, pluggy, attrs, cattrs, tomllib"
#: A case with little in it, and those that cost most.
STEMS = ("petrol-turbo-first-visit", "petrol-turbo-limited", "petrol-eight-gasket-hold")
CASES = [path for path in DEMOS if path.stem in STEMS]
BOUND = 1.8
ROUNDS = 25


def cpu(command: list[str]) -> float:
    """CPU time (s) of one child: a busy machine lengthens the clock's time, hardly this."""
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, env=environment())
    _, status, usage = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    assert process.returncode == 0
    return usage.ru_utime + usage.ru_stime


def test_a_register_costs_at_most_1_8_bare_imports(venv: Path) -> None:
    script = str(venv.parent / "loadworthy")
    commands = ([str(venv), "-c", BARE], *([str(venv), script, "register", str(case)] for case in CASES))
    for command in commands:
        cpu(command)
    times = [[cpu(command) for command in commands] for _ in range(ROUNDS)]
    # The least of many interleaved runs: noise of a shared machine only ever adds.
    bare, *own = (min(column) for column in zip(*times, strict=True))
    for case, seconds in zip(CASES, own, strict=True):
        print(f"register of {case.name}: {seconds / bare:.2f} bare imports, bound {BOUND}")
    assert len(own) == len(STEMS)
    assert max(own) / bare <= BOUND
