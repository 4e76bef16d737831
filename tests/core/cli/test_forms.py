"""The forms of what is printed: CSV, Markdown, JSON, schemas, as they reach pipes and files."""

from __future__ import annotations

import csv
import io
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from loadworthy.cli import run
from support import DEMOS

HERE = Path(__file__).parent
POSTS = str(HERE.parent / "outputs" / "posts.py")
FIRST, SECOND = (str(path) for path in DEMOS[:2])


def shell(*arguments: str, **env: str) -> bytes:
    full = {**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path)), **env}
    return subprocess.run(
        [sys.executable, "-m", "loadworthy", *arguments], env=full, capture_output=True, check=True
    ).stdout


@pytest.fixture
def odd(tmp_path: Path) -> str:
    path = tmp_path / "odd.toml"
    path.write_text('name = "caf\u00e9 \uff1cb\uff1e =1 \uff02"\nas_of = 2026-05-10\n', encoding="utf-8")
    return str(path)


@pytest.mark.parametrize("encoding", ["utf-8", "ascii"])
def test_csv_is_utf_8_with_its_own_line_ends_whatever_the_stream(odd: str, encoding: str, tmp_path: Path) -> None:
    out = shell("register", odd, "--format", "csv", PYTHONIOENCODING=encoding)
    table = list(csv.DictReader(io.StringIO(out.decode("utf-8"), newline=""), strict=True))
    assert table[0]["case"] == "caf\u00e9 \uff1cb\uff1e =1 \uff02"
    assert out.count(b"\r\n") == out.count(b"\n") == len(table) + 1
    target = tmp_path / "all.csv"
    assert run(["register", odd, "--format", "csv", "-o", str(target)]) == 0
    assert target.read_bytes() == out


def test_markdown_in_ascii_loses_nothing_and_gains_no_markup(odd: str) -> None:
    out = shell("register", odd, "--format", "markdown", PYTHONIOENCODING="ascii").decode("ascii")
    assert out.startswith("# caf&#233; &#65308;b&#65310; =1 &#65282;\n")
    out = shell("register", odd, "--format", "markdown", PYTHONIOENCODING="utf-8").decode("utf-8")
    assert out.startswith("# caf\u00e9 \uff1cb\uff1e =1 \uff02\n")


def test_several_cases_in_one_document_and_in_one_table(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["register", FIRST, SECOND, "--format", "markdown"]) == 0
    out = capsys.readouterr().out
    assert sum(line.startswith("# ") for line in out.splitlines()) == 2
    assert "\n\n# " in out
    assert run(["register", FIRST, SECOND, "--format", "csv", "--fail-on", "clear"]) == 1
    table = list(csv.DictReader(io.StringIO(capsys.readouterr().out, newline="")))
    assert {row["file"] for row in table} == {Path(FIRST).name, Path(SECOND).name}


def test_an_unknown_form_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["register", FIRST, "--format", "html"]) == 2
    assert "'text', 'json', 'csv', 'markdown'" in capsys.readouterr().err


def test_a_closed_pipe_is_no_fault_for_a_table() -> None:
    command = f"{sys.executable} -m loadworthy limits --format csv | head -c 10"
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))}
    done = subprocess.run(["sh", "-c", command], capture_output=True, check=False, env=env)
    assert done.stdout == b'"id","valu'
    assert done.stderr == b""


@pytest.mark.parametrize("command", ["limits", "causes", "plugins"])
def test_lists_in_every_form_hold_the_same(command: str, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    assert run([command, "--format", "json", "--plugin", POSTS]) == 0
    data = json.loads(capsys.readouterr().out)
    ids = [one["id"] for one in data]
    assert any(id.startswith("posts") or id == "loose-post" for id in ids)
    target = tmp_path / "list.csv"
    assert run([command, "--format", "csv", "--plugin", POSTS, "-o", str(target)]) == 0
    table = list(csv.DictReader(io.StringIO(target.read_bytes().decode("utf-8"), newline=""), strict=True))
    assert [row["id"] for row in table] == ids
    assert set(table[0]) == set(data[0])
    assert run([command, "--format", "markdown", "--plugin", POSTS]) == 0
    rows = [line for line in capsys.readouterr().out.splitlines() if line.startswith("| ")]
    assert [row.split("|")[1].strip() for row in rows[2:]] == ids


def test_a_list_gives_si_to_programs_and_the_readers_units_to_people(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    house = tmp_path / "house.toml"
    house.write_text('[limits]\n"posts.least" = {value = "1.8 bar", reason = "=our posts"}\n', encoding="utf-8")
    common = ["limits", "posts.least", "--plugin", POSTS, "--house", str(house), "--units", "us"]
    assert run([*common, "--format", "json"]) == 0
    (one,) = json.loads(capsys.readouterr().out)
    assert (one["value"], one["default"], one["unit"], one["looser"]) == (1.8e5, 2e5, "Pa gauge", True)
    assert run([*common, "--format", "csv"]) == 0
    (row,) = csv.DictReader(io.StringIO(capsys.readouterr().out, newline=""))
    # 1 bar = 14.5038 psi: NIST SP 811 (2008), appendix B.8
    assert float(row["value"]) == pytest.approx(1.8 * 14.5038, abs=1e-3)
    assert (row["unit"], row["reason"], row["looser"]) == ("psi gauge", "'=our posts", "yes")


def test_schemas(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    assert run(["schema", "--plugin", POSTS]) == 0
    both = json.loads(capsys.readouterr().out)
    assert "bench" in both["case"]["properties"]
    target = tmp_path / "register.json"
    assert run(["schema", "register", "-o", str(target)]) == 0
    assert json.loads(target.read_text(encoding="utf-8")) == both["register"]
    assert run(["schema", "case"]) == 0
    assert "bench" not in json.loads(capsys.readouterr().out)["properties"]
    assert run(["schema", "house"]) == 2
    assert "'case', 'register'" in capsys.readouterr().err


def test_forms_are_imported_only_when_asked_for() -> None:
    code = (
        "import sys; from loadworthy.cli import run; run(sys.argv[1:]); "
        "print([m for m in sys.modules if m.startswith('loadworthy.') and m.rpartition('.')[2] in "
        "('markdown', 'spreadsheet', 'spreadsheet_rows', 'schema', 'schema_case', 'listing', 'progress')])"
    )
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))}
    done = subprocess.run(
        [sys.executable, "-c", code, "register", FIRST], env=env, capture_output=True, text=True, check=True
    )
    assert done.stdout.splitlines()[-1] == "[]"
