"""What papers and past events say, and what ends it."""

from __future__ import annotations

import datetime
from typing import Any

import pytest
from compression_cases import DAY, PETROL, belief, look, ratio, register

from loadworthy_plugins.compression.causes import CAUSES

SPEC = {**PETROL, "compression_spec_min": "9 bar"}


@pytest.mark.parametrize(
    ("flag", "cause", "subject", "expected"),
    [
        ("knock_history", "piston-or-ring-land-broken", "cylinder 2", 4.0),
        ("water_ingress", "bent-connecting-rod", "cylinder 2", 6.0),
        ("timing_drive_work", "valve-timing-off", None, 3.0),
        ("coolant_loss", "head-gasket-or-crack-to-coolant", "cylinder 2", 3.0),
        ("short_trips", "carbon-in-chamber", "cylinder 2", 2.0),
        ("oil_use_high", "carbon-in-chamber", "cylinder 2", 2.0),
    ],
)
def test_history(flag: str, cause: str, subject: str | None, expected: float) -> None:
    rules = {
        "knock_history": "history_knock",
        "water_ingress": "history_water",
        "coolant_loss": "history_coolant_loss",
        "short_trips": "history_carbon",
        "oil_use_high": "history_carbon",
    }
    rule = rules.get(flag, "history_timing_drive")
    assert ratio(register({**SPEC, flag: True}), cause, subject, rule) == pytest.approx(expected)
    denied = register({**SPEC, flag: False})
    assert belief(denied, cause, subject).net == 0.0


def event(kind: str, day: int = 0) -> dict[str, Any]:
    return {"kind": kind, "date": DAY + datetime.timedelta(days=day)}


@pytest.mark.parametrize(
    ("kind", "rule", "cause", "subject", "expected"),
    [
        ("knock", "history_knock", "piston-or-ring-land-broken", "cylinder 2", 4.0),
        ("hydrolock", "history_water", "bent-connecting-rod", "cylinder 2", 6.0),
        ("over_speed", "history_over_speed", "over-speed-event", None, 12.0),
    ],
)
def test_events_speak_as_the_flags_do(kind: str, rule: str, cause: str, subject: str | None, expected: float) -> None:
    made = register(SPEC, days=3, event=[event(kind)])
    assert ratio(made, cause, subject, rule) == pytest.approx(expected)
    # The event is on record: that somebody denies it does not take it away; another event says nothing of it.
    denied = {"knock": "knock_history", "hydrolock": "water_ingress"}.get(kind)
    if denied:
        assert ratio(register({**SPEC, denied: False}, days=3, event=[event(kind)]), cause, subject, rule) == (
            pytest.approx(expected)
        )
    assert not look(SPEC, event=[event("collision")]).has(rule)


def test_a_repair_after_the_event_ends_what_it_says_of_that_cylinder() -> None:
    repair = {"id": "r1", "what": "rod replaced", "treats": ["bent-connecting-rod@cylinder 2"]}
    after = {**repair, "date": DAY + datetime.timedelta(days=5)}
    made = register(SPEC, days=9, event=[event("hydrolock")], repair=[after])
    weights = {n: belief(made, "bent-connecting-rod", f"cylinder {n}").weights for n in (1, 2)}
    assert any("history_water" in w.finding for w in weights[1])
    assert not weights[2]
    whole = {**after, "treats": ["bent-connecting-rod"]}
    assert not look(SPEC, event=[event("hydrolock")], repair=[whole]).has("history_water")
    # What the papers say has no date and counts as before the repair: it is not weighed twice.
    papers = register({**SPEC, "water_ingress": True}, days=9, repair=[after])
    assert not belief(papers, "bent-connecting-rod", "cylinder 2").weights
    assert belief(papers, "bent-connecting-rod", "cylinder 1").weights
    assert belief(papers, "bent-connecting-rod", "cylinder 2").p <= (
        belief(register({**SPEC, "water_ingress": True}, days=9), "bent-connecting-rod", "cylinder 2").p
    )
    # A repair may be named by a broader word.
    gasket = {**after, "treats": ["head-gasket"]}
    assert not look({**SPEC, "coolant_loss": True}, repair=[gasket]).has("history_coolant_loss")
    # Rods that were replaced before it went wrong are no answer.
    earlier = {**repair, "date": DAY - datetime.timedelta(days=5)}
    assert look(SPEC, event=[event("hydrolock")], repair=[earlier]).has("history_water")


def test_speed_beyond_the_makers_limit() -> None:
    # "Logged speed over the limit": ratio 12, judgement; a logged speed is known to 25 rpm.
    def made(speed: str) -> float:
        found = register({**SPEC, "engine_speed_limit": "6500 rpm", "highest_logged_speed": speed})
        uses = [w for b in found.beliefs if b.cause == "over-speed-event" for w in b.weights]
        return float(10 ** (uses[0].raw_db / 10)) if uses else 1.0

    assert made("7100 rpm") == pytest.approx(12.0, rel=1e-6)
    assert made("6500 rpm") == pytest.approx(0.5 * 12 + 0.5, rel=1e-6)
    assert made("6000 rpm") == pytest.approx(1.0, rel=1e-6)
    assert not look({**SPEC, "highest_logged_speed": "7100 rpm"}).has("history_over_speed")


@pytest.mark.parametrize(
    ("cause", "kind"),
    [
        ("head-gasket-between-cylinders", "overheating"),
        ("head-gasket-or-crack-to-coolant", "overheating"),
        ("piston-or-ring-land-broken", "knock"),
        ("bent-connecting-rod", "hydrolock"),
        ("ring-seal", "rebuild"),
    ],
)
def test_causes_name_the_events_that_make_old_evidence_worthless(cause: str, kind: str) -> None:
    # Overheating, knock, hydrolock and rebuild end evidence; also that of other checks on these causes.
    assert kind in next(one for one in CAUSES if one.id == cause).events
