"""Build hook of the wheel: writes what the bundled plugins declare into a module beside them.

A program that is started for every case need then not import, make and check a thousand declarations first. The module
is a part of the wheel alone, made of the sources that are in the same wheel; `loadworthy.host.prepared` says when it is
used.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface

#: Runs in a process of its own: the sources of the wheel and nothing else of ours shall be imported.
_SCRIPT = """
import importlib, sys
root, version, *points = sys.argv[1:]
sys.path[:0] = [f"{root}/core", f"{root}/plugins"]
from loadworthy.host import Host
from loadworthy.host.prepared import OWN, written
points = dict(point.split("=") for point in points)
host = Host({id: importlib.import_module(module) for id, module in points.items()}, entry_points=False)
if host.failures:
    raise SystemExit(*host.failures)
plugins = [one._replace(distribution=OWN, version=version, source=points[one.id]) for one in host.plugins]
names = [name for name in sys.modules if name.startswith("loadworthy_plugins") or name == "loadworthy.core_fields"]
sources = [sys.modules[name].__file__.replace("\\\\", "/").rsplit("/loadworthy", 1)[0] for name in names]
files = [sys.modules[name].__file__[len(folder) + 1 :].replace("\\\\", "/") for name, folder in zip(names, sources)]
sys.stdout.write(written(plugins, host.catalogue, files))
"""


class PrepareWheel(BuildHookInterface[Any]):
    """Adds ``loadworthy_plugins/prepared.py`` to a wheel; an editable installation has none."""

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Write the module. Raises CalledProcessError where the plugins contradict one another."""
        if version != "standard":
            return
        metadata = self.metadata
        points = [f"{id}={module}" for id, module in metadata.core.entry_points["loadworthy"].items()]
        made = subprocess.run(
            [sys.executable, "-c", _SCRIPT, self.root, metadata.version, *points],
            stdout=subprocess.PIPE,
            encoding="utf-8",
            check=True,
        )
        target = Path(self.directory) / "prepared.py"
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_text(made.stdout, encoding="utf-8")
        build_data["force_include"][str(target)] = "loadworthy_plugins/prepared.py"
