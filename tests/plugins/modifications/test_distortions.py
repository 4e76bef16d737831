"""What a part that the calibration does not know makes of other checks' readings: less sure, never better."""

from __future__ import annotations

import datetime
import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from inventory_cases import DAY, INJECTOR, answered, case, part, register, sheet

import loadworthy_plugins.compression as compression
import loadworthy_plugins.house_rules as house_rules
import loadworthy_plugins.load_demand as load_demand
import loadworthy_plugins.modifications as modifications
from loadworthy.assessing import assess
from loadworthy.case import Case
from loadworthy.decide import OUTCOMES
from loadworthy.host import Host
from loadworthy.limits import ResolvedLimit
from loadworthy.prepare import distorted
from loadworthy_plugins.modifications.falsified import distortions
from loadworthy_plugins.modifications.parts import BY_ID, CATALOGUE
from loadworthy_plugins.modifications.sheet import KINDS

VOCABULARY = tomllib.loads((Path(__file__).parents[1] / "vocabulary.toml").read_text(encoding="utf-8"))
BUNDLED = Host().catalogue
FEW = settings(max_examples=40, deadline=None)
DISTORTING = [kind.id for kind in CATALOGUE if kind.distorts]
#: A petrol engine whose second cylinder leaks, and one that does not.
ENGINE: dict[str, Any] = {
    "fuel": "petrol_e10",
    "induction": "turbo",
    "displacement": "1998 cm3",
    "cylinder_count": 4,
    "cylinder_banks": [[1, 2, 3, 4]],
    "compression_ratio": 9.5,
    "compression_spec_min": "9 bar",
    "base_torque_measured": {"2000 rpm": "300 N m", "5500 rpm": "250 N m"},
}


def host() -> Host:
    plugins = {
        "house_rules": house_rules,
        "load_demand": load_demand,
        "compression": compression,
        "modifications": modifications,
    }
    return Host(plugins, entry_points=False)


def _compression(*bar: float) -> dict[str, Any]:
    return {
        "date": DAY,
        "dry_reading": {str(i): f"{p} bar +- 0.3" for i, p in enumerate(bar, 1)},
        "cranking_speed": "250 rpm",
        "coolant_temp": "80 degC",
        "throttle_state": "wide_open",
        "plugs_removed": "all",
    }


@pytest.mark.parametrize("kind", [kind for kind in CATALOGUE if kind.distorts], ids=lambda kind: kind.id)
def test_every_target_exists(kind: Any) -> None:
    quantities = {entry["id"] for entry in VOCABULARY["quantity"]}
    for one in kind.distorts:
        section, mark, field = one.target.partition(".")
        if mark:
            assert field in {f.name for f in BUNDLED.sections[section].fields}, one.target
        else:
            assert one.target in quantities, one.target
        assert one.why
        assert 0.0 <= one.relative <= 0.5


@pytest.mark.parametrize("kind", DISTORTING)
def test_a_part_distorts_until_the_calibration_is_proven_to_know_it(kind: str) -> None:
    targets = {one.target for one in BY_ID[kind].distorts}
    proven = {"calibration_aware": "yes", "calibration_record": "sheet 4"}
    assert {d.target for d in distortions(case(sheet(part(kind))))} == targets
    assert {d.target for d in distortions(case(sheet(part(kind, calibration_aware="no"))))} == targets
    assert {d.target for d in distortions(case(sheet(part(kind, calibration_aware="yes"))))} == targets
    assert distortions(case(sheet(part(kind, **proven)))) == ()


def test_a_record_of_a_changed_calibration_distorts_like_the_software_that_it_is() -> None:
    def targets(*records: dict[str, Any], sheets: tuple[dict[str, Any], ...] = ()) -> set[str]:
        days = [{"date": DAY + datetime.timedelta(days=i), **one} for i, one in enumerate(records)]
        return {d.target for d in distortions(case(*sheets, calibration=days))}

    software = {one.target for one in BY_ID["software"].distorts}
    changed, standard = {"present_calibration": "changed_by"}, {"present_calibration": "standard"}
    other = {"verification_number": ["12AB"], "maker_verification_number": ["12AC"]}
    assert targets(changed) == targets(other) == targets(standard, changed) == software
    assert targets(changed, {"present_calibration": "unknown"}) == software
    assert targets(standard) == targets({"present_calibration": "unknown"}) == targets(changed, standard) == set()
    # The word that it is as made does not stand against the record.
    assert targets(changed, sheets=(answered(),)) == software
    found = register(answered(), calibration=[{"date": DAY, **changed}])
    assert any(s.id.startswith("modifications.conflicting@software") and s.stands for s in found.standings)


def test_a_conflict_distorts_and_an_unknown_part_does_not() -> None:
    word = answered()
    eyes = sheet(part("camshaft", status="seen"), day=1)
    assert {d.target for d in distortions(case(word, eyes))} == {one.target for one in BY_ID["camshaft"].distorts}
    assert distortions(case(sheet(part("camshaft", "unknown")))) == ()
    assert distortions(case()) == ()
    assert distortions(case(answered())) == ()
    assert distortions(case(answered(INJECTOR))) == ()


def test_a_camshaft_makes_compression_less_certain_and_changes_no_value() -> None:
    found = host()
    made = {"name": "t", "vehicle": ENGINE, "compression": [_compression(12.0, 12.1, 12.0, 11.9)]}
    plain = Case.from_dict({**made, "modification": [sheet(part("camshaft"))]}, catalogue=found.catalogue)
    told = [("modifications", one) for one in distortions(plain)]
    marked, words = distorted(plain, told, found.catalogue)
    (before,), (after,) = plain.of("compression"), marked.of("compression")
    for key in "1234":
        a, b = before.reading("dry_reading", key), after.reading("dry_reading", key)
        assert a is not None
        assert b is not None
        assert b.value == a.value
        assert b.u == pytest.approx(((a.u or 0.0) ** 2 + (0.10 * a.value) ** 2) ** 0.5)
        assert any("camshaft" in name for name, _ in b.u_parts)
    assert any(word.startswith("compression.dry_reading: taken as less certain") for word in words)


_LIMIT = ResolvedLimit("x.y", 100.0, "ratio", "above", "fix_first")


@FEW
@given(y=st.floats(100.0, 1e3), u=st.floats(1e-3, 10.0), wider=st.floats(0.0, 300.0))
def test_widening_never_takes_a_reading_back_inside_its_limit(y: float, u: float, wider: float) -> None:
    # From 0.5 a reading counts as beyond (simple acceptance, JCGM 106:2012).
    assert _LIMIT.judge(y, (u * u + wider * wider) ** 0.5).p_beyond >= 0.5


@settings(max_examples=12, deadline=None)
@given(
    kinds=st.sets(st.sampled_from(KINDS), max_size=4),
    low=st.floats(4.0, 12.0),
    status=st.sampled_from(["declared", "seen"]),
)
def test_no_declared_part_hides_a_fault(kinds: set[str], low: float, status: str) -> None:
    found = host()
    made = {
        "name": "t",
        "as_of": DAY,
        "vehicle": ENGINE,
        "plan": {"torque": {"2000 rpm": "330 N m", "5500 rpm": "270 N m"}},
        "compression": [_compression(12.0, round(low, 2), 12.0, 11.9)],
    }
    parts = [part(kind, status=status) for kind in sorted(kinds)]
    bare = assess(Case.from_dict({**made, "modification": [answered()]}, catalogue=found.catalogue), host=found)
    with_parts = Case.from_dict({**made, "modification": [answered(*parts)]}, catalogue=found.catalogue)
    changed = assess(with_parts, host=found)
    assert not changed.failures
    after = {(s.finding.rule, s.finding.subject): s for s in changed.standings if s.plugin == "compression"}
    for one in bare.standings:
        if one.plugin == "compression" and one.fired and one.grade != "note":
            other = after.get((one.finding.rule, one.finding.subject))
            assert other is not None
            assert other.grade not in ("clean", "note"), one.id
    # From clear to hold: a part not as made never makes the outcome better.
    assert OUTCOMES.index(changed.outcome) >= OUTCOMES.index(bare.outcome)
