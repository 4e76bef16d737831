"""The commands as a user meets them: exit codes, messages, pipes, encodings."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from loadworthy.cli import COMMANDS, run
from support import DEMOS

BY_NAME = {path.stem: str(path) for path in DEMOS}
LIMITED, CLEAR, HOLD = (BY_NAME[n] for n in ("petrol-turbo-limited", "petrol-six-clear", "diesel-exhaust-valve-hold"))
FIRST_VISIT = BY_NAME["petrol-turbo-first-visit"]


def shell(*arguments: str, **env: str) -> subprocess.CompletedProcess[bytes]:
    return subprocess.run(
        [sys.executable, "-m", "loadworthy", *arguments], capture_output=True, check=False, env={**os.environ, **env}
    )


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        (["register", HOLD], 0),
        (["register", LIMITED, "--fail-on", "limited"], 1),
        (["register", LIMITED, "--fail-on", "incomplete"], 0),
        (["register", CLEAR, HOLD, "--fail-on", "hold"], 1),
        (["register", CLEAR, "missing.toml"], 2),
        (["register", HOLD, "missing.toml", "--fail-on", "clear"], 2),
        (["register"], 2),
        (["regster", CLEAR], 2),
        (["register", CLEAR, "--as-of", "yesterday"], 2),
        (["register", CLEAR, "--house", "missing.toml"], 2),
        (["why", CLEAR, "nothing-like-that"], 2),
        (["check", CLEAR], 0),
        (["--help"], 0),
        (["--version"], 0),
    ],
)
def test_exit_codes(arguments: list[str], code: int, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(arguments) == code
    shown = capsys.readouterr()
    assert "Traceback" not in shown.err + shown.out
    assert shown.err if code == 2 else shown.out


def test_a_broken_case_does_not_stop_the_others(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    broken = tmp_path / "broken.toml"
    broken.write_text("[vehicle]\nfuel = 'coal'\n", encoding="utf-8")
    assert run(["register", str(broken), CLEAR, "--format", "json"]) == 2
    shown = capsys.readouterr()
    assert [r["outcome"] for r in json.loads(shown.out)] == ["clear"]
    assert "vehicle.fuel (line 2)" in shown.err


def test_one_case_is_an_object_and_several_a_list(capsys: pytest.CaptureFixture[str]) -> None:
    run(["register", CLEAR, "--format", "json"])
    assert json.loads(capsys.readouterr().out)["outcome"] == "clear"
    run(["register", CLEAR, HOLD, "--format", "json"])
    assert [r["outcome"] for r in json.loads(capsys.readouterr().out)] == ["clear", "hold"]


def test_an_unknown_command_names_the_nearest(capsys: pytest.CaptureFixture[str]) -> None:
    run(["regster"])
    assert "did you mean register?" in capsys.readouterr().err


def test_why_without_an_id_lists_what_can_be_asked(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["why", LIMITED]) == 0
    listed = capsys.readouterr().out
    assert "ring-seal@cylinder 2" in listed
    assert "allowed" in listed
    assert run(["why", LIMITED, "ring-seal@cylinder"]) == 2
    assert "ring-seal@cylinder 2" in capsys.readouterr().err


def test_lists_show_source_and_mark(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["limits", "deficit_stop"]) == 0
    out = capsys.readouterr().out
    assert "compression.deficit_stop = " in out
    assert "TM 5-4210-230-14&P-1" in " ".join(out.split())
    assert "(published)" in out
    assert run(["causes", "exhaust-valve"]) == 0
    assert "retest: leak-down" in " ".join(capsys.readouterr().out.split())
    assert run(["plugins", "--verbose"]) == 0
    assert "hooks: " in capsys.readouterr().out


def test_a_house_limit_is_marked(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    house = tmp_path / "house.toml"
    house.write_text('[limits]\n"compression.deficit_fix" = {value = 0.06, reason = "we build for the track"}\n')
    assert run(["register", LIMITED, "--house", str(house), "--format", "json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert data["limits_changed"][0]["id"] == "compression.deficit_fix"
    assert data["limits_changed"][0]["looser"] is False
    assert data["outcome"] == "hold"


def test_a_plugin_file_that_fails_is_a_line_and_bars_clear(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    bad = tmp_path / "careless.py"
    bad.write_text("from loadworthy.sdk import hookimpl\n@hookimpl\ndef examine(case):\n    return 1 / 0\n")
    assert run(["register", CLEAR, "--plugin", str(bad), "--format", "json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert data["outcome"] == "incomplete"
    assert [f["plugin"] for f in data["plugin_failures"]] == ["careless"]


def test_as_of_an_earlier_day_knows_less(capsys: pytest.CaptureFixture[str]) -> None:
    path = BY_NAME["diesel-repaired-clear"]
    run(["register", path, "--as-of", "2026-05-10", "--format", "json"])
    assert json.loads(capsys.readouterr().out)["outcome"] == "hold"
    run(["register", path, "--as-of", "2026-05-19", "--format", "json"])
    data = json.loads(capsys.readouterr().out)
    assert data["outcome"] == "hold"
    assert "repair:head-2026-05" in [gap["id"] for gap in data["gaps"]]


def test_output_goes_to_a_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    target = tmp_path / "register.txt"
    assert run(["register", CLEAR, "-o", str(target)]) == 0
    assert "Outcome: CLEAR" in target.read_text(encoding="utf-8")
    assert capsys.readouterr().out == ""
    assert run(["register", CLEAR, "-o", str(tmp_path / "no" / "folder")]) == 2


def test_free_text_cannot_move_the_cursor(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    case = tmp_path / "odd.toml"
    case.write_text('name = "caf\\u00e9 \\u202e reversed"\n', encoding="utf-8")
    run(["register", str(case)])
    assert "\u202e" not in capsys.readouterr().out


def test_a_pipe_gets_plain_text_in_any_encoding() -> None:
    done = shell("register", LIMITED, PYTHONIOENCODING="ascii")
    assert done.returncode == 0
    assert b"\x1b" not in done.stdout
    done.stdout.decode("ascii")


def test_a_closed_pipe_is_no_fault() -> None:
    command = f"{sys.executable} -m loadworthy limits | head -1"
    done = subprocess.run(["sh", "-c", command], capture_output=True, check=False)
    assert done.stdout
    assert done.stderr == b""


def test_an_internal_fault_is_kept_in_a_file(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def broken(*_: object, **__: object) -> None:
        raise RuntimeError("bad wiring of our own")

    monkeypatch.setattr(sys.modules["loadworthy.assessing"], "assess", broken)
    assert run(["register", CLEAR]) == 3
    message = capsys.readouterr().err
    assert "Traceback" not in message
    report = Path(message.rstrip().rpartition(" ")[2])
    assert "bad wiring of our own" in report.read_text(encoding="utf-8")
    report.unlink()


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run([name, "--help"]) == 0
    assert "Usage:" in capsys.readouterr().out


def test_importing_the_package_imports_neither_click_nor_plugins() -> None:
    code = (
        "import sys, loadworthy; loadworthy.assess; "
        "print([m for m in sys.modules if m.startswith(('click', 'loadworthy_'))])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True, text=True)
    assert done.stdout.strip() == "[]"
