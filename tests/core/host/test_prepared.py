"""Declarations made ready with the wheel are those that the plugins declare, and give way to any change."""

from __future__ import annotations

import json
import os
import sys
from typing import TYPE_CHECKING, Any

import pytest

from installed import bare, with_contrib
from loadworthy.host import Host
from loadworthy.host.prepared import OWN, ready, written
from support import bundled_modules

if TYPE_CHECKING:
    from pathlib import Path

    from loadworthy.host.results import PluginInfo

#: Prints whether the host took the module, and digests of all that it then has and of what it has without, in order.
SCRIPT = """
import hashlib, json
from loadworthy.host import Host, host as module
used, original = [], module.ready
def watched(plugins):
    used.append(original(plugins))
    return used[-1]
def shown(catalogue):
    ordered = [list(map(repr, value.items())) if name != "owners" and hasattr(value, "items") else repr(sorted(value))
               for name, value in catalogue.items()]
    return [hashlib.sha256(repr(one).encode()).hexdigest() for one in ordered]
module.ready = watched
first = Host().catalogue
module.ready = lambda plugins: None
live = Host().catalogue
print(json.dumps({"used": used[0] is not None, "same": first == live, "first": shown(first), "live": shown(live)}))
"""


@pytest.mark.parametrize("environment", [bare, with_contrib])
def test_the_wheel_holds_what_its_plugins_declare(environment: Any, tmp_path_factory: pytest.TempPathFactory) -> None:
    made = environment(tmp_path_factory)
    done = made.run(made.python, "-c", SCRIPT)
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    assert found["used"] is True
    assert found["same"] is True
    assert found["first"] == found["live"]


@pytest.fixture
def package(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> tuple[Path, tuple[PluginInfo, ...], Host]:
    """Return a package with a prepared module and one source, the plugins it is for, and a host that has them."""
    host = Host(bundled_modules(), entry_points=False)
    name = f"ready_{tmp_path.name.replace('-', '_')}"
    folder = tmp_path / name
    folder.mkdir()
    (folder / "__init__.py").write_text("")
    plugins = tuple(one._replace(distribution=OWN, version="1", source=f"{name}.{one.id}") for one in host.plugins)
    (folder / "prepared.py").write_text(written(plugins, host.catalogue, [f"{name}/__init__.py"]), encoding="utf-8")
    monkeypatch.syspath_prepend(str(tmp_path))
    return folder, plugins, host


def test_what_is_written_is_read_back(package: tuple[Path, tuple[PluginInfo, ...], Host]) -> None:
    _, plugins, host = package
    found = ready(plugins)
    assert found is not None
    catalogue = host.catalogue
    assert found.plugins == {one.id for one in plugins}
    assert {table: dict(held) for table, held in found.tables.items()} == {
        table: dict(getattr(catalogue, table)) for table in found.tables
    }
    assert dict(found.owners) == dict(catalogue.owners)
    assert found.shared == catalogue.shared
    assert len(found.tables) == len(catalogue._names_) - len(("owners", "shared", "absent"))


def test_an_edited_or_removed_source_is_asked_again(package: tuple[Path, tuple[PluginInfo, ...], Host]) -> None:
    folder, plugins, _ = package
    source = folder / "__init__.py"
    made = (folder / "prepared.py").stat().st_mtime
    os.utime(source, (made, made + 60))
    assert ready(plugins) is not None
    os.utime(source, (made, made + 3600))
    assert ready(plugins) is None
    source.rename(folder / "elsewhere.py")
    assert ready(plugins) is None


def test_other_plugins_or_another_version_are_asked_again(
    package: tuple[Path, tuple[PluginInfo, ...], Host],
) -> None:
    _, plugins, _ = package
    assert ready(plugins[1:]) is None
    assert ready([one._replace(version="2") for one in plugins]) is None
    assert ready([one._replace(distribution="a-shop") for one in plugins]) is None
    further = plugins[0]._replace(id="wheel_nuts", distribution="a-shop")
    assert ready([*plugins, further]) is not None


def test_without_the_module_all_are_asked(tmp_path: Path) -> None:
    host = Host(bundled_modules(), entry_points=False)
    assert ready(host.plugins) is None
    assert "loadworthy_plugins.prepared" not in sys.modules
