"""A wheel of this checkout in an environment of its own, with compiled files: what a user has."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]


def run(*command: str | Path, **more: object) -> subprocess.CompletedProcess[str]:
    done = subprocess.run([str(part) for part in command], capture_output=True, text=True, check=False, **more)  # type: ignore[call-overload]
    assert done.returncode == 0, f"{command}\n{done.stdout}\n{done.stderr}"
    return done  # type: ignore[no-any-return]


def wheel(source: Path, target: Path) -> Path:
    """Build the wheel of a project and return its path."""
    run(sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", target, source)
    return max(target.glob("*.whl"), key=lambda path: path.stat().st_mtime)


@pytest.fixture(scope="session")
def venv(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the Python of a fresh environment with the wheel of this checkout."""
    folder = tmp_path_factory.mktemp("installed")
    run(sys.executable, "-m", "venv", folder / "venv")
    python = folder / "venv" / "bin" / "python"
    built = wheel(ROOT, folder / "dist")
    run(python, "-m", "pip", "install", "--quiet", "--disable-pip-version-check", built)
    run(python, "-m", "compileall", "-q", folder / "venv" / "lib")
    return python
