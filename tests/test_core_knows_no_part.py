"""The core contains no word of the vehicle: parts, limits and physics come from plugins."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
CORE = ROOT / "core" / "loadworthy"
WORDS = [
    line.strip()
    for line in (ROOT / "tests" / "forbidden_words.txt").read_text(encoding="utf-8").splitlines()
    if line.strip() and not line.startswith("#")
]
# An underscore or a digit before the stem counts as a word start too: base_oil is as much an oil as "oil".
PATTERN = re.compile(r"(?<![A-Za-z])(" + "|".join(map(re.escape, WORDS)) + ")", re.IGNORECASE)


def hits(text: str) -> list[str]:
    return [match.group(1).lower() for match in PATTERN.finditer(text)]


def test_the_pattern_finds_what_it_must() -> None:
    assert hits("the Cylinder, base_oil and turbocharged") == ["cylinder", "oil", "turbo"]
    assert hits("soil, recoil, scrambled and devalved") == []


@pytest.mark.parametrize("path", sorted(CORE.rglob("*.py")), ids=lambda p: str(p.relative_to(CORE)))
def test_core_file_names_no_part(path: Path) -> None:
    found = [
        f"line {number}: {word}"
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1)
        for word in hits(line)
    ]
    assert found == []
