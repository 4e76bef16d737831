"""Environments that hold loadworthy as its users have it: built as a wheel, installed, compiled.

Nothing is downloaded. The run-time dependencies are copied, file by file as their installers recorded them, from the
environment in which the tests run; the wheels are built here and installed with pip. Used by the tests of installed
plugins and by the benchmarks.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from importlib import metadata
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import pytest
from filelock import FileLock
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

if TYPE_CHECKING:
    from collections.abc import Iterable

ROOT = Path(__file__).parents[1]
#: The plugins that a shop would write, by the id of the plugin.
CONTRIB = {"cooling": ROOT / "contrib" / "loadworthy-cooling"}
_SETTINGS = ("PYTHON", "PYTEST", "LOADWORTHY", "VIRTUAL_ENV", "COVERAGE")


class Installed(NamedTuple):
    """An environment with loadworthy in it; ``wheels`` are what was built and installed."""

    folder: Path
    wheels: tuple[Path, ...]

    @property
    def python(self) -> Path:
        """The interpreter."""
        return self.folder / ("Scripts/python.exe" if os.name == "nt" else "bin/python")

    @property
    def command(self) -> Path:
        """The program ``loadworthy``."""
        return self.python.with_name("loadworthy" + self.python.suffix)

    def run(self, *arguments: str | Path, **more: Any) -> subprocess.CompletedProcess[str]:
        """Run a program of the environment, away from the checkout and without settings of the caller's Python."""
        more.setdefault("env", environment())
        more.setdefault("cwd", self.folder)
        return subprocess.run(
            [str(one) for one in arguments], capture_output=True, text=True, encoding="utf-8", check=False, **more
        )


def environment(**more: str) -> dict[str, str]:
    """Return the caller's environment without anything that would let its own packages shine through."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith(_SETTINGS)}
    return {**kept, "PIP_DISABLE_PIP_VERSION_CHECK": "1", "PIP_NO_INPUT": "1", **more}


def bare(factory: pytest.TempPathFactory) -> Installed:
    """Return the environment with loadworthy and its run-time dependencies alone; made once per test run."""
    return _made(factory, "bare", (), ("loadworthy",))


def with_contrib(factory: pytest.TempPathFactory) -> Installed:
    """Return the environment with the plugins of ``contrib`` too, and what their tests need."""
    return _made(factory, "contrib", tuple(CONTRIB.values()), ("loadworthy", "loadworthy[testing]"))


@pytest.fixture(scope="session")
def venv(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the interpreter of the environment with loadworthy alone."""
    return bare(tmp_path_factory).python


def _made(factory: pytest.TempPathFactory, name: str, plugins: tuple[Path, ...], needs: tuple[str, ...]) -> Installed:
    base = factory.getbasetemp()
    if "PYTEST_XDIST_WORKER" in os.environ:
        base = base.parent
    folder, done = base / f"installed-{name}", base / f"installed-{name}.done"
    with FileLock(base / "installed.lock"):
        wheels = tuple(_wheel(source, base / "wheels") for source in (ROOT, *plugins))
        if not done.exists():
            _call(sys.executable, "-m", "venv", "--without-pip", folder)
            made = Installed(folder, wheels)
            _copy_dependencies(needs, _site_packages(made))
            _pip(made, "install", "--quiet", "--no-index", "--no-deps", *wheels)
            _call(made.python, "-m", "compileall", "-q", _site_packages(made))
            done.touch()
    return Installed(folder, wheels)


def _wheel(source: Path, folder: Path) -> Path:
    """Build the wheel of a project with the backend that is installed here; once per folder."""
    into = folder / source.name
    if not list(into.glob("*.whl")):
        offline = ("--quiet", "--no-index", "--no-deps", "--no-build-isolation")
        _call(sys.executable, "-m", "pip", "wheel", *offline, "--wheel-dir", into, source)
    (found,) = into.glob("*.whl")
    return found


def _pip(made: Installed, *arguments: str | Path) -> None:
    _call(sys.executable, "-m", "pip", "--python", made.python, *arguments)


def _call(*arguments: str | Path) -> str:
    done = subprocess.run([str(one) for one in arguments], capture_output=True, text=True, env=environment())
    if done.returncode:
        raise RuntimeError(f"{' '.join(map(str, arguments))}\n{done.stdout}{done.stderr}")
    return done.stdout


def _site_packages(made: Installed) -> Path:
    return Path(_call(made.python, "-c", "import sysconfig; print(sysconfig.get_path('purelib'))").strip())


def _copy_dependencies(needs: Iterable[str], target: Path) -> None:
    for name in sorted(_closure(needs) - {"loadworthy"}):
        found = metadata.distribution(name)
        home = Path(str(found.locate_file("")))
        for file in found.files or ():
            source = Path(str(found.locate_file(file)))
            # Programs beside the packages stay: their first line names the interpreter that they were made for.
            if source.is_relative_to(home) and ".." not in file.parts and source.is_file():
                place = target / source.relative_to(home)
                place.parent.mkdir(parents=True, exist_ok=True)
                shutil.copy2(source, place)


def _closure(needs: Iterable[str]) -> set[str]:
    """Return the names of all distributions that are required, directly or not, as their markers say."""
    waiting = [Requirement(need) for need in needs]
    seen: set[str] = set()
    while waiting:
        one = waiting.pop()
        if str(one) in seen:
            continue
        seen.add(str(one))
        for text in metadata.requires(one.name) or ():
            further = Requirement(text)
            if further.marker is None or any(further.marker.evaluate({"extra": e}) for e in ("", *one.extras)):
                waiting.append(further)
    return {canonicalize_name(Requirement(text).name) for text in seen}
