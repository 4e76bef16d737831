"""What several test files share: the demo cases and a host with the bundled plugins."""

from __future__ import annotations

import functools
import importlib
import tomllib
from pathlib import Path
from typing import Any

from loadworthy.host import Host

ROOT = Path(__file__).parents[1]
DEMOS = sorted((ROOT / "docs" / "cases").glob("*.toml"))


@functools.cache
def bundled_modules() -> dict[str, Any]:
    """The bundled plugins by id, as the project's own metadata names them."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    modules = project["entry-points"]["loadworthy"]
    return {id: importlib.import_module(module) for id, module in modules.items()}


@functools.cache
def bundled() -> Host:
    """The bundled plugins alone, whatever else is installed beside them."""
    return Host(bundled_modules(), entry_points=False)
