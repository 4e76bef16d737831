"""Nothing is lost when the process ends: output, exit functions, threads, exit code."""

from __future__ import annotations

import subprocess
import sys
from typing import TYPE_CHECKING

import pytest

from support import DEMOS

if TYPE_CHECKING:
    from pathlib import Path

#: A plugin file that leaves something to be done at the end: (setting up, what it writes then).
LEFT = {
    "exit function": "import atexit\natexit.register(print, 'done at last')\n",
    "thread": "import threading\nthreading.Timer(0.3, print, ['done at last']).start()\n",
}


def run(*arguments: str | Path) -> subprocess.CompletedProcess[bytes]:
    command = [sys.executable, "-m", "loadworthy", *map(str, arguments)]
    return subprocess.run(command, capture_output=True, check=False)


@pytest.mark.parametrize("left", LEFT)
def test_what_a_plugin_left_for_the_end_is_done(tmp_path: Path, left: str) -> None:
    plugin = tmp_path / "late.py"
    plugin.write_text(LEFT[left], encoding="utf-8")
    done = run("register", DEMOS[0], "--plugin", plugin)
    assert done.returncode == 0
    assert b"done at last" in done.stdout
    assert b"Outcome:" in done.stdout


def test_the_exit_code_is_that_of_the_command(tmp_path: Path) -> None:
    hold = next(path for path in DEMOS if path.stem.endswith("hold"))
    assert run("register", hold, "--fail-on", "hold").returncode == 1
    assert run("register", tmp_path / "nothing.toml").returncode == 2


def test_all_output_arrives_in_a_pipe() -> None:
    whole = run("register", *DEMOS, "--format", "json")
    assert whole.returncode == 0
    assert whole.stdout.endswith(b"\n")
    assert len(whole.stdout) > 100_000  # more than a pipe or a buffer holds
