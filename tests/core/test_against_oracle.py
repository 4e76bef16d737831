"""The whole core against the method written down a second time: same standings, P, ranks, torque and outcome."""

from __future__ import annotations

import datetime
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import drawn_check
import generic_check
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from oracle import LEVELS, Oracle

from loadworthy.testing import Scenario
from loadworthy.testing.bench import Bench
from loadworthy.testing.scenario import FIRST_DAY, LAST_DAY

if TYPE_CHECKING:
    from loadworthy import Register

TREATS = ("worn", "worn@part 2", "loose", "tight", "slack@part 1", "drawn.wear", "drawn.wear@part 1", "drawn.noise",
          "drawn.hours", "undeclared")  # fmt: skip
CHECKED = settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))


@st.composite
def _when(draw: st.DrawFn) -> dict[str, Any]:
    """Few days, so that sheets and repairs share them."""
    found: dict[str, Any] = {"date": FIRST_DAY + datetime.timedelta(days=draw(st.sampled_from([0, 1, 2, 60, 120])))}
    if draw(st.integers(0, 2)) == 0:
        found["time"] = datetime.time(draw(st.integers(9, 11)))
    if draw(st.booleans()):
        found["odometer"] = f"{draw(st.integers(80_000, 90_000))} km"
    return found


def _may_prove(row: dict[str, Any], repair: dict[str, Any]) -> bool:
    if row["date"] != repair["date"] or not ("time" in row and "time" in repair):
        return bool(row["date"] >= repair["date"])
    return bool(row["time"] >= repair["time"])


@st.composite
def crowded(draw: st.DrawFn) -> dict[str, Any]:
    """Up to three repairs and four sheets a section on the same few days."""
    known = draw(st.sampled_from([{"base_torque_measured": generic_check.BASE}] * 4 + [{}]))
    tables: dict[str, Any] = {"as_of": LAST_DAY, "vehicle": known, "plan": {"torque": generic_check.PLAN}}
    repairs = [
        {"id": f"r{n}", **draw(_when()), "what": "mended",
         "treats": sorted(draw(st.sets(st.sampled_from(TREATS), min_size=1, max_size=2)))}
        for n in range(draw(st.integers(0, 3)))
    ]  # fmt: skip
    for section, fields in drawn_check.sheets(draw(st.sampled_from([0.8, 3.0, 10.0]))).items():
        rows = [{"id": f"{section}-{n}", **draw(_when()), **draw(fields)} for n in range(draw(st.integers(0, 4)))]
        for row in rows:
            proven = [r["id"] for r in repairs if _may_prove(row, r)]
            if proven and draw(st.booleans()):
                row["retest_of"] = draw(st.sampled_from(proven))
        if rows:
            tables[section] = rows
    if repairs:
        tables["repair"] = repairs
    if draw(st.booleans()):
        tables["event"] = [{"kind": draw(st.sampled_from(["shock", "storm"])), "date": draw(_when())["date"]}]
    return tables


def check(plugin: Any, bench: Bench, tables: dict[str, Any]) -> None:
    register: Register = bench.register(tables)
    assert not register.failures
    case, demand = register.case, register.demand
    results = list(plugin.examine(case, demand, register.limits))
    it = Oracle(
        case, register.as_of, register.catalogue, demand, results, dict(plugin.subjects(case)), plugin.requirements()
    )
    ours = {(s.finding.rule, s.finding.subject, s.finding.sheet): s for s in register.standings if s.state != "unknown"}
    assert {k: s.state for k, s in ours.items()} == {st.key: st.state for st in it.stands}
    assert {k: (s.grade, s.accept) for k, s in ours.items() if s.stands} == {
        st.key: (st.grade, st.accept) for st in it.stands if st.stands
    }
    theirs = it.risks()
    by_key = {r["key"]: r for r in theirs}
    for b in register.beliefs:
        if not register.catalogue.causes[b.cause].capacity if b.declared else True:
            found = by_key[b.cause, b.subject]
            assert (b.net, b.own, b.p) == pytest.approx((found["net"], found["own"], found["p"]), rel=1e-9, abs=1e-12)
            assert b.active == found["active"]
    for r in (*register.risks, *register.unlooked):
        found = by_key[r.cause, r.subject]
        got = r.probability, r.failure_probability, r.expected_loss
        assert got == pytest.approx((found["p"], found["fail"], found["loss"]), rel=1e-9, abs=1e-12)
        assert (r.level, r.person) == (found["level"], found["person"])
    assert {(r.cause, r.subject) for r in register.risks} == {r["key"] for r in theirs if r["active"]}
    ranks = [by_key[r.cause, r.subject] for r in register.risks]
    for a, b in pairwise(ranks):
        # What differs by rounding alone may stand either way round.
        high = LEVELS.index(a["level"]), not a["person"], -a["loss"] * (1.0 + 1e-9), -a["p"] * (1.0 + 1e-9)
        assert high <= (LEVELS.index(b["level"]), not b["person"], -b["loss"], -b["p"])
    assert register.plan_class == it.plan_class()
    assert {row.id for row in register.rows if row.level == "R" and not row.satisfied} == it.missing()
    assert {g.id for g in register.gaps if g.id.startswith("repair:")} == {f"repair:{id}" for id in it.unproven()}
    if demand is not None:
        most = [min(1.2 * plan, here) for plan, here in zip(demand.plan, register.allowed.torque, strict=True)]
        assert most == pytest.approx(it.allowed())
    assert register.outcome == it.outcome()


GENERIC = generic_check.scenario()


@CHECKED
@given(tables=GENERIC.tables)
def test_generic_cases(tables: dict[str, Any]) -> None:
    check(generic_check, Bench(GENERIC), tables)


@CHECKED
@given(scenario=drawn_check.scenarios(), data=st.data())
def test_drawn_declarations(scenario: Scenario, data: st.DataObject) -> None:
    bench = Bench(scenario)
    check(scenario.plugins["drawn"], bench, data.draw(scenario.tables))
    check(scenario.plugins["drawn"], bench, data.draw(crowded()))
