"""The register as programs read it."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from math import inf, nan
from pathlib import Path
from typing import Any

import pytest
from shown import CASE, register

from loadworthy.case import Curve
from loadworthy.findings import Gap
from loadworthy.outputs.plain import clean

HERE = Path(__file__).parent


@pytest.fixture(scope="module")
def data() -> dict[str, Any]:
    return register().to_dict()


def walk(value: Any) -> Any:
    yield value
    if isinstance(value, dict):
        for inner in value.values():
            yield from walk(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from walk(inner)


def test_only_plain_data_with_sorted_keys(data: dict[str, Any]) -> None:
    for value in walk(data):
        assert value is None or type(value) in (str, int, float, bool, list, dict)
        if isinstance(value, dict):
            assert list(value) == sorted(value)
    assert json.loads(json.dumps(data, allow_nan=False)) == data


def test_numbers_have_twelve_digits_and_none_is_infinite() -> None:
    assert clean(1.0 / 3.0) == 0.333333333333
    assert clean(2.0e5 / 3.0) == 66666.6666667
    assert str(clean(-0.0)) == "0.0"
    assert clean((inf, -inf, nan, 7)) == [None, None, None, 7]
    assert clean(True) is True
    assert clean({2, 1}) == [1, 2]
    assert clean(Curve((1.0,), (2.0,))) == {"speeds": [1.0], "values": [2.0]}
    assert list(clean(Gap("a", "b"))) == sorted(clean(Gap("a", "b")))
    assert clean("\udcff") == "?"


def test_outcome_and_its_reasons(data: dict[str, Any]) -> None:
    assert (data["format"], data["outcome"], data["as_of"]) == ("loadworthy/register/1", "hold", "2026-05-10")
    assert data["plan_class"] == "strong"
    assert data["outcome_reasons"][0]["id"] == "loose-post@post 1"
    assert data["unlisted"] == 0


def test_a_risk_carries_its_findings_with_limit_reading_and_weight(data: dict[str, Any]) -> None:
    risk = data["risks"][0]
    assert (risk["id"], risk["level"], risk["person"], risk["active"]) == ("loose-post@post 1", "high", True, True)
    assert risk["added_by_plan"] == pytest.approx(risk["failure_probability"] - risk["left_alone"])
    (finding,) = risk["findings"]
    assert finding["limit"] == {
        "id": "posts.least",
        "value": 180000.0,
        "unit": "Pa gauge",
        "origin": "house",
        "needed_u": finding["limit"]["needed_u"],
    }
    (reading,) = finding["readings"]
    assert (reading["value"], reading["u"], reading["unit"]) == (172000.0, 20000.0, "Pa gauge")
    (weight,) = finding["weights"]
    assert (weight["cause"], weight["subject"], weight["counts"]) == ("loose-post", "post 1", True)
    assert list(risk["share"]) == ["low-level@post 1#bench-1"]


def test_ceilings_stand_over_speed(data: dict[str, Any]) -> None:
    by_id = {one["id"]: one for one in data["ceilings"]}
    heat = by_id["posts.heat"]
    assert (heat["value"], heat["unit"], heat["kind"], heat["until"]) == (170000.0, "W", "hard", "heat-run")
    # 170 kW / (1.1 x 0.5 kW per N m); 1.2 times the plan is 264 N m at the first speed, so nothing is cut there.
    assert heat["torque"]["value"] == [None, pytest.approx(309.0909, abs=1e-4), pytest.approx(309.0909, abs=1e-4)]
    assert heat["torque"]["unknown_at"] == []
    received = by_id["posts.level.as_received@post 1"]
    assert (received["value"], received["unit"], received["origin"]) == ("as_received", "", "fault")
    assert received["finding"] == "posts.level@post 1#bench-1"
    unknown = register(CASE.replace("base_torque_measured", "#")).to_dict()["ceilings"]
    assert {tuple(one["torque"]["unknown_at"]) for one in unknown} == {(), (0, 1, 2)}


def test_waivers_changes_failures_and_plugins_name_no_folder(data: dict[str, Any]) -> None:
    (waiver,) = data["waivers"]
    assert (waiver["what"], waiver["from"], waiver["until"]) == ("look", "2026-05-01", "2026-06-01")
    assert (waiver["state"], waiver["why"]) == ("in_force", "straps are new")
    (change,) = data["limits_changed"]
    assert (change["default"], change["value"], change["unit"], change["looser"]) == (2e5, 1.8e5, "Pa gauge", True)
    (failure,) = data["plugin_failures"]
    assert (failure["plugin"], failure["hook"]) == ("careless", "examine")
    assert str(HERE) not in json.dumps(data)


def test_findings_without_a_cause_and_those_that_could_not_run(data: dict[str, Any]) -> None:
    found = {one["rule"]: one for one in data["findings"]}
    assert found["posts.tilt"]["grade"] == "unknown"
    assert found["posts.tilt"]["text"] == "the tilt was not looked at"


def test_what_cannot_be_computed_is_null() -> None:
    nothing = register(CASE.partition("[vehicle]")[0]).to_dict()
    assert nothing["demand"] is None
    assert nothing["gain"]["mean"] is None
    assert nothing["allowed"]["torque"] == []


def test_same_bytes_whatever_the_hash_seed() -> None:
    code = (
        "import json, sys; sys.path.insert(0, sys.argv[1]); import shown; print(json.dumps(shown.register().to_dict()))"
    )
    outputs = {
        subprocess.run(
            [sys.executable, "-c", code, str(HERE)],
            env={**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))},
            capture_output=True,
            check=True,
        ).stdout
        for seed in ("0", "4711")
    }
    assert len(outputs) == 1
