"""What this check declares, against the shared vocabulary and itself."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from compression_cases import host

import loadworthy_plugins.compression as compression
from loadworthy_plugins.compression.causes import BROADER, CAUSES
from loadworthy_plugins.compression.limits import LIMITS
from loadworthy_plugins.compression.rule_table import RULES
from loadworthy_plugins.compression.sheet import SECTIONS
from loadworthy_plugins.compression.symptoms import SYMPTOMS
from loadworthy_plugins.compression.vehicle import VEHICLE
from loadworthy_plugins.compression.workshop import TESTS

SOURCE = Path(compression.__file__).parent


def test_host_accepts_every_declaration() -> None:
    assert host().failures == ()
    assert set(host().catalogue.sections) == {"compression", "leak_down", "cranking_trace", "crankcase"}


def test_no_module_of_the_package_hides_a_hook() -> None:
    # Importing pkg.examine would replace the function pkg.examine by the module.
    hooks = {"declare", "subjects", "examine", "distort", "demand", "extend_demand", "requirements", "review"}
    assert not hooks & {path.stem for path in SOURCE.glob("*.py")}


def test_every_limit_has_source_and_mark() -> None:
    for limit in LIMITS:
        assert limit.source
        if limit.mark == "published":
            assert re.search(r"TM \d|IPCOM|AC 43|EN |ISO ", limit.source), limit.name
        if limit.mark == "judgement":
            assert limit.source.startswith(("judgement", "maker")), limit.name


@pytest.mark.parametrize(
    ("name", "value", "grade"),
    [
        ("deficit_watch", 0.05, "watch"),
        ("deficit_fix", 0.12, "fix_first"),
        ("deficit_stop", 0.25, "stop"),  # TM 5-4210-230-14&P-1, addendum 2
        ("rule_min_over_max_strict", 0.90, "note"),
        ("rule_min_over_max_70", 0.70, "note"),
        ("rule_below_mean", 0.20, "note"),  # TM 1-1500-204-23-1
        ("rule_abs_petrol", 69e3, "note"),  # TM 10-3930-618-20: 10 psi
        ("rule_abs_diesel", 690e3, "note"),  # TM 5-2420-230-24-2: 100 psi
        ("floor_petrol", 690e3, "fix_first"),
        ("floor_diesel", 1.8e6, "fix_first"),
        ("all_high_watch", 0.08, "watch"),
        ("all_high_fix", 0.12, "fix_first"),
        ("single_high", 0.08, "fix_first"),
        ("leak_area_watch", 0.04, "watch"),
        ("leak_area_fix", 0.08, "fix_first"),
        ("leak_area_stop", 0.12, "stop"),
        ("leak_pct_normal", 0.10, "watch"),
        ("leak_pct_excess", 0.20, "fix_first"),
        ("leak_only_rings_heard", 0.10, "note"),
        ("blowby_high", 1.5, "fix_first"),
        ("trace_weak", 0.80, "fix_first"),  # IPCOM000073361
        ("speed_floor_petrol", 2.5, None),
        ("speed_floor_diesel", 130 / 60, None),
    ],
)
def test_defaults(name: str, value: float, grade: str | None) -> None:
    limit = next(one for one in LIMITS if one.name == name)
    assert limit.value == pytest.approx(value)
    assert limit.grade == grade


def test_every_rule_and_limit_is_used() -> None:
    text = "".join(path.read_text() for path in SOURCE.glob("*.py") if path.name not in ("rule_table.py", "limits.py"))
    for rule in RULES:
        stem = rule.name.removesuffix("_intake").removesuffix("_exhaust")
        assert (
            f'"{rule.name}"' in text
            or f'"{stem}_{{' in text
            or rule.name
            in (
                "cam_lift",
                "running_compression",
                "valve_clearance",
            )
        ), rule.name
    for limit in LIMITS:
        stem = limit.name.rpartition("_")[0]
        assert f"compression.{limit.name}" in text or f"compression.{stem}_{{" in text, limit.name


def test_every_field_is_read() -> None:
    # A field that nobody reads is a question asked for nothing.
    text = "".join(p.read_text() for p in SOURCE.glob("*.py") if p.name not in ("sheet.py", "vehicle.py"))
    fields = [field for section in SECTIONS for field in section.fields] + list(VEHICLE.fields)
    for field in fields:
        assert f'"{field.name}"' in text, field.name


def test_ratios_are_on_the_right_side_of_one() -> None:
    catalogue = host().catalogue
    for rule in RULES:
        for band, ratios in rule.bands.items():
            for cause, value in ratios.items():
                # The product of correlated results never comes to more than 30.
                assert 0.0 < value <= 30.0, (rule.name, band)
                assert value != 1.0 or cause == "over-speed-event"
                owner = cause in catalogue.causes or cause in {
                    # spoken of here, declared elsewhere
                    "carbon-on-intake-valves",
                    "intake-restricted",
                    "over-speed-event",
                    "raised-compression-ratio",
                    "lowered-compression-ratio",
                }
                assert owner, cause


def test_candidates_leave_room_for_none_of_these() -> None:
    for one in SYMPTOMS:
        assert 0.0 < sum(weight for _, weight in one.candidates) < 1.0, one.id


def test_causes_are_consistent() -> None:
    ids = {cause.id for cause in CAUSES}
    assert len(ids) == len(CAUSES) == 21
    for cause in CAUSES:
        assert cause.retest
        assert cause.remedy
        if cause.not_physical:
            assert cause.hazard == "none"
        else:
            assert cause.hazard != "none"
    for one in BROADER:
        assert set(one.covers) <= ids


def test_order_of_tests_has_no_circle() -> None:
    after = {t.id: set(t.after) for t in TESTS}
    for t in TESTS:
        for later in t.before:
            if later in after:
                after[later].add(t.id)
    done: list[str] = []
    while len(done) < len(after):
        free = sorted(t for t in after if t not in done and not (after[t] & after.keys()) - set(done))
        assert free, "circle"
        done += free
    # A wet test spoils what comes after it, so everything else is done before.
    assert done.index("wet-compression") > done.index("leak-down") > done.index("dry-compression")
    wet = next(t for t in TESTS if t.id == "wet-compression")
    assert set(wet.spoils) == {"borescope", "dry-compression", "leak-down"}


def test_no_heavy_import_at_start() -> None:
    import subprocess
    import sys

    code = (
        "import sys, loadworthy_plugins.compression as c; list(c.declare()); "
        "print([m for m in ('numpy', 'scipy', 'dataclasses', 'statistics') if m in sys.modules], "
        "'loadworthy_plugins.compression.dry' in sys.modules)"
    )
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert out.stdout.split("\n")[0] == "[] False"
