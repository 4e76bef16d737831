"""``loadworthy new`` by options."""

from __future__ import annotations

import datetime
from pathlib import Path

import pytest

from loadworthy import Case
from loadworthy.cli import run
from support import DEMOS, bundled

DEMO = next(path for path in DEMOS if path.stem == "diesel-repaired-clear")


def load(path: Path) -> Case:
    return Case.load(path, catalogue=bundled().catalogue)


def test_a_new_case_passes_check_and_says_what_comes_next(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "car.toml"
    sets = [
        "vehicle.fuel=diesel b7",
        "vehicle.cylinder_banks=1 2 3 4",
        "plan.torque=2000 rpm: 300 N m",
        "plan.use=road",
    ]
    assert run(["new", str(path), "--name", "Våra bil", *(part for text in sets for part in ("--set", text))]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert f"next: loadworthy record {path} SECTION" in out
    assert "compression" in out
    case = load(path)
    assert case.name == "Våra bil"
    assert case.vehicle["cylinder_banks"] == ((1, 2, 3, 4),)
    assert case.plan["torque"].values == (300.0,)
    assert case.plan["use"] == ("road",)
    assert run(["check", str(path)]) == 0


def test_without_anything_the_case_is_empty_and_valid(tmp_path: Path) -> None:
    assert run(["new", str(tmp_path / "car.toml")]) == 0
    assert load(tmp_path / "car.toml").sheets == ()


def test_like_another_takes_vehicle_plan_and_instruments_alone(tmp_path: Path) -> None:
    path = tmp_path / "car.toml"
    assert run(["new", str(path), "--like", str(DEMO), "--set", "vehicle.short_trips=yes"]) == 0
    like, case = load(DEMO), load(path)
    assert like.sheets
    assert like.repairs
    assert case.vehicle == {**like.vehicle, "short_trips": True}
    assert case.plan == like.plan
    assert case.instruments == like.instruments
    assert (case.sheets, case.repairs, case.events, case.waivers, case.voids) == ((), (), (), (), ())
    assert (case.name, case.as_of) == ("", None)
    # Facts of such a case can be changed by record, too.
    assert run(["record", str(path), "vehicle", "--set", "base_torque_measured.9000=10 N m"]) == 0


def test_an_existing_file_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "car.toml"
    path.write_bytes(b"mine")
    (tmp_path / "link.toml").symlink_to(tmp_path / "nowhere")
    for name in ("car.toml", "link.toml", "."):
        assert run(["new", str(tmp_path / name)]) == 2
        assert "is there already" in capsys.readouterr().err
    assert path.read_bytes() == b"mine"
    assert not (tmp_path / "nowhere").exists()


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--set", "fuel=diesel_b7"], "write vehicle.KEY=VALUE or plan.KEY=VALUE"),
        (["--set", "vehicle.fuel=coal"], "vehicle.fuel"),
        (["--set", "vehicle.feul=diesel_b7"], "did you mean fuel?"),
        (["--set", "vehicle.bore=86"], "has no unit"),
        (["--like", "missing.toml"], "no such file"),
        (["--name", "a\nb"], "name"),
    ],
)
def test_what_is_wrong_is_said_and_nothing_is_made(
    tmp_path: Path, arguments: list[str], words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "car.toml"
    assert run(["new", str(path), *arguments]) == 2
    assert words in " ".join(capsys.readouterr().err.split())
    assert not path.exists()


def test_no_folder(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["new", str(tmp_path / "none" / "car.toml")]) == 2
    assert "no such folder" in capsys.readouterr().err


def test_a_new_case_is_ready_for_evidence(tmp_path: Path) -> None:
    path = tmp_path / "car.toml"
    assert run(["new", str(path), "--like", str(DEMO)]) == 0
    assert run(["record", str(path), "compression", "--date", "today", "--set", "dry_reading.1=25 bar"]) == 0
    assert load(path).sheets[0].date == datetime.date.today()
