"""The documentation is complete and true: generated pages are fresh, links lead somewhere, examples run."""

from __future__ import annotations

import importlib.util
import re
import tomllib
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import click
import pytest

from loadworthy import core_fields, hookspecs, house_file, sdk
from loadworthy.cli import COMMANDS, EXIT_CODES, main
from support import ROOT, bundled

DOCS = ROOT / "docs"
PAGES = sorted((*DOCS.glob("*.md"), ROOT / "README.md", ROOT / "DEVELOPERS.md"))


def script(name: str) -> Any:
    """Return a script of the docs as a module."""
    spec = importlib.util.spec_from_file_location(name, DOCS / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_generated_pages_are_fresh() -> None:
    pages = script("generate").pages()
    stale = [name for name, text in pages.items() if (DOCS / name).read_text(encoding="utf-8") != text]
    assert stale == [], "run python docs/generate.py"


def test_pictures_of_a_terminal_are_fresh_and_show_what_is_printed() -> None:
    drawn = script("pictures")
    pictures = drawn.pictures()
    folder = DOCS / "pictures"
    assert {path.name for path in folder.glob("*.svg")} == set(pictures)
    stale = [name for name, text in pictures.items() if (folder / name).read_text(encoding="utf-8") != text]
    assert stale == [], "run python docs/pictures.py"
    printed = drawn.terminal(["register", drawn.CASE])
    assert "\x1b[1m" in printed
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    for name, text in pictures.items():
        assert f"(docs/pictures/{name})" in readme
        root = ElementTree.fromstring(text)
        width = float(root.attrib["width"])
        lines = list(root.iter("{http://www.w3.org/2000/svg}text"))
        assert len(lines) > 10
        for line in lines:
            assert line.text is not None
            assert line.text.isprintable()
            assert float(line.attrib["x"]) + float(line.attrib["textLength"]) <= width
            assert line.text in printed or line.text.startswith("$ loadworthy register")


def test_a_command_that_fails_makes_no_picture() -> None:
    with pytest.raises(RuntimeError, match="ended with 2"):
        script("pictures").terminal(["register", "no-such-case.toml"])


def test_every_hook_command_limit_cause_and_section_is_documented() -> None:
    catalogue = bundled().catalogue
    wanted = {
        "hooks.md": [f"## {n}(" for n, f in vars(hookspecs).items() if hasattr(f, "loadworthy_spec")],
        "commands.md": [f"## {name}" for name in COMMANDS] + [f"| {code} |" for code in range(4)],
        "limits.md": [f"`{id}`" for id in catalogue.limits],
        "causes.md": [f"`{id}`" for id in catalogue.causes],
        "case-file.md": [f"[[{id}]]" for id in (*catalogue.sections, *core_fields.LISTS)],
    }
    for name, words in wanted.items():
        assert words
        text = (DOCS / name).read_text(encoding="utf-8")
        assert [word for word in words if word not in text] == []


def test_no_key_of_a_case_is_listed_twice() -> None:
    text = (DOCS / "case-file.md").read_text(encoding="utf-8")
    tables = [re.findall(r"^\| `(\w+)`", part, re.MULTILINE) for part in text.split("\n## ")[1:]]
    assert sum(map(len, tables)) > 100
    assert [keys for keys in tables if len(set(keys)) != len(keys)] == []


def test_every_option_setting_and_sdk_name_is_documented() -> None:
    group = click.Context(main)
    commands = [main.get_command(group, name) for name in COMMANDS]
    options = [name for command in commands for param in command.params for name in param.opts if name.startswith("-")]
    wanted = {
        "commands.md": [*dict.fromkeys(options), "CASE", "ID", "PATTERN"],
        "house.md": house_file.KEYS,
        "hooks.md": [f"| `{name}` |" for name in sdk.__all__],
    }
    for name, words in wanted.items():
        assert len(words) > 5
        text = (DOCS / name).read_text(encoding="utf-8")
        assert [word for word in words if word not in text] == []


def test_exit_codes_are_those_of_the_program() -> None:
    text = (DOCS / "commands.md").read_text(encoding="utf-8")
    assert re.findall(r"^\| (\d) \| (.*) \|$", text, re.MULTILINE) == [(str(c), t) for c, t in EXIT_CODES.items()]


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.name)
def test_links_lead_somewhere(page: Path) -> None:
    for target in re.findall(r"\]\(([^)#]+)(?:#[^)]*)?\)", page.read_text(encoding="utf-8")):
        assert (page.parent / target).exists(), target


def test_the_plugin_of_the_guide_works(tmp_path: Path) -> None:
    from loadworthy import Case, Host, assess

    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    code = re.search(r"```python\n(.*?)```", text, re.DOTALL)
    assert code is not None
    path = tmp_path / "wheels.py"
    path.write_text(code[1], encoding="utf-8")
    host = Host(files=[path], entry_points=False)
    assert host.failures == ()
    sheet = {"date": "2026-05-04", "nut_torque": "80 N m"}
    register = assess(Case.from_dict({"wheel_nuts": [sheet]}, catalogue=host.catalogue), host=host)
    assert (register.outcome, register.risks[0].id) == ("hold", "wheel-nuts-loose")


def test_the_house_example_can_be_read() -> None:
    from loadworthy import House

    text = (DOCS / "house.md").read_text(encoding="utf-8")
    example = re.search(r"```toml\n(.*?)```", text, re.DOTALL)
    assert example is not None
    catalogue = bundled().catalogue
    house = House.from_dict(tomllib.loads(example[1]), catalogue=catalogue)
    assert house.resolve(catalogue)["compression.deficit_fix"].origin == "house"
    assert house.requirements(row for _, row in bundled().requirements().values)


def test_the_readme_example_runs(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    for page in ("README.md", "docs/embedding.md"):
        code = re.search(r"```python\n(.*?)```", (ROOT / page).read_text(encoding="utf-8"), re.DOTALL)
        assert code is not None
        exec(compile(code[1], page, "exec"), {})
    assert "limited" in capsys.readouterr().out


def test_the_sdk_exports_what_it_says() -> None:
    assert sorted(sdk.__all__, key=str.lower) == sorted(set(sdk.__all__), key=str.lower)
    assert all(hasattr(sdk, name) for name in sdk.__all__)
