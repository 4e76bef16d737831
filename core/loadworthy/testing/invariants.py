"""The invariants of the method (section 10 of docs/method.md) as ready-made property tests.

Subclass `Invariants`, give it a `Scenario`, and pytest runs them all against your check.
"""

from __future__ import annotations

import copy
import datetime
import json
from typing import TYPE_CHECKING, Any, ClassVar

from hypothesis import HealthCheck, assume, given, note, settings
from hypothesis import strategies as st

from loadworthy.assessing import assess
from loadworthy.casefile import from_dict
from loadworthy.decide import OUTCOMES
from loadworthy.decision import evpi, expected_value_of_test, likelihood_pair
from loadworthy.hookspecs import hookimpl
from loadworthy.host import Host
from loadworthy.house import House
from loadworthy.outputs.why import ids, why_text
from loadworthy.testing.compare import improvements, is_worse
from loadworthy.testing.scenario import FIRST_DAY, LAST_DAY
from loadworthy.units import parse, to_unit, units_of

if TYPE_CHECKING:
    from loadworthy.declarations import Field
    from loadworthy.register import Register
    from loadworthy.testing.scenario import Scenario

QUICK = settings(
    max_examples=25,
    deadline=None,
    suppress_health_check=[HealthCheck.differing_executors, HealthCheck.too_slow, HealthCheck.filter_too_much],
)
_SHEETLESS = ("as_of", "name", "vehicle", "plan", "repair", "event", "waiver", "void", "instrument")


class _Raising:
    @hookimpl
    def examine(self, case: Any) -> Any:
        raise RuntimeError("on purpose")


class _Talking:
    @hookimpl
    def examine(self, case: Any) -> Any:
        yield object()
        yield float("nan")


class _Silent:
    @hookimpl
    def examine(self, case: Any) -> Any:
        return ()


def _bytes(register: Register, *without: str) -> str:
    data = register.to_dict()
    return json.dumps({key: value for key, value in data.items() if key not in without}, sort_keys=True)


class Invariants:
    """Property tests that hold for every check. Set ``scenario`` in a subclass whose name begins with ``Test``."""

    scenario: ClassVar[Scenario]
    _hosts: ClassVar[dict[type, Host]] = {}

    def _host(self) -> Host:
        made = self._hosts.get(type(self))
        if made is None:
            made = self._hosts[type(self)] = Host(self.scenario.plugins, entry_points=False)
        return made

    def _register(
        self, tables: dict[str, Any], host: Host | None = None, day: datetime.date | None = None, **more: Any
    ) -> Register:
        host = host or self._host()
        case = from_dict(tables, catalogue=host.catalogue, today=datetime.date(2027, 1, 1))
        return assess(case, host=host, as_of=day or LAST_DAY, **more)

    def _with(self, id: str, plugin: Any) -> Host:
        return Host({**self.scenario.plugins, id: plugin}, entry_points=False)

    @QUICK
    @given(data=st.data())
    def test_a_worse_reading_never_improves_anything(self, data: st.DataObject) -> None:
        """Outcome, allowed torque, P and level of every cause (1)."""
        tables = data.draw(self.scenario.tables)
        worse = self.scenario.worsen(data, copy.deepcopy(tables))
        assume(worse is not None)
        assert worse is not None
        before, after = self._register(tables), self._register(worse)
        assume(is_worse(before, after))
        note(f"worse: {worse}")
        assert improvements(before, after) == []

    @QUICK
    @given(data=st.data())
    def test_without_required_sheets_no_case_is_clear(self, data: st.DataObject) -> None:
        """Every row that is required of this plan (2)."""
        tables = data.draw(self.scenario.tables)
        register = self._register(tables)
        for row in register.rows:
            section = next((r.section for _, r in self._host().requirements().values if r.id == row.id), "")
            if row.level == "R" and section in tables:
                left = {key: value for key, value in tables.items() if key != section}
                assert self._register(left).outcome != "clear"

    @QUICK
    @given(data=st.data())
    def test_taking_away_a_clean_sheet_never_improves_anything(self, data: st.DataObject) -> None:
        """Clean throughout, no positive weight, nothing worse than what then governs (2)."""
        tables = data.draw(self.scenario.tables)
        sheets = [(s, n) for s in tables if s not in _SHEETLESS for n in range(len(tables[s]))]
        assume(sheets)
        section, number = data.draw(st.sampled_from(sheets))
        gone = tables[section][number]
        before = self._register(tables)
        mine = [s for s in before.standings if s.finding.sheet == gone["id"]]
        assume(all(s.grade in ("clean", None) for s in mine))
        weights = [w for b in before.beliefs for w in b.weights if any(w.finding == s.id for s in mine)]
        assume(all(w.db <= 0.0 for w in weights) and "odometer" not in gone)
        left = copy.deepcopy(tables)
        left[section] = [row for row in left[section] if row["id"] != gone["id"]]
        after = self._register(left)
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
        tables = data.draw(self.scenario.tables)

        def shuffled(value: Any, top: bool = False) -> Any:
            if isinstance(value, dict):
                return {key: shuffled(value[key]) for key in data.draw(st.permutations(sorted(value, key=str)))}
            if isinstance(value, list) and value and isinstance(value[0], dict) and "date" in value[0]:
                return [shuffled(item) for item in data.draw(st.permutations(value))]
            return value

        plugins = data.draw(st.permutations(sorted(self.scenario.plugins.items(), key=lambda pair: pair[0])))
        other = Host(dict(plugins), entry_points=False)
        assert _bytes(self._register(shuffled(tables), other)) == _bytes(self._register(tables))

    @QUICK
    @given(data=st.data())
    def test_an_unrelated_plugin_changes_nothing_else(self, data: st.DataObject) -> None:
        """All but the list of plugins (4)."""
        tables = data.draw(self.scenario.tables)
        with_it = self._register(tables, self._with("zz_silent", _Silent()))
        assert _bytes(with_it, "plugins") == _bytes(self._register(tables), "plugins")

    @QUICK
    @given(data=st.data())
    def test_a_failing_plugin_hides_nothing_and_bars_clear(self, data: st.DataObject) -> None:
        """One that raises and one that returns junk (5)."""
        tables = data.draw(self.scenario.tables)
        sound = self._register(tables)
        for plugin in (_Raising(), _Talking()):
            register = self._register(tables, self._with("aa_failing", plugin))
            assert {f.plugin for f in register.failures} - {f.plugin for f in sound.failures} == {"aa_failing"}
            assert register.outcome != "clear"
            assert register.standings == sound.standings
            assert [r.id for r in register.risks] == [r.id for r in sound.risks]

    @QUICK
    @given(data=st.data())
    def test_units_do_not_matter(self, data: st.DataObject) -> None:
        """Every quantity in another unit of its kind: the same register (6)."""
        tables = data.draw(self.scenario.tables)
        sections = self._host().catalogue.sections
        other = copy.deepcopy(tables)
        for section in other:
            if section in sections:
                fields = {field.name: field for field in sections[section].fields}
                for row in other[section]:
                    for name in row:
                        if name in fields and fields[name].type == "quantity":
                            row[name] = _other_unit(row[name], fields[name], data)
        one, two = self._register(tables), self._register(other)
        assert two.outcome == one.outcome
        assert [r.id for r in two.risks] == [r.id for r in one.risks]
        assert [f"{r.probability:.9g}" for r in two.risks] == [f"{r.probability:.9g}" for r in one.risks]

    @QUICK
    @given(data=st.data(), days=st.integers(0, 147))
    def test_as_of_a_day_knows_only_what_is_dated_by_then(self, data: st.DataObject, days: int) -> None:
        """It equals the register of a file that holds only that (7)."""
        tables = data.draw(self.scenario.tables)
        day = FIRST_DAY + datetime.timedelta(days=days)
        kept = {
            key: [row for row in value if row.get("date", day) <= day] if isinstance(value, list) else value
            for key, value in tables.items()
        }
        known = {row["id"] for row in kept.get("repair", ())}
        for value in kept.values():
            if isinstance(value, list):
                value[:] = [{k: v for k, v in row.items() if k != "retest_of" or v in known} for row in value]
        whole, part = self._register(tables, day=day), self._register(kept, day=day)
        assert _bytes(part, "case_digest", "notes") == _bytes(whole, "case_digest", "notes")

    @QUICK
    @given(data=st.data(), days=st.integers(1, 2000))
    def test_waiting_never_improves_anything(self, data: st.DataObject, days: int) -> None:
        """A later day, nothing else (8)."""
        tables = data.draw(self.scenario.tables)
        later = self._register(tables, day=LAST_DAY + datetime.timedelta(days=days))
        assert improvements(self._register(tables), later) == []

    @QUICK
    @given(data=st.data())
    def test_a_repair_never_raises_its_cause(self, data: st.DataObject) -> None:
        """One later than every sheet (9)."""
        tables = data.draw(self.scenario.tables)
        before = self._register(tables)
        accused = sorted({(b.cause, b.subject or "") for b in before.beliefs if b.active})
        assume(accused)
        cause, subject = data.draw(st.sampled_from(accused))
        mended = copy.deepcopy(tables)
        name = f"{cause}@{subject}" if subject else cause
        mended.setdefault("repair", []).append({"id": "last", "date": LAST_DAY, "what": "mended", "treats": [name]})
        after = {(b.cause, b.subject or ""): b for b in self._register(mended).beliefs}[(cause, subject)]
        old = {(b.cause, b.subject or ""): b for b in before.beliefs}[(cause, subject)]
        assert after.p <= old.p * (1 + 1e-9)

    @QUICK
    @given(data=st.data())
    def test_a_waiver_changes_no_risk(self, data: st.DataObject) -> None:
        """And moves the outcome only from incomplete to limited (10)."""
        tables = data.draw(self.scenario.tables)
        house = House(may_waive={"anyone": ("*",)})
        before = self._register(tables, house=house)
        assume(before.gaps)
        gap = data.draw(st.sampled_from(before.gaps)).id
        waiver = {"who": "N. N.", "role": "anyone", "what": gap, "why": "agreed"}
        waived = {**tables, "waiver": [{**waiver, "from": FIRST_DAY, "until": LAST_DAY}]}
        after = self._register(waived, house=house)
        assert [(r.id, r.failure_probability) for r in after.risks] == [
            (r.id, r.failure_probability) for r in before.risks
        ]
        assert after.outcome == before.outcome or (before.outcome, after.outcome) == ("incomplete", "limited")

    @QUICK
    @given(data=st.data())
    def test_every_number_is_reachable_by_why(self, data: st.DataObject) -> None:
        """Every id that the register shows has a derivation (11)."""
        register = self._register(data.draw(self.scenario.tables))
        for names in ids(register).values():
            assert all(why_text(register, name) for name in names)

    @QUICK
    @given(data=st.data(), fired=st.floats(1.01, 100.0), clean=st.floats(0.01, 0.99), cost=st.floats(10.0, 20_000.0))
    def test_a_test_is_worth_no_more_than_perfect_information(
        self, data: st.DataObject, fired: float, clean: float, cost: float
    ) -> None:
        """And never less than nothing (12)."""
        register = self._register(data.draw(self.scenario.tables))
        outcomes = likelihood_pair(fired, clean)
        for risk in register.risks[:5]:
            most = evpi(risk.probability, cost, risk.h_plan * risk.loss)
            worth = expected_value_of_test(risk.probability, cost, risk.h_plan * risk.loss, outcomes)
            assert -1e-9 <= worth <= most + 1e-9 * max(1.0, cost)

    @QUICK
    @given(data=st.data(), factor=st.floats(1.0, 1.3))
    def test_a_higher_plan_never_improves_the_outcome(self, data: st.DataObject, factor: float) -> None:
        """And lowers no failure probability (13)."""
        tables = data.draw(self.scenario.tables)
        curve = tables["plan"].get("torque")
        assume(curve)
        higher = copy.deepcopy(tables)
        higher["plan"]["torque"] = {
            speed: f"{parse(torque, 'torque').value * factor!r} N m" for speed, torque in curve.items()
        }
        before, after = self._register(tables), self._register(higher)
        assert OUTCOMES.index(after.outcome) >= OUTCOMES.index(before.outcome)
        fails = {r.id: r.failure_probability for r in after.risks}
        for risk in before.risks:
            # The rated flow moves with the plan, so that a ratio at another speed may move in its fourth digit.
            assert fails[risk.id] >= risk.failure_probability * (1 - 0.005)


def _other_unit(value: Any, field: Field, data: st.DataObject) -> Any:
    if isinstance(value, dict):
        return {key: _other_unit(part, field, data) for key, part in value.items()}
    if isinstance(value, list):
        return [_other_unit(part, field, data) for part in value]
    amount = parse(value, field.kind)
    unit = data.draw(st.sampled_from([u for u in units_of(field.kind) if u != "1" and "?" not in u]))
    text = f"{to_unit(amount.value, unit, field.kind)!r} {unit}"
    if amount.u is None:
        return text
    difference = to_unit(amount.value + amount.u, unit, field.kind) - to_unit(amount.value, unit, field.kind)
    return f"{to_unit(amount.value, unit, field.kind)!r} +- {difference * 3**0.5!r} {unit}"
