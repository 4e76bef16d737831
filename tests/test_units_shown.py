"""Every quantity that a person is shown follows --units, whatever the command and the form.

Not the program's own words, and so left as they were written: what stands in quotes (values of the case as written,
examples of what to write), what people wrote into the case, published sources, ids, and formulas without blanks.
"""

from __future__ import annotations

import functools
import re
import tomllib
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import pytest

from loadworthy import Case, assess
from loadworthy.cli import run
from loadworthy.outputs.markdown import register_markdown
from loadworthy.outputs.spreadsheet import registers_csv
from loadworthy.outputs.text import register_text
from loadworthy.outputs.why import every_id, why_text
from loadworthy.unit_table import KINDS
from support import DEMOS, bundled

if TYPE_CHECKING:
    from pathlib import Path

    from loadworthy import Register

METRIC = {
    *(kind.shown_si for kind in KINDS.values() if kind.shown_si != kind.shown_us),
    *("Pa", "hPa", "kPa", "MPa", "mbar", "bar", "K", "cm", "um", "cm2", "m2", "cL", "mL", "cm3", "mm3", "m3", "mg"),
    *("m/s", "W", "MW", "PS", "J", "MJ", "Wh", "kWh", "N/m", "kg/s", "mg/s", "kg/min", "g/min", "kg/h", "g/h", "m3/s"),
    *("L/s", "L/h", "mL/s", "m3/h", "g/cm3", "J/kg", "kJ/kg", "kg/kWh", "g/MJ", "mg/km", "N cm", "daN m", "kgf"),
    *("L/100 km", "kN"),
} - {"m"}
CUSTOMARY = {
    *(kind.shown_us for kind in KINDS.values() if kind.shown_si != kind.shown_us),
    *("psi", "inHg", "degF", "degR", "thou", "ft2", "in3", "ft3", "oz", "ft/s", "lb/s", "lb/min", "cfm", "lb in"),
    *("US qt", "imp gal", "hp"),
}


def finder(units: set[str]) -> re.Pattern[str]:
    names = "|".join(re.escape(unit) for unit in sorted(units, key=len, reverse=True))
    return re.compile(rf"(?<![\w.~:/-])[-+]?\d+(?:\.\d+)?(?:e[-+]?\d+)? (?:{names})(?![\w/^])")


#: What must not stand in the output of a system.
FOREIGN = {"si": finder(CUSTOMARY), "us": finder(METRIC)}


def texts(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for inner in value.values():
            yield from texts(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from texts(inner)


@functools.cache
def quoted() -> tuple[str, ...]:
    """What people wrote in words, and published sources."""
    written = {text for path in DEMOS for text in texts(tomllib.loads(path.read_text(encoding="utf-8")))}
    sources = {limit.source for limit in bundled().catalogue.limits.values() if limit.mark == "published"}
    words = {text for text in written if " " in text and not text[0].isdigit()}
    return tuple(sorted(words | sources, key=len, reverse=True))


def foreign(text: str, system: str) -> list[str]:
    plain = " ".join(text.split())
    for words in quoted():
        plain = plain.replace(words, "...")
    plain = re.sub(r'"[^"]*"', '""', plain.replace(" in the house", " to the house"))
    return [plain[max(0, found.start() - 40) : found.end()] for found in FOREIGN[system].finditer(plain)]


@functools.cache
def demo(path: Path) -> Register:
    return assess(Case.load(path, catalogue=bundled().catalogue), host=bundled())


def test_the_search_finds_what_it_should() -> None:
    assert foreign("held at 390 N m", "us") == ["held at 390 N m"]
    assert foreign("about 298 K (77.0 degF)", "us") == ["about 298 K"]
    assert foreign('at 12.3 psi gauge, "12 psi" as written', "si") == ["at 12.3 psi gauge"]
    assert foreign("at 3000 rpm, 20 % in 25 min", "us") == foreign("at 3000 rpm, 20 % in 25 min", "si") == []


@pytest.mark.parametrize("system", ["si", "us"])
@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_register_and_derivations(path: Path, system: str) -> None:
    found = demo(path)
    assert foreign(register_text(found, system=system), system) == []
    assert foreign(register_markdown(found, system=system), system) == []
    seen = 0
    for names in every_id(found).values():
        for name in names:
            told = why_text(found, name, system=system)
            assert told is not None
            assert foreign(told, system) == [], name
            seen += 1
    assert seen > 200


@pytest.mark.parametrize("system", ["si", "us"])
def test_the_table_says_which_unit(system: str) -> None:
    import csv
    import io

    units = (METRIC if system == "us" else CUSTOMARY) | ({"m"} if system == "us" else {"ft"})
    table = list(csv.DictReader(io.StringIO(registers_csv(map(demo, DEMOS), system=system), newline="")))
    assert {row["unit"] for row in table} & units == set()
    assert {row["torque_unit"] for row in table} == {"", "lb ft" if system == "us" else "N m"}
    for row in table:
        for cell in row.values():
            assert foreign(cell.replace("'", ""), system) == []


@pytest.mark.parametrize("system", ["si", "us"])
@pytest.mark.parametrize("form", ["text", "markdown"])
@pytest.mark.parametrize("command", ["limits", "causes"])
def test_lists(command: str, form: str, system: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run([command, "--units", system, "--format", form]) == 0
    out = capsys.readouterr().out
    assert len(out) > 1000
    assert foreign(out.replace("&amp;", "&"), system) == []


BROKEN = """
as_of = 2026-05-10
[vehicle]
displacement = "2 mm3"
cylinder_count = 4
fuel = "diesel_b7"
[[compression]]
date = 2026-05-01
dry_reading = {1 = "900 bar"}
"""


@pytest.mark.parametrize("command", ["check", "register", "why"])
@pytest.mark.parametrize("system", ["si", "us"])
def test_faults(command: str, system: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "car.toml"
    path.write_text(BROKEN, encoding="utf-8")
    assert run([command, str(path), "--units", system]) == 2
    said = " ".join(capsys.readouterr().err.split())
    assert '"900 bar" is impossible here' in said
    assert ("between 0 psi gauge and 725 psi gauge" if system == "us" else "between 0 bar gauge and 50.0 bar") in said
    assert foreign(said, system) == []


@pytest.mark.parametrize("system", ["si", "us"])
def test_notes(system: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "car.toml"
    text = BROKEN.replace('displacement = "2 mm3"', "").replace("900 bar", "45 bar +- 0.2")
    path.write_text(text, encoding="utf-8")
    assert run(["check", str(path), "--units", system]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert '"45 bar" is unusual' in said
    assert f"{'psi' if system == 'us' else 'bar'} gauge" in said
    assert foreign(said, system) == []
