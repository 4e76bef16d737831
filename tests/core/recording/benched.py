"""What several tests of writing share: a host with the bench, cases on disk, and a reader."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import recording.bench_check as bench_check

from loadworthy import Case, Host
from loadworthy.casefile import loads
from loadworthy.recording.draft import Draft
from loadworthy.recording.targets import Target, target

HOST = Host({"bench": bench_check}, entry_points=False)
CATALOGUE = HOST.catalogue
VEHICLE = '# our car\nname = "a car"\n\n[vehicle]\nbuild = "heavy" # by the papers\nwheels = 2\n'
GAUGE = '\n[[instrument]]\nid = "gauge"\nmeasures = "pressure_gauge"\nresolution = "0.1 bar"\n'


def check(data: bytes, name: str) -> Case:
    return loads(data, name, CATALOGUE)


def case_of(path: Path) -> Case:
    return check(path.read_bytes(), str(path))


def rows(path: Path, name: str) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = tomllib.loads(path.read_bytes().decode("utf-8-sig")).get(name, [])
    return found


def known(name: str) -> Target:
    found = target(name, CATALOGUE)
    assert found is not None
    return found


def draft(path: Path, name: str = "bench", values: dict[str, Any] | None = None) -> Draft:
    return Draft(str(path), known(name), check, values)


def written(folder: Path, text: str = VEHICLE + GAUGE, name: str = "car.toml") -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8", newline="")
    return path
