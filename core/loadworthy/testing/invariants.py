"""The invariants of the method (section 10 of docs/method.md) as ready-made property tests.

Subclass `Invariants`, give it a `Scenario`, and pytest runs them all against your check.
"""

from __future__ import annotations

import copy
import datetime
from typing import TYPE_CHECKING, Any, ClassVar

from hypothesis import HealthCheck, assume, given, note, settings
from hypothesis import strategies as st

from loadworthy.decide import OUTCOMES
from loadworthy.decision import evpi, expected_value_of_test, likelihood_pair
from loadworthy.host import Host
from loadworthy.house import House
from loadworthy.outputs.why import ids, why_text
from loadworthy.testing.bench import (
    SHEETLESS,
    SHORT_BUDGET,
    Bench,
    Looping,
    Raising,
    Silent,
    Talking,
    as_text,
    in_another_process,
    readable,
)
from loadworthy.testing.compare import improvements, is_worse
from loadworthy.testing.in_units import in_other_units
from loadworthy.testing.scenario import FIRST_DAY, LAST_DAY, Scenario
from loadworthy.units import parse

if TYPE_CHECKING:
    from loadworthy.beliefs import Belief
    from loadworthy.register import Register

QUICK = settings(
    max_examples=25,
    deadline=None,
    suppress_health_check=[HealthCheck.differing_executors, HealthCheck.too_slow, HealthCheck.filter_too_much],
)
#: For what costs a process, or somebody's whole time budget.
COSTLY = settings(QUICK, max_examples=3)


def _beliefs(register: Register) -> dict[tuple[str, str], Belief]:
    return {(b.cause, b.subject or ""): b for b in register.beliefs}


class Invariants:
    """Property tests that hold for every check. Set ``scenario`` in a subclass whose name begins with ``Test``.

    A strategy that draws scenarios does too: then declarations vary as well as cases.
    """

    scenario: ClassVar[Scenario | st.SearchStrategy[Scenario]]
    _benches: ClassVar[dict[type, Bench]] = {}

    def _bench(self, data: st.DataObject) -> Bench:
        if not isinstance(self.scenario, Scenario):
            return Bench(data.draw(self.scenario))
        made = self._benches.get(type(self))
        if made is None:
            made = self._benches[type(self)] = Bench(self.scenario)
        return made

    def _drawn(self, data: st.DataObject) -> tuple[Bench, dict[str, Any]]:
        bench = self._bench(data)
        return bench, data.draw(bench.scenario.tables)

    @QUICK
    @given(data=st.data())
    def test_a_worse_reading_never_improves_anything(self, data: st.DataObject) -> None:
        """Outcome, allowed torque, P and level of every cause (1)."""
        bench, tables = self._drawn(data)
        worse = bench.scenario.worsen(data, copy.deepcopy(tables))
        assume(worse is not None)
        assert worse is not None
        before, after = bench.register(tables), bench.register(worse)
        assume(is_worse(before, after))
        note(f"worse: {worse}")
        assert improvements(before, after) == []

    @QUICK
    @given(data=st.data())
    def test_without_required_sheets_no_case_is_clear(self, data: st.DataObject) -> None:
        """Every row that is required of this plan (2)."""
        bench, tables = self._drawn(data)
        register = bench.register(tables)
        sections = {row.id: row.section for _, row in bench.host.requirements().values}
        for row in register.rows:
            section = sections.get(row.id, "")
            if row.level == "R" and section in tables:
                left = {key: value for key, value in tables.items() if key != section}
                assert bench.register(left).outcome != "clear"

    @QUICK
    @given(data=st.data())
    def test_taking_away_a_clean_sheet_never_improves_anything(self, data: st.DataObject) -> None:
        """Clean throughout, no positive weight, nothing worse than what then governs (2)."""
        bench, tables = self._drawn(data)
        sheets = [(s, n) for s in tables if s not in SHEETLESS for n in range(len(tables[s]))]
        assume(sheets)
        section, number = data.draw(st.sampled_from(sheets))
        gone = tables[section][number]
        before = bench.register(tables)
        mine = [s for s in before.standings if s.finding.sheet == gone["id"]]
        assume(all(s.grade in ("clean", None) for s in mine))
        # Alone and not repaired: what it speaks for must not be hidden by a later sheet or a repair.
        alone = {key: value for key, value in tables.items() if key in SHEETLESS and key != "repair"}
        first = {key: value for key, value in gone.items() if key != "retest_of"}
        beliefs = (*before.beliefs, *bench.register({**alone, section: [first]}).beliefs)
        weights = [w for b in beliefs for w in b.weights if any(w.finding == s.id for s in mine)]
        assume(all(w.db <= 0.0 for w in weights) and "odometer" not in gone)
        left = copy.deepcopy(tables)
        left[section] = [row for row in left[section] if row["id"] != gone["id"]]
        after = bench.register(left)
        governing = {(s.finding.rule, s.finding.subject): s for s in after.standings if s.state == "governs"}
        for s in mine:
            heir = governing.get((s.finding.rule, s.finding.subject))
            assume(heir is None or (heir.p_beyond or 0.0) >= (s.p_beyond or 0.0))
        # What then governs must not clear more than what was taken away.
        then = {(b.cause, b.subject): b.negative for b in after.beliefs}
        assume(all(then.get((b.cause, b.subject), 0.0) <= b.negative + 1e-12 for b in before.beliefs))
        note(f"taken away: {gone['id']}")
        assert improvements(before, after) == []

    @QUICK
    @given(data=st.data())
    def test_order_never_matters(self, data: st.DataObject) -> None:
        """Sheets, keys and plugins in another order: the same bytes (3)."""
        bench, tables = self._drawn(data)

        def shuffled(value: Any) -> Any:
            if isinstance(value, dict):
                return {key: shuffled(value[key]) for key in data.draw(st.permutations(sorted(value, key=str)))}
            if isinstance(value, list) and value and isinstance(value[0], dict) and "date" in value[0]:
                return [shuffled(item) for item in data.draw(st.permutations(value))]
            return value

        plugins = data.draw(st.permutations(sorted(bench.scenario.plugins.items(), key=lambda pair: pair[0])))
        other = Host(dict(plugins), entry_points=False)
        assert as_text(bench.register(shuffled(tables), other)) == as_text(bench.register(tables))

    @COSTLY
    @given(data=st.data(), hash_seed=st.integers(0, 2**32 - 1))
    def test_the_hash_seed_never_matters(self, data: st.DataObject, hash_seed: int) -> None:
        """Another process, which orders sets otherwise: the same bytes (3)."""
        bench = self._bench(data)
        many = data.draw(st.lists(bench.scenario.tables, min_size=5, max_size=5))
        assert in_another_process(bench, many, hash_seed) == [as_text(bench.register(tables)) for tables in many]

    @QUICK
    @given(data=st.data())
    def test_an_unrelated_plugin_changes_nothing_else(self, data: st.DataObject) -> None:
        """All but the list of plugins (4)."""
        bench, tables = self._drawn(data)
        with_it = bench.register(tables, bench.host_with("zz_silent", Silent()))
        assert as_text(with_it, "plugins") == as_text(bench.register(tables), "plugins")

    @QUICK
    @given(data=st.data())
    def test_a_failing_plugin_hides_nothing_and_bars_clear(self, data: st.DataObject) -> None:
        """One that raises and one that returns junk (5)."""
        bench, tables = self._drawn(data)
        sound = bench.register(tables)
        for plugin in (Raising(), Talking()):
            _assert_only_failed(bench.register(tables, bench.host_with("aa_failing", plugin)), sound)

    @COSTLY
    @given(data=st.data())
    def test_an_endless_plugin_hides_nothing_and_bars_clear(self, data: st.DataObject) -> None:
        """It is stopped when its time is over (5)."""
        bench, tables = self._drawn(data)
        register = bench.register(tables, bench.host_with("aa_failing", Looping(), SHORT_BUDGET))
        _assert_only_failed(register, bench.register(tables))

    @QUICK
    @given(data=st.data())
    def test_a_removed_plugin_never_gives_clear(self, data: st.DataObject) -> None:
        """One that fills a section which this plan requires, or asks for such a row itself (5)."""
        bench, tables = self._drawn(data)
        owners = bench.host.catalogue
        register = bench.register(tables)
        required = {row.id for row in register.rows if row.level == "R"}
        asked = [(by, row) for by, row in bench.host.requirements().values if row.id in required]
        fillers = {owners.owner("section", row.section) for _, row in asked} | {by for by, _ in asked}
        for id in sorted(fillers - {""}):
            host = bench.host_without(id)
            assert bench.register(readable(tables, host), host).outcome != "clear", id

    @QUICK
    @given(data=st.data())
    def test_units_do_not_matter(self, data: st.DataObject) -> None:
        """Every quantity in another unit of its kind: the same register (6)."""
        bench, tables = self._drawn(data)
        other = in_other_units(tables, bench.host.catalogue, data)
        note(f"in other units: {other}")
        one, two = bench.register(tables), bench.register(other)
        assert two.outcome == one.outcome
        assert [(s.id, s.state, s.grade) for s in two.standings] == [(s.id, s.state, s.grade) for s in one.standings]
        assert [r.id for r in two.risks] == [r.id for r in one.risks]
        assert [f"{r.probability:.9g}" for r in two.risks] == [f"{r.probability:.9g}" for r in one.risks]
        assert [f"{t:.9g}" for t in two.allowed.torque] == [f"{t:.9g}" for t in one.allowed.torque]

    @QUICK
    @given(data=st.data(), days=st.integers(0, 147))
    def test_as_of_a_day_knows_only_what_is_dated_by_then(self, data: st.DataObject, days: int) -> None:
        """It equals the register of a file that holds only that (7)."""
        bench, tables = self._drawn(data)
        day = FIRST_DAY + datetime.timedelta(days=days)
        kept = {
            key: [row for row in value if row.get("date", day) <= day] if isinstance(value, list) else value
            for key, value in tables.items()
        }
        known = {row["id"] for row in kept.get("repair", ())}
        for value in kept.values():
            if isinstance(value, list):
                value[:] = [{k: v for k, v in row.items() if k != "retest_of" or v in known} for row in value]
        whole, part = bench.register(tables, day=day), bench.register(kept, day=day)
        assert as_text(part, "case_digest", "notes") == as_text(whole, "case_digest", "notes")

    @QUICK
    @given(data=st.data(), days=st.integers(1, 2000))
    def test_waiting_never_improves_anything(self, data: st.DataObject, days: int) -> None:
        """A later day, nothing else (8)."""
        bench, tables = self._drawn(data)
        later = bench.register(tables, day=LAST_DAY + datetime.timedelta(days=days))
        assert improvements(bench.register(tables), later) == []

    @QUICK
    @given(data=st.data())
    def test_a_repair_never_raises_its_cause(self, data: st.DataObject) -> None:
        """One later than every sheet (9)."""
        bench, tables = self._drawn(data)
        before = bench.register(tables)
        cause, subject = _some_accused(data, before)
        after = _beliefs(bench.register(_mended(tables, cause, subject))).get((cause, subject))
        if after is None:
            return  # of an undeclared cause that nothing speaks of any longer
        assert after.p <= _beliefs(before)[(cause, subject)].p * (1 + 1e-9)

    @QUICK
    @given(data=st.data())
    def test_a_clean_retest_leaves_no_more_than_the_eve_of_the_repair(self, data: st.DataObject) -> None:
        """Any sheet measured again, if nothing on it speaks for the cause (9)."""
        bench, tables = self._drawn(data)
        sheets = [(s, n) for s in tables if s not in SHEETLESS for n in range(len(tables[s]))]
        assume(sheets)
        cause, subject = _some_accused(data, bench.register(tables))
        section, number = data.draw(st.sampled_from(sheets))
        again = _mended(tables, cause, subject, LAST_DAY - datetime.timedelta(days=1))
        odometer = {"id": "again", "date": LAST_DAY, "retest_of": "last", "odometer": "86000 km"}
        again[section].append({**again[section][number], **odometer})
        after = _beliefs(bench.register(again)).get((cause, subject))
        if after is None:
            return  # of an undeclared cause that nothing speaks of any longer
        assert after.eve is not None
        suspected = any(p >= 0.05 for *_, p in after.by_symptom)
        assume(after.positive == 0.0 and after.floor == 0.0 and not suspected)
        note(f"retest: {again[section][-1]}")
        assert after.p <= after.eve * (1 + 1e-9)

    @QUICK
    @given(data=st.data())
    def test_a_waiver_changes_no_risk(self, data: st.DataObject) -> None:
        """Of a gap or a finding; and it moves the outcome only from incomplete to limited (10)."""
        bench, tables = self._drawn(data)
        house = House(may_waive={"anyone": ("*",)})
        before = bench.register(tables, house=house)
        meant = [gap.id for gap in before.gaps] + [s.id for s in before.standings if s.stands]
        assume(meant)
        waiver = {"who": "N. N.", "role": "anyone", "why": "agreed", "from": FIRST_DAY, "until": LAST_DAY}
        chosen = data.draw(st.lists(st.sampled_from(meant), min_size=1, max_size=4, unique=True))
        after = bench.register({**tables, "waiver": [{**waiver, "what": what} for what in chosen]}, house=house)
        assert [(r.id, r.failure_probability) for r in after.risks] == [
            (r.id, r.failure_probability) for r in before.risks
        ]
        assert after.outcome == before.outcome or (before.outcome, after.outcome) == ("incomplete", "limited")

    @QUICK
    @given(data=st.data())
    def test_every_number_is_reachable_by_why(self, data: st.DataObject) -> None:
        """Every id that the register shows has a derivation (11)."""
        bench, tables = self._drawn(data)
        register = bench.register(tables)
        for names in ids(register).values():
            assert all(why_text(register, name) for name in names)

    @QUICK
    @given(data=st.data(), fired=st.floats(1.01, 100.0), clean=st.floats(0.01, 0.99), cost=st.floats(10.0, 20_000.0))
    def test_a_test_is_worth_no_more_than_perfect_information(
        self, data: st.DataObject, fired: float, clean: float, cost: float
    ) -> None:
        """And never less than nothing (12)."""
        bench, tables = self._drawn(data)
        outcomes = likelihood_pair(fired, clean)
        for risk in bench.register(tables).risks[:5]:
            most = evpi(risk.probability, cost, risk.h_plan * risk.loss)
            worth = expected_value_of_test(risk.probability, cost, risk.h_plan * risk.loss, outcomes)
            assert -1e-9 <= worth <= most + 1e-9 * max(1.0, cost)

    @QUICK
    @given(data=st.data())
    def test_a_higher_plan_never_improves_the_outcome(self, data: st.DataObject) -> None:
        """At any speed; and it lowers no failure probability (13)."""
        bench, tables = self._drawn(data)
        curve = tables["plan"].get("torque")
        assume(curve)
        higher = copy.deepcopy(tables)
        higher["plan"]["torque"] = {
            speed: f"{parse(torque, 'torque').value * data.draw(st.floats(1.0, 1.3))!r} N m"
            for speed, torque in curve.items()
        }
        before, after = bench.register(tables), bench.register(higher)
        note(f"higher: {higher['plan']}")
        assert OUTCOMES.index(after.outcome) >= OUTCOMES.index(before.outcome)
        fails = {r.id: r.failure_probability for r in after.risks}
        for risk in before.risks:
            assert fails[risk.id] >= risk.failure_probability * (1 - bench.scenario.plan_slack) - 1e-15


def _assert_only_failed(register: Register, sound: Register) -> None:
    assert {f.plugin for f in register.failures} - {f.plugin for f in sound.failures} == {"aa_failing"}
    assert register.outcome != "clear"
    assert register.standings == sound.standings
    assert [r.id for r in register.risks] == [r.id for r in sound.risks]


def _some_accused(data: st.DataObject, register: Register) -> tuple[str, str]:
    accused = sorted(key for key, belief in _beliefs(register).items() if belief.active)
    assume(accused)
    return data.draw(st.sampled_from(accused))


def _mended(tables: dict[str, Any], cause: str, subject: str, day: datetime.date = LAST_DAY) -> dict[str, Any]:
    mended = copy.deepcopy(tables)
    name = f"{cause}@{subject}" if subject else cause
    mended.setdefault("repair", []).append({"id": "last", "date": day, "what": "mended", "treats": [name]})
    return mended
