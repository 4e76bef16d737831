"""Bad data and a broken plugin stay where they are."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from vehicle import DAY

import loadworthy_cooling
import loadworthy_cooling.rules
from loadworthy import CaseError, Host

if TYPE_CHECKING:
    from vehicle import Registers, Sheets

    from loadworthy import Register


def of_others(register: Register) -> list[Any]:
    return [s for s in register.standings if s.plugin != "cooling"]


def test_these_tests_run_on_the_installed_plugin() -> None:
    (plugin,) = [plugin for plugin in Host().plugins if plugin.id == "cooling"]
    assert (plugin.distribution, plugin.source) == ("loadworthy-cooling", "loadworthy_cooling")
    assert not Path(loadworthy_cooling.__file__).is_relative_to(Path(__file__).parents[1])


def test_a_bad_sheet_leaves_the_others_judged(register: Registers, sheet: Sheets) -> None:
    bad = sheet("bad", DAY - datetime.timedelta(days=1), coolant_temperature="-10 degC")
    found = register(bad, sheet("good"))
    states = {s.id: s.state for s in found.standings if s.finding.rule == "cooling.plan"}
    assert states == {"cooling.plan#bad": "unknown", "cooling.plan#good": "governs"}
    assert found.failures == ()


def test_nobody_elses_findings_change(register: Registers, sheet: Sheets) -> None:
    assert of_others(register(sheet(coolant_temperature="106 degC"))) == of_others(register()) != []


def test_a_broken_rule_is_a_line_of_the_register(
    register: Registers, sheet: Sheets, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: Any) -> Any:
        raise ZeroDivisionError("on purpose")

    sound = register(sheet())
    monkeypatch.setattr(loadworthy_cooling.rules, "judge", broken)
    found = register(sheet())
    (failure,) = found.failures
    assert (failure.plugin, failure.hook) == ("cooling", "examine")
    assert (sound.outcome, found.outcome) == ("clear", "incomplete")
    assert of_others(found) == of_others(sound)


@pytest.mark.parametrize(
    ("changed", "word"),
    [
        ({"coolant_temperature": "96"}, "coolant_temperature"),
        ({"coolant_temperature": "900 degC"}, "coolant_temperature"),
        ({"power": "-5 kW"}, "power"),
        ({"air": "a fan"}, "air"),
        ({"coolant_temprature": "96 degC"}, "coolant_temperature"),
    ],
)
def test_the_reader_refuses_what_is_no_reading(
    register: Registers, sheet: Sheets, changed: dict[str, Any], word: str
) -> None:
    with pytest.raises(CaseError, match=word):
        register(sheet(**changed))
