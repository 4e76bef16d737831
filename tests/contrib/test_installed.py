"""Plugins of a shop's own, really installed: their own tests pass, and nothing else changes by them."""

from __future__ import annotations

import ast
import json
import re
import zipfile
from typing import TYPE_CHECKING, Any

import pytest

import installed
from installed import CONTRIB, ROOT
from support import DEMOS

if TYPE_CHECKING:
    from pathlib import Path

    from installed import Installed

#: A sheet that fires, to be added to a demo case.
COOLING = """
[[cooling]]
id = "hot-run"
date = 2026-05-09
coolant_temperature = "101 degC"
ambient_temperature = "22 degC"
power = "110 kW"
steady_time = "5 min"
air = "road"
road_speed = "150 km/h"
thermostat_open_temperature = "95 degC"
glycol_share = "50 %"
cap_marked = "1.4 bar"
"""


def registers(environment: Installed, *cases: Path) -> list[dict[str, Any]]:
    done = environment.run(environment.command, "register", *cases, "--format", "json")
    assert (done.returncode, done.stderr) == (0, "")
    data = json.loads(done.stdout)
    return data if isinstance(data, list) else [data]


@pytest.mark.parametrize("source", sorted(CONTRIB.values()), ids=lambda p: p.name)
def test_a_plugin_imports_the_sdk_and_nothing_else_of_ours(source: Path) -> None:
    files = sorted((source / "src").rglob("*.py"))
    own = {path.parent.name for path in files}
    assert files
    for path in files:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            names += [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            ours = [name for name in names if name.startswith("loadworthy") and name.split(".")[0] not in own]
            assert set(ours) <= {"loadworthy.sdk"}, path.name


@pytest.mark.installed
def test_the_wheels_hold_the_packages_and_nothing_beside_them(shop: Installed) -> None:
    tops = {"loadworthy": {"loadworthy", "loadworthy_plugins"}, "loadworthy_cooling": {"loadworthy_cooling"}}
    for wheel in shop.wheels:
        names = zipfile.ZipFile(wheel).namelist()
        project = wheel.name.split("-")[0]
        assert {name.split("/")[0] for name in names if ".dist-info/" not in name} == tops[project]
        assert f"{project}/py.typed" in names
        assert not [name for name in names if "test_" in name or name.endswith((".pyc", ".toml"))]


@pytest.mark.installed
def test_the_command_finds_what_was_installed(shop: Installed, without: Installed) -> None:
    assert "cooling" in shop.run(shop.command, "plugins").stdout
    plain = without.run(without.command, "plugins")
    assert plain.returncode == 0
    assert "compression" in plain.stdout
    assert "cooling" not in plain.stdout


@pytest.mark.installed
@pytest.mark.parametrize("source", sorted(CONTRIB.values()), ids=lambda p: p.name)
def test_a_plugins_own_tests_pass_on_the_installed_wheel(shop: Installed, source: Path) -> None:
    # Nothing of the run stays in the checkout.
    aside = installed.environment(HYPOTHESIS_STORAGE_DIRECTORY=str(shop.folder / "examples"))
    done = shop.run(shop.python, "-m", "pytest", "-q", "-p", "no:cacheprovider", cwd=source, env=aside)
    assert done.returncode == 0, done.stdout + done.stderr
    passed = re.search(r"(\d+) passed", done.stdout)
    assert passed is not None
    assert int(passed[1]) >= 10
    assert "skipped" not in done.stdout


@pytest.mark.installed
def test_examples_in_docstrings_hold_on_the_installed_wheel(shop: Installed) -> None:
    done = shop.run(
        shop.python,
        "-m",
        "pytest",
        "-q",
        "-p",
        "no:cacheprovider",
        "--doctest-modules",
        "--pyargs",
        "loadworthy_cooling",
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert " passed" in done.stdout


@pytest.mark.installed
def test_a_sheet_of_the_plugin_is_judged_as_if_it_were_native(shop: Installed, tmp_path: Path) -> None:
    case = tmp_path / "case.toml"
    clear = next(path for path in DEMOS if path.stem == "petrol-six-clear")
    case.write_text(clear.read_text(encoding="utf-8") + COOLING, encoding="utf-8")
    (register,) = registers(shop, case)
    assert register["outcome"] == "hold"
    assert {"cooling-core-blocked-outside", "cooling-core-too-small"} <= {risk["cause"] for risk in register["risks"]}
    assert {"cooling.plan.as_received", "cooling.plan.sustained_power"} <= {c["id"] for c in register["ceilings"]}
    assert "cooling.margin" not in {gap["id"] for gap in register["gaps"]}
    why = shop.run(shop.command, "why", case, "cooling.plan#hot-run")
    assert why.returncode == 0
    assert "rise over ambient" in why.stdout
    assert "79" in why.stdout  # 101 - 22


@pytest.mark.installed
def test_without_the_plugin_its_sheet_is_an_error_that_names_it(without: Installed, tmp_path: Path) -> None:
    case = tmp_path / "case.toml"
    case.write_text(DEMOS[0].read_text(encoding="utf-8") + COOLING, encoding="utf-8")
    done = without.run(without.command, "check", case)
    assert done.returncode == 2
    assert "cooling" in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.installed
def test_nothing_else_changes_by_an_installed_plugin(shop: Installed, without: Installed) -> None:
    assert len(DEMOS) >= 6
    for path, one, other in zip(DEMOS, registers(without, *DEMOS), registers(shop, *DEMOS), strict=True):
        assert {p["id"] for p in other["plugins"]} - {p["id"] for p in one["plugins"]} == set(CONTRIB)
        for data in (one, other):
            del data["plugins"]
            # The plugin says what the case lacks for it; its causes at their bare priors are listed apart or counted.
            del data["unlisted"]
            data["gaps"] = [gap for gap in data["gaps"] if gap["id"] != "cooling.margin"]
            unlooked = [risk for risk in data["not_looked_into"] if not risk["cause"].startswith("cooling-")]
            data["not_looked_into"] = unlooked
        assert one == other, path.name


def test_the_contributed_plugins_are_all_tested() -> None:
    assert {path.name for path in (ROOT / "contrib").iterdir() if path.is_dir()} == {p.name for p in CONTRIB.values()}
