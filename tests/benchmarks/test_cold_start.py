"""Cold start as a ratio within one run: the whole register against the bare imports of what it is made of."""

from __future__ import annotations

import os
import subprocess
from typing import TYPE_CHECKING

from support import DEMOS

if TYPE_CHECKING:
    from pathlib import Path

BARE = "import click, pluggy, attrs, cattrs, tomllib"
CASE = next(path for path in DEMOS if path.stem == "petrol-turbo-first-visit")
ROUNDS = 25


def cpu(command: list[str]) -> float:
    """CPU time (s) of one child: a busy machine lengthens the clock's time, hardly this."""
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL)
    _, status, usage = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    assert process.returncode == 0
    return usage.ru_utime + usage.ru_stime


def test_a_register_costs_at_most_1_8_bare_imports(venv: Path) -> None:
    script = str(venv.parent / "loadworthy")
    commands = ([str(venv), "-c", BARE], [str(venv), script, "register", str(CASE)])
    for command in commands:
        cpu(command)
    times = [[cpu(command) for command in commands] for _ in range(ROUNDS)]
    # The least of many interleaved runs: noise of a shared machine only ever adds.
    bare, own = (min(column) for column in zip(*times, strict=True))
    ratio = own / bare
    print(f"register of {CASE.name}: {ratio:.2f} bare imports, bound 1.8")
    assert ratio <= 1.8
