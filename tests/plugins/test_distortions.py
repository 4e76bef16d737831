"""A declared part never hides a fault, whichever reading of whichever check it falsifies."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Any

import pytest

from loadworthy import Case, Host, assess
from loadworthy.case import Reading
from loadworthy.findings import Distortion
from loadworthy.hookspecs import hookimpl
from support import DEMOS, bundled_modules

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from loadworthy import Register

#: From this grade on a finding must still be one when its reading is doubted.
SERIOUS = ("watch", "fix_first", "stop")


class Doubt:
    """A plugin that doubts one reading, as a declared part would."""

    def __init__(self, target: str, action: Any) -> None:
        self._target, self._action = target, action

    @hookimpl
    def distort(self) -> tuple[Distortion, ...]:
        widened = 0.2 if self._action == "widen" else 0.0
        return (Distortion(self._target, "a part that was declared", self._action, widen_relative=widened),)


@lru_cache
def _host() -> Host:
    return Host(bundled_modules(), entry_points=False)


def _register(path: Path, doubt: Doubt | None = None) -> Register:
    plugins = bundled_modules() | ({"zz_doubt": doubt} if doubt is not None else {})
    host = Host(plugins, entry_points=False) if doubt is not None else _host()
    found = assess(Case.load(path, catalogue=host.catalogue), host=host)
    assert found.failures == ()
    return found


def _measured(values: Any, place: str) -> Iterator[str]:
    """Yield the places of all readings of a sheet, rows included."""
    for name, value in values.items():
        held = value if isinstance(value, tuple) else tuple(value.values()) if hasattr(value, "values") else (value,)
        if any(isinstance(one, Reading) for one in held):
            yield f"{place}.{name}"
        for one in held:
            if hasattr(one, "items"):
                yield from _measured(one, f"{place}.{name}")


def _targets(path: Path) -> list[str]:
    case = Case.load(path, catalogue=_host().catalogue)
    found = {place for sheet in case.sheets for place in _measured(sheet.values, sheet.section)}
    return sorted(found)


@pytest.mark.parametrize("action", ["widen", "refuse"])
@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_doubting_any_reading_hides_no_fault(path: Path, action: str) -> None:
    before = _register(path)
    serious = {
        (s.finding.rule, s.finding.subject, s.finding.sheet) for s in before.standings if s.grade in SERIOUS and s.fired
    }
    exonerated = {(b.cause, b.subject): b.negative for b in before.beliefs}
    for target in _targets(path):
        after = _register(path, Doubt(target, action))
        graded = {(s.finding.rule, s.finding.subject, s.finding.sheet): s.grade for s in after.standings}
        hidden = [key for key in serious if graded.get(key) not in SERIOUS]
        assert hidden == [], f"{action} {target}"
        more = [
            (b.cause, b.subject) for b in after.beliefs if b.negative > exonerated.get((b.cause, b.subject), 0.0) + 1e-9
        ]
        # A reading that is less certain is mixed of what it says when beyond its limit and when not; one that is not to
        # be relied on may clear nothing at all.
        assert action == "widen" or more == [], f"{action} {target} exonerates"
        assert after.outcome != "clear" or before.outcome == "clear", f"{action} {target}"
