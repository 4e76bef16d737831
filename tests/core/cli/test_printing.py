"""What reaches terminals, pipes, files and other programs."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

import loadworthy
from loadworthy.cli import COMMANDS, EXIT_CODES, main, run
from loadworthy.cli.output import in_ascii
from support import DEMOS

HERE = Path(__file__).parent
POSTS = str(HERE.parent / "outputs" / "posts.py")
DEMO = str(DEMOS[0])
BY_NAME = {path.stem: str(path) for path in DEMOS}
CASE = """
name = "Café Müller, 12 µm"
as_of = 2026-05-10
[vehicle]
base_torque_measured = {"1000 rpm" = "200 N m", "3000 rpm" = "300 N m"}
[plan]
torque = {"1000 rpm" = "220 N m", "3000 rpm" = "390 N m"}
[[bench]]
id = "b"
date = 2026-05-02
level = {1 = "1.5 bar"}
"""


@pytest.fixture
def case(tmp_path: Path) -> str:
    path = tmp_path / "car.toml"
    path.write_text(CASE, encoding="utf-8")
    return str(path)


def shell(*arguments: str, env: dict[str, str] | None = None, **more: object) -> subprocess.CompletedProcess[bytes]:
    full = {**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path)), **(env or {})}
    return subprocess.run(
        [sys.executable, "-m", "loadworthy", *arguments],
        env=full,
        check=False,
        **({"capture_output": True} | more),
    )


# Encodings and terminals ---------------------------------------------------------------------------------------------


def test_utf_8_is_shown_as_it_is(case: str) -> None:
    done = shell("register", case, "--plugin", POSTS, env={"PYTHONIOENCODING": "utf-8"})
    assert "Café Müller, 12 µm" in done.stdout.decode("utf-8")


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "cp1252"])
def test_other_streams_get_what_they_can_show(case: str, encoding: str) -> None:
    done = shell("register", case, "--plugin", POSTS, env={"PYTHONIOENCODING": encoding})
    assert done.returncode == 0
    first = done.stdout.decode(encoding).splitlines()[0]
    assert first == ("Cafe Muller, 12 um" if encoding == "ascii" else "Café Müller, 12 µm")


def test_json_is_ascii_for_every_stream(case: str) -> None:
    done = shell("register", case, "--plugin", POSTS, "--format", "json", env={"PYTHONIOENCODING": "ascii"})
    assert json.loads(done.stdout.decode("ascii"))["case"]["name"] == "Café Müller, 12 µm"


def test_ascii_keeps_what_can_be_read() -> None:
    assert in_ascii("Łódź \u2013 5 °C ± 2, 車") == "?odz - 5 deg C +- 2, ?"


@pytest.mark.skipif(os.name == "nt", reason="needs a pseudo terminal")
@pytest.mark.parametrize(
    ("env", "bold"), [({"TERM": "xterm"}, True), ({"NO_COLOR": "1", "TERM": "xterm"}, False), ({"TERM": "dumb"}, False)]
)
def test_only_a_terminal_gets_a_bold_outcome(case: str, env: dict[str, str], bold: bool) -> None:
    import pty

    ours, theirs = pty.openpty()
    clean = dict.fromkeys(("NO_COLOR",), "") | env
    done = shell("register", case, "--plugin", POSTS, env=clean, capture_output=False, stdout=theirs)
    os.close(theirs)
    shown = b""
    while True:
        try:
            part = os.read(ours, 65536)
        except OSError:
            break
        if not part:
            break
        shown += part
    os.close(ours)
    assert done.returncode == 0
    assert (b"\x1b[1mOutcome: HOLD\x1b[0m" in shown) is bold
    assert shown.count(b"\x1b") == (2 if bold else 0)


def test_a_pipe_gets_no_control_codes(case: str) -> None:
    done = shell("register", case, "--plugin", POSTS, env={"TERM": "xterm", "FORCE_COLOR": "1"})
    assert b"\x1b" not in done.stdout
    assert b"\nOutcome: HOLD" in done.stdout


def test_file_names_cannot_steer_a_terminal() -> None:
    done = shell("register", "no\x1b[2Jsuch.toml")
    assert done.returncode == 2
    assert b"\x1b" not in done.stderr
    assert b"no?[2Jsuch.toml" in done.stderr


@pytest.mark.parametrize("arguments", [["limits"], ["register", DEMO], ["causes"], ["--help"], ["why", DEMO]])
def test_a_reader_that_goes_away_is_no_fault(arguments: list[str]) -> None:
    reading, writing = os.pipe()
    os.close(reading)
    done = shell(*arguments, capture_output=False, stdout=writing, stderr=subprocess.PIPE)
    os.close(writing)
    assert done.returncode == 0
    assert done.stderr == b""


def test_fail_on_is_answered_to_a_reader_that_goes_away() -> None:
    reading, writing = os.pipe()
    os.close(reading)
    hold = BY_NAME["diesel-exhaust-valve-hold"]
    done = shell("register", hold, "--fail-on", "hold", capture_output=False, stdout=writing, stderr=subprocess.PIPE)
    os.close(writing)
    assert (done.returncode, done.stderr) == (1, b"")


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="needs a device that is always full")
@pytest.mark.parametrize("arguments", [["limits"], ["--help"], ["--version"], ["register", "--help"]])
def test_a_full_disk_is_said(arguments: list[str]) -> None:
    with open("/dev/full", "wb") as full:
        done = shell(*arguments, capture_output=False, stdout=full, stderr=subprocess.PIPE)
    assert done.returncode == 2
    assert b"cannot write the output" in done.stderr
    assert b"Traceback" not in done.stderr


# Files ---------------------------------------------------------------------------------------------------------------


def test_a_file_gets_utf_8_whatever_the_screen_can_show(case: str, tmp_path: Path) -> None:
    target = tmp_path / "out.txt"
    done = shell("register", case, "--plugin", POSTS, "-o", str(target), env={"PYTHONIOENCODING": "ascii"})
    assert (done.returncode, done.stdout) == (0, b"")
    assert target.read_text(encoding="utf-8").startswith("Café Müller")


def test_an_old_file_stays_until_the_new_one_is_whole(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    target = tmp_path / "out.txt"
    target.write_text("the old one", encoding="utf-8")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    assert run(["register", DEMO, "-o", str(target)]) == 2
    assert target.read_text(encoding="utf-8") == "the old one"
    assert [path.name for path in tmp_path.iterdir()] == ["out.txt"]


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes here")
def test_a_pipe_is_written_to_and_stays_one(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    code = "import sys; sys.stdout.buffer.write(open(sys.argv[1], 'rb').read())"
    with subprocess.Popen([sys.executable, "-c", code, str(pipe)], stdout=subprocess.PIPE) as reader:
        try:
            assert run(["register", DEMO, "-o", str(pipe)]) == 0
            assert pipe.is_fifo()
            shown, _ = reader.communicate(timeout=60)
        finally:
            reader.kill()
    assert b"Outcome:" in shown


def test_faults_fit_80_columns(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "car.toml"
    path.write_text('[vehicle]\nfuel = "coal"\nbore = "86 rpm"\n[oddity]\n', encoding="utf-8")
    assert run(["check", str(path)]) == 2
    head, *faults = capsys.readouterr().err.splitlines()
    assert head.endswith("cannot be read: 3 faults")
    assert max(map(len, faults)) <= 80
    assert [line[:3].rstrip() == "" for line in faults].count(False) == 3
    assert "here a length is needed" in " ".join(line.strip() for line in faults)


def test_nothing_is_written_where_no_case_could_be_read(tmp_path: Path) -> None:
    target = tmp_path / "out.txt"
    assert run(["register", "missing.toml", "-o", str(target)]) == 2
    assert not target.exists()


def test_a_case_is_not_written_over(case: str, capsys: pytest.CaptureFixture[str]) -> None:
    before = Path(case).read_bytes()
    assert run(["register", case, "--plugin", POSTS, "-o", case]) == 2
    assert Path(case).read_bytes() == before
    assert "one of the files to read" in capsys.readouterr().err


# Several cases, faults, exit codes -----------------------------------------------------------------------------------


def test_several_registers_are_told_apart(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["register", DEMO, DEMO]) == 0
    out = capsys.readouterr().out
    assert out.count("\nOutcome: ") == 2
    assert f"\n{'=' * 80}\n" in out
    assert max(map(len, out.splitlines())) <= 80


def test_the_highest_code_wins_and_every_other_case_is_shown(
    case: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from loadworthy import assessing

    whole = assessing.assess

    def sometimes(case: loadworthy.Case, **more: object) -> object:
        if case.name.startswith("Caf"):
            raise ZeroDivisionError("a fault of ours")
        return whole(case, **more)

    monkeypatch.setattr(assessing, "assess", sometimes)
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    code = run(["register", "missing.toml", case, DEMO, "--plugin", POSTS, "--fail-on", "clear", "--format", "json"])
    shown = capsys.readouterr()
    assert code == 3
    assert len(json.loads(shown.out)) == 1
    assert "missing.toml cannot be read" in shown.err
    assert "internal fault with" in shown.err
    (report,) = tmp_path.glob("loadworthy-fault-*.txt")
    assert str(report) in shown.err
    text = report.read_text(encoding="utf-8")
    assert "a fault of ours" in text
    assert "Traceback" in text
    assert "Traceback" not in shown.err


def test_a_report_that_cannot_be_written_is_no_second_fault(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def broken(*_: object, **__: object) -> None:
        raise RuntimeError

    monkeypatch.setattr("loadworthy.assessing.assess", broken)
    monkeypatch.setattr("tempfile.tempdir", "/nowhere/at/all")
    assert run(["register", DEMO]) == 3
    assert "no report could be written" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"\x7fELF\x00\x01\x02", "cannot be read"),
        ("fuel = ünquoted".encode("latin-1"), "not UTF-8"),
        (b"[vehicle\n", "not valid TOML"),
        (b"[vehicle]\nfuell = 'x'\n", "fuell"),
    ],
)
def test_broken_files_are_said_to_be_so(
    content: bytes, words: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "broken.toml"
    path.write_bytes(content)
    for command in ("register", "check", "why"):
        assert run([command, str(path)]) == 2
        shown = capsys.readouterr()
        assert words in shown.err
        assert "Traceback" not in shown.err
        assert shown.out == ""


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--house", "HOUSE"], "did you mean letterhead?"),
        (["--house", "missing.toml"], "there is no such file"),
        (["--plugin", "missing.py"], "there is no such file"),
        (["--as-of", "2026-13-01"], "write it as 2026-05-04"),
        (["--as-of", "20260504"], "write it as 2026-05-04"),
        (["--units", "imperial"], "'si', 'us'"),
        (["--nonsense"], "nonsense"),
    ],
)
def test_bad_options_are_said_with_what_to_write(
    arguments: list[str], words: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    house = tmp_path / "house.toml"
    house.write_text('letterheat = "x"\n', encoding="utf-8")
    for command in (["register", DEMO], ["check", DEMO], ["why", DEMO, "allowed"]):
        assert run([*command, *(str(house) if one == "HOUSE" else one for one in arguments)]) == 2
        assert words in capsys.readouterr().err


def test_a_plugin_file_that_cannot_be_loaded_bars_clear(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    bad = tmp_path / "torn.py"
    bad.write_text("raise RuntimeError('torn')\n", encoding="utf-8")
    assert run(["register", BY_NAME["petrol-six-clear"], "--plugin", str(bad)]) == 0
    out = capsys.readouterr().out
    assert "Outcome: INCOMPLETE" in out
    assert "check failed: torn (load): raised RuntimeError: torn" in out
    assert run(["plugins", "--plugin", str(bad)]) == 0
    assert "failed: torn (load)" in capsys.readouterr().out


def test_check_tells_what_is_odd_and_what_is_not_known_yet(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["check", BY_NAME["diesel-repaired-clear"], "--as-of", "2026-05-10"]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "8 sheets, 1 repair, as of 2026-05-10" in out
    assert "dated later, so not known yet: compression:2026-05-20" in out
    assert '"16.9 bar" is unusual' in out


# Lists ---------------------------------------------------------------------------------------------------------------


def test_patterns_find_parts_or_whole_ids(capsys: pytest.CaptureFixture[str]) -> None:
    run(["limits", "deficit"])
    some = capsys.readouterr().out.count("\ncompression.deficit_") + 1
    run(["limits", "compression.deficit_*"])
    assert capsys.readouterr().out.count("\ncompression.deficit_") + 1 == some == 3
    assert run(["limits", "defecit"]) == 2
    assert "no limit matches defecit" in capsys.readouterr().err
    assert run(["causes", "ring-sael"]) == 2
    assert "did you mean ring-seal" in capsys.readouterr().err


def test_limits_show_what_the_house_changed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    house = tmp_path / "house.toml"
    house.write_text('[limits]\n"posts.least" = {value = "1.5 bar", reason = "short posts"}\n', encoding="utf-8")
    assert run(["limits", "posts.", "--plugin", POSTS, "--house", str(house), "--units", "us"]) == 0
    out = capsys.readouterr().out
    assert "posts.least = 21.76 psi gauge (house); worse below: fix first" in out  # 1.5 bar
    assert "default 29.01 psi gauge, looser: short posts" in out


@pytest.mark.parametrize("arguments", [["limits"], ["causes"], ["plugins"], ["plugins", "--verbose"], ["check", DEMO]])
def test_lists_fit_80_columns(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert run(arguments) == 0
    assert max(map(len, capsys.readouterr().out.splitlines())) <= 80


# The group -----------------------------------------------------------------------------------------------------------


def test_the_group_ends_with_our_codes() -> None:
    runner = CliRunner()
    assert runner.invoke(main, ["register", DEMO]).exit_code == 0
    assert runner.invoke(main, ["register", BY_NAME["diesel-exhaust-valve-hold"], "--fail-on", "hold"]).exit_code == 1
    assert runner.invoke(main, ["register", "missing.toml"]).exit_code == 2
    assert runner.invoke(main, ["--help"]).exit_code == 0
    assert sorted(EXIT_CODES) == [0, 1, 2, 3]


def test_ended_from_the_keyboard(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    def stop(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("loadworthy.assessing.assess", stop)
    assert run(["register", DEMO]) == 130
    assert "Traceback" not in capsys.readouterr().err


def test_every_command_and_option_explains_itself() -> None:
    import click

    parent = click.Context(main)
    for name in COMMANDS:
        command = main.get_command(parent, name)
        assert command is not None
        assert command.help
        for param in command.params:
            assert isinstance(param, click.Argument) or getattr(param, "help", ""), (name, param.name)


def test_help_names_no_module_that_it_does_not_need() -> None:
    code = "import sys\nfrom loadworthy.cli import run\nrun(['--help'])\nprint([m for m in sys.modules if 'cli.' in m])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True, text=True)
    assert done.stdout.rstrip().endswith("[]")


def test_the_text_path_imports_nothing_heavy() -> None:
    """Cold start: what only other commands or formats need stays out."""
    heavy = "json", "difflib", "textwrap", "importlib.metadata", "logging", "cattrs", "tempfile", "numpy", "tomli_w"
    code = (
        "import sys\nfrom loadworthy.cli import run\n"
        f"run(['register', {DEMO!r}])\nprint([m for m in {heavy!r} if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True, text=True)
    assert done.stdout.rstrip().endswith("[]")


def test_the_version_is_printed(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["--version"]) == 0
    assert capsys.readouterr().out == f"loadworthy {loadworthy.__version__}\n"
