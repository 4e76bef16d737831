"""``loadworthy record`` by options, as a program meets it: exit codes, messages, the same case as written by hand."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from loadworthy import Case
from loadworthy.casefile.rendering import value_text
from loadworthy.cli import run
from support import DEMOS, bundled

DEMO = next(path for path in DEMOS if path.stem == "petrol-turbo-limited")
TEXT = DEMO.read_text(encoding="utf-8")
BARE = TEXT[: TEXT.index("[[modification]]")]


def digest(path: Path) -> str:
    return Case.load(path, catalogue=bundled().catalogue).digest


@pytest.fixture
def case(tmp_path: Path) -> Path:
    path = tmp_path / "car.toml"
    path.write_text(BARE, encoding="utf-8")
    return path


def plain(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return value.isoformat() if hasattr(value, "isoformat") else str(value)


def options(sheet: dict[str, Any]) -> list[str]:
    """Return the options that a program would write for a sheet."""
    found = []
    for key, value in sheet.items():
        if key == "instrument" and isinstance(value, dict):
            found += [part for field, id in value.items() for part in ("--instrument", f"{field}={id}")]
        elif key in ("date", "time", "odometer", "by", "instrument"):
            found += [f"--{key}", plain(value)]
        elif isinstance(value, dict):
            parts = [
                (at, part) for at, whole in value.items() for part in (whole if isinstance(whole, list) else [whole])
            ]
            found += [text for at, part in parts for text in ("--set", f"{key}.{at}={plain(part)}")]
        elif isinstance(value, list) and isinstance(value[0], dict):
            found += [text for row in value for text in ("--row", f"{key}: {value_text(row)}")]
        elif isinstance(value, list):
            found += [text for part in value for text in ("--set", f"{key}={plain(part)}")]
        else:
            found += ["--set", f"{key}={plain(value)}"]
    return found


def test_a_whole_case_by_options_equals_the_one_by_hand(case: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sections = bundled().catalogue.sections
    sheets = [(name, sheet) for name, table in tomllib.loads(TEXT).items() if name in sections for sheet in table]
    assert len(sheets) >= 3
    for section, sheet in sheets:
        assert run(["record", str(case), section, *options(sheet)]) == 0
    assert digest(case) == digest(DEMO)
    assert case.read_text(encoding="utf-8").startswith(BARE)
    out = " ".join(capsys.readouterr().out.split())
    assert f"written to {case}: {sheets[-1][0]} of {sheets[-1][1]['date']}" in out
    assert f"loadworthy check {case} finds no errors" in out


@pytest.mark.parametrize(
    ("section", "arguments", "hand"),
    [
        (
            "repair",
            ["--date", "2026-05-12", "--id", "r1", "--set", "what=valve reseated", "--time", "9:00",
             "--set", "treats=ring-seal@cylinder 2", "--set", "treats=exhaust-valve-seal", "--by", "M. K.",
             "--odometer", "84300 km", "--note", "n"],
            'id = "r1"\ndate = 2026-05-12\ntime = 09:00:00\nwhat = "valve reseated"\nby = "M. K."\nnote = "n"\n'
            'odometer = "84300 km"\ntreats = ["exhaust-valve-seal", "ring-seal@cylinder 2"]\n',
        ),
        ("event", ["--set", "kind=overheating", "--date", "2026-05-12"], 'kind = "overheating"\ndate = 2026-05-12\n'),
        (
            "waiver",
            ["--set", "who=A. B.", "--set", "role=owner", "--set", "what=leak_down", "--set", "why=known",
             "--set", "from=2026-05-01", "--set", "until=2026-06-01"],
            'who = "A. B."\nrole = "owner"\nwhat = "leak_down"\nwhy = "known"\nfrom = 2026-05-01\nuntil = 2026-06-01\n',
        ),
        (
            "instrument",
            ["--id", "tester", "--set", "measures=pressure_gauge", "--set", "span=10 bar", "--set", "class=1.6"],
            'id = "tester"\nmeasures = "pressure_gauge"\nspan = "10 bar"\nclass = 1.6\n',
        ),
    ],
)  # fmt: skip
def test_other_entries_equal_those_by_hand(case: Path, section: str, arguments: list[str], hand: str) -> None:
    other = case.with_name("hand.toml")
    other.write_text(f"{BARE}\n[[{section}]]\n{hand}", encoding="utf-8")
    assert run(["record", str(case), section, *arguments]) == 0
    assert digest(case) == digest(other) != digest(DEMO)


def test_a_void(case: Path) -> None:
    assert run(["record", str(case), "compression", "--date", "2026-05-04", "--id", "wrong"]) == 0
    void = ["--set", "sheet=wrong", "--set", "why=other car", "--set", "who=A. B.", "--date", "2026-05-05"]
    assert run(["record", str(case), "void", *void]) == 0
    assert Case.load(case, catalogue=bundled().catalogue).voids[0].sheet == "wrong"


def test_a_retest_with_conditions_and_uncertainties(case: Path) -> None:
    repair = ["--date", "2026-05-12", "--id", "r1", "--set", "what=w", "--set", "treats=ring-seal"]
    assert run(["record", str(case), "repair", *repair]) == 0
    sheet = ["--date", "2026-05-13", "--retest-of", "r1", "--conditions", "warm", "--set", "dry_reading.1=12 bar"]
    assert run(["record", str(case), "compression", *sheet, "--u", "dry_reading=0.3 bar"]) == 0
    found = Case.load(case, catalogue=bundled().catalogue).sheets[0]
    assert (found.retest_of, found.conditions) == ("r1", "warm")
    reading = found.reading("dry_reading", "1")
    assert reading is not None
    assert dict(reading.u_parts)["stated"] == pytest.approx(30e3)


def test_facts_of_vehicle_and_plan_are_set_or_replaced(case: Path) -> None:
    arguments = ["--set", "fuel=petrol_e5", "--set", "engine_rebuilt=yes", "--set", "base_torque_measured.2500=290 N m"]
    assert run(["record", str(case), "vehicle", *arguments]) == 0
    assert run(["record", str(case), "plan", "--set", "use=road", "--set", "use=towing"]) == 0
    text = case.read_text(encoding="utf-8")
    assert '\nfuel = "petrol_e5"\ninduction = "turbo"\n' in text
    assert text.startswith(BARE[: BARE.index("[vehicle]")])
    tables, before = tomllib.loads(text), tomllib.loads(BARE)
    assert tables["vehicle"]["base_torque_measured"] == {
        **before["vehicle"]["base_torque_measured"], "2500 rpm": "290 N m"
    }  # fmt: skip
    assert tables["plan"] == {**before["plan"], "use": ["road", "towing"]}
    assert tables["vehicle"]["baseline_log_point"] == before["vehicle"]["baseline_log_point"]


def test_what_is_written_as_tables_of_their_own_names_the_line(case: Path, capsys: pytest.CaptureFixture[str]) -> None:
    row = "baseline_log_point: speed = 4000 rpm; torque = 300 N m"
    assert run(["record", str(case), "vehicle", "--row", row]) == 2
    line = BARE[: BARE.index("[[vehicle.baseline")].count("\n") + 1
    assert f"edit line {line} by hand" in " ".join(capsys.readouterr().err.split())
    assert case.read_text(encoding="utf-8") == BARE


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["compression"], ["nothing to record", "--date 2026-05-04 --set dry_reading.1=...", "id, date (required)"]),
        (["repair"], ["nothing to record", "--set what=... --set treats=..."]),
        (["vehicle"], ["nothing to record"]),
        (["compresion", "--date", "2026-05-04"], ["did you mean compression?"]),
        (["compression", "--set", "dry_reading.1=12 bar"], ["date is missing"]),
        (["compression", "--date", "2199-01-01"], ["date: 2199-01-01 is in the future"]),
        (
            ["compression", "--date", "2026-05-04", "--set", "dry_reading.1=178"],
            ['dry_reading.1: 178 has no unit; write "178 psi"'],
        ),
        (
            ["compression", "--date", "tomorrow", "--set", "dry_reading.1=12 bar abs", "--set", "nonsense=1"],
            ["3 faults", "nonsense: no such field", "date:", "absolute pressure"],
        ),
        (["compression", "--date", "2026-05-04", "--file", "missing.jpg"], ["--file missing.jpg"]),
        (["compression", "--date", "2026-05-04", "--instrument", "other"], ["there is no instrument"]),
        (["waiver", "--date", "2026-05-04"], ["date: no such field here"]),
        (["vehicle", "--set", "fuel=coal"], ["vehicle.fuel"]),
        (["vehicle", "--resume"], ["never unfinished"]),
        (["compression", "--resume"], ["has no unfinished compression"]),
    ],
)  # fmt: skip
def test_what_cannot_be_written_says_so_and_writes_nothing(
    case: Path, arguments: list[str], words: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["record", str(case), *arguments]) == 2
    shown = capsys.readouterr()
    said = " ".join(shown.err.split())
    for word in words:
        assert word in said
    assert shown.out == ""
    assert "Traceback" not in said
    assert case.read_text(encoding="utf-8") == BARE


def test_an_unreadable_case_is_not_written_to(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "car.toml"
    path.write_text("[vehicle]\nfuel = 'coal'\n")
    assert run(["record", str(path), "compression", "--date", "2026-05-04"]) == 2
    assert run(["record", str(tmp_path / "none.toml"), "compression", "--date", "2026-05-04"]) == 2
    assert "vehicle.fuel (line 2)" in capsys.readouterr().err
    assert path.read_text() == "[vehicle]\nfuel = 'coal'\n"
    assert [p.name for p in tmp_path.iterdir()] == ["car.toml"]


def test_what_is_unusual_is_told(case: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["record", str(case), "compression", "--date", "2026-05-04", "--set", "dry_reading.1=20 bar"]) == 0
    assert '"20 bar" is unusual' in " ".join(capsys.readouterr().out.split())


def test_a_program_leaves_a_sheet_unfinished_and_goes_on(case: Path, capsys: pytest.CaptureFixture[str]) -> None:
    start = ["record", str(case), "compression"]
    assert run([*start, "--date", "2026-05-04", "--set", "dry_reading.1=12 bar", "--unfinished"]) == 0
    assert "is not finished" in capsys.readouterr().out
    assert run([*start, "--resume", "--set", "dry_reading.2=11 bar", "--unfinished"]) == 0
    assert run(["check", str(case)]) == 0
    assert "is not finished" in capsys.readouterr().out
    assert run([*start, "--date", "2026-05-05", "--id", "other", "--unfinished"]) == 0
    assert run([*start, "--resume"]) == 2
    assert "several unfinished" in capsys.readouterr().err
    assert run([*start, "--resume", "--id", "other", "--set", "throttle_state=wide_open"]) == 0
    assert run([*start, "--resume", "--set", "dry_reading.3=12 bar"]) == 0
    hand = case.with_name("hand.toml")
    hand.write_text(
        f'{BARE}\n[[compression]]\ndate = 2026-05-04\ndry_reading = {{1 = "12 bar", 2 = "11 bar", 3 = "12 bar"}}\n'
        '[[compression]]\ndate = 2026-05-05\nid = "other"\nthrottle_state = "wide_open"\n',
        encoding="utf-8",
    )
    assert digest(case) == digest(hand)


def test_photos(case: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (case.parent / "photos").mkdir()
    for name in ("a.jpg", "b.jpg"):
        (case.parent / "photos" / name).write_bytes(name.encode())
    paths = [text for name in ("a.jpg", "b.jpg") for text in ("--file", str(case.parent / "photos" / name))]
    assert run(["record", str(case), "compression", "--date", "2026-05-04", *paths]) == 0
    files = Case.load(case, catalogue=bundled().catalogue).sheets[0].file
    assert [one.path for one in files] == ["photos/a.jpg", "photos/b.jpg"]
    assert run(["check", str(case)]) == 0
    (case.parent / "photos" / "a.jpg").write_bytes(b"changed")
    assert run(["check", str(case)]) == 2
    assert "photos/a.jpg was changed" in " ".join(capsys.readouterr().err.split())
