"""Weights before grouping: places, mixing, groups, fading and clean retests (method, section 3)."""

from __future__ import annotations

from math import log10
from typing import TYPE_CHECKING

import pytest
from weighing import CATALOGUE, PARTS, days, ran, sheet

from loadworthy.case import Case, Event, Sheet
from loadworthy.declarations import Rule
from loadworthy.evidence import Item, Places, Weigher, mixed_ratio
from loadworthy.findings import Finding, Verdict, Weight
from loadworthy.standing import History, judge

if TYPE_CHECKING:
    from collections.abc import Sequence

    from loadworthy.evidence import Key

PLACES = Places(CATALOGUE, PARTS)
ALL = [("worn", f"part {n}") for n in (1, 2, 3)]


def items(
    findings: Sequence[Finding],
    *sheets: Sheet,
    day: int = 0,
    events: Sequence[Event] = (),
    odometer: float | None = None,
) -> list[Item]:
    """What the weigher makes of findings; ``odometer`` (m) is read on a sheet of the day itself."""
    now = () if odometer is None else (sheet("now", day, section="other", odometer=odometer),)
    case = Case(sheets=(*sheets, *now), events=tuple(events))
    history = History({s.id: s for s in case.sheets}, (), lambda repair, finding: False)
    return Weigher(case, CATALOGUE, PLACES, days(day)).items(history.settle(judge("p", f) for f in findings))


# Places --------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("cause", "members"),
    [
        ("worn", ("part 1", "part 2", "part 3")),
        ("cracked", (None,)),
        ("loose", (None,)),
        ("nobody-declares-this", (None,)),
    ],
    ids=["many", "only one", "takes none", "undeclared"],
)
def test_members(cause: str, members: tuple[str | None, ...]) -> None:
    assert PLACES.members(cause) == members


def test_an_unknown_number_of_members_is_not_shared() -> None:
    assert Places(CATALOGUE, {}).members("worn") == (None,)


@pytest.mark.parametrize(
    ("cause", "subject", "keys"),
    [
        ("worn", "part 2", [("worn", "part 2")]),
        ("worn", None, ALL),
        ("worn", "frame 1", ALL),
        ("loose", "part 2", [("loose", None)]),
        ("cracked", "frame 1", [("cracked", None)]),
        ("cracked", "part 2", [("cracked", None)]),
        ("undeclared", "part 2", [("undeclared", "part 2")]),
        ("slack", "part 2", [("worn", "part 2"), ("loose", None)]),
        ("bad", None, [*ALL, ("loose", None), ("cracked", None)]),
    ],
)
def test_keys_of_a_cause_at_a_subject(cause: str, subject: str | None, keys: list[Key]) -> None:
    assert list(PLACES.keys(cause, subject)) == keys


@pytest.mark.parametrize(
    ("subject", "keys"), [("part 7", [("worn", "part 7")]), (None, [("worn", None)]), ("frame 1", [("worn", None)])]
)
def test_keys_where_no_plugin_lists_the_members(subject: str | None, keys: list[Key]) -> None:
    assert list(Places(CATALOGUE, {}).keys("worn", subject)) == keys


# Mixing and groups ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("bands", "expected"),
    [
        ({"fired": 1.0}, 6.0),
        ({"fired": 0.3, "clean": 0.7}, 0.3 * 6.0 + 0.7 * 0.15),
        ({"fired": 0.3}, 0.3 * 6.0 + 0.7),
        ({"clean": 0.2, "another": 0.5}, 0.2 * 0.15 + 0.5 + 0.3),
    ],
    ids=["one band", "two bands", "the rest", "undeclared band"],
)
def test_mixed_ratio(bands: dict[str, float], expected: float) -> None:
    """Whatever no band takes up, and a band without a ratio for the cause, counts as 1."""
    rule = Rule("level", "bench", "level", bands={"fired": {"a": 6.0}, "clean": {"a": 0.15}})
    assert mixed_ratio(rule, "a", bands) == pytest.approx(expected)


def test_a_rule_speaks_by_its_table_to_its_own_subject() -> None:
    found = items([ran("p.level", "s", 0.788, subject="part 2")], sheet("s"))
    assert [(i.key, i.finding) for i in found] == [
        (("whole", None), "p.level@part 2#s"),
        (("worn", "part 2"), "p.level@part 2#s"),
    ]
    # Method, section 13, row 2: p 0.788, LR 6 and 0.15 mixed: 4.76, 6.78 dB.
    assert found[1].db == pytest.approx(10 * log10(0.788 * 6 + 0.212 * 0.15))
    assert found[1].db == pytest.approx(6.777, abs=3e-3)


@pytest.mark.parametrize(
    ("rule", "weight", "group"),
    [
        ("p.record", "", "p/p.record#s"),
        ("p.record", "mine", "p/mine#s"),
        ("p.record", "heard", "heard"),
        ("p.record", "log", "log:s"),
        ("p.run", "", "log:s"),
        ("p.run", "heard", "heard"),
    ],
    ids=["rule", "local", "global", "per sheet", "of the rule", "own before the rule's"],
)
def test_groups(rule: str, weight: str, group: str) -> None:
    one = Finding(rule, "s", verdicts=(Verdict("watch", 1.0),), weights=(Weight("loose", None, 5.0, weight),))
    assert [i.group for i in items([one], sheet("s"))] == [group]


def test_no_weight_counts_for_more_than_20_decibans_nor_does_nothing() -> None:
    weights = tuple(Weight("loose", None, db, f"g{db}") for db in (0.0, 55.0, -55.0, 19.0))
    found = items([Finding("p.run", "s", verdicts=(Verdict("watch", 1.0),), weights=weights)], sheet("s"))
    assert [i.raw for i in found] == [20.0, -20.0, 19.0]


@pytest.mark.parametrize("more", [{"clears": False}, {}])
def test_what_may_not_clear_keeps_only_what_accuses(more: dict[str, bool]) -> None:
    weights = (Weight("loose", None, 4.0), Weight("whole", None, -4.0))
    one = Finding("p.run", "s", verdicts=(Verdict("watch", 1.0),), weights=weights, **more)
    assert [i.raw for i in items([one], sheet("s"))] == ([4.0] if more else [4.0, -4.0])


def test_a_carried_fault_keeps_only_what_accuses_in_the_group_of_its_own_sheet() -> None:
    def seen(id: str, p: float) -> Finding:
        weights = (Weight("loose", None, 4.0), Weight("whole", None, -4.0)) if p else ()
        return Finding("p.run", id, verdicts=(Verdict("watch", p),), weights=weights)

    found = items([seen("a", 1.0), seen("b", 0.0)], sheet("a", -1), sheet("b", 0))
    assert [(i.key[0], i.raw, i.group) for i in found] == [("loose", 4.0, "log:a")]


def test_history_and_unknown_weigh_nothing() -> None:
    weights = (Weight("loose", None, -4.0),)
    old = Finding("p.run", "a", verdicts=(Verdict("watch", 0.0),), weights=weights)
    new = Finding("p.run", "b", verdicts=(Verdict("watch", 0.0),), weights=weights)
    silent = Finding("p.run", "c", unknown="cold", weights=weights)
    found = items([old, new, silent], sheet("a", -1), sheet("b"), sheet("c"))
    assert [i.sheet for i in found] == ["b"]


# Fading --------------------------------------------------------------------------------------------------------------


def _faded(db: float, cause: str = "loose", section: str = "bench", **more: float | None) -> Item:
    odometer = more.pop("at", 80e6)
    old, km = int(more.pop("days", 0) or 0), more.pop("km", None)
    one = sheet("s", -old, section=section, odometer=odometer if km is not None else None)
    finding = Finding("p.record", "s", verdicts=(Verdict("watch", 0.0),), weights=(Weight(cause, None, db),))
    (found,) = items([finding], one, odometer=80e6 + 1000.0 * (km or 0.0))
    return found


@pytest.mark.parametrize(
    ("db", "old", "km", "expected"),
    [
        (-10.0, 180, 2000.0, -5.0),
        (-10.0, 540, 2000.0, -1.25),
        (-10.0, 90, 7500.0, -10.0 * 2.0**-1.5),
        (-10.0, 100, None, -10.0 * 2.0 ** -(100 * 40 / 5000)),
        (10.0, 540, 2000.0, 10.0),
        (-40.0, 180, 0.0, -10.0),
    ],
)
def test_what_clears_fades_and_what_accuses_does_not(db: float, old: int, km: float | None, expected: float) -> None:
    """Method, section 13, row 13; the 20 decibans that count at most are those of the fresh weight."""
    assert _faded(db, days=old, km=km).db == pytest.approx(expected)


def test_the_section_sets_the_half_life() -> None:
    assert _faded(-8.0, section="quick", days=20, km=0.0).db == pytest.approx(-2.0)


@pytest.mark.parametrize(
    ("kind", "day", "cause", "section", "ended"),
    [
        ("shock", -5, "loose", "bench", True),
        ("shock", -10, "loose", "bench", True),
        ("shock", 0, "loose", "bench", True),
        ("shock", -11, "loose", "bench", False),
        ("shock", 1, "loose", "bench", False),
        ("storm", -5, "loose", "bench", False),
        ("shock", -5, "whole", "bench", False),
        ("storm", -5, "whole", "quick", True),
    ],
    ids=["named", "same day", "today", "before", "to come", "another", "another cause", "any event"],
)
def test_an_event_ends_what_clears(kind: str, day: int, cause: str, section: str, ended: bool) -> None:
    def weight(db: float, events: tuple[Event, ...]) -> Item:
        finding = Finding("p.record", "s", verdicts=(Verdict("watch", 0.0),), weights=(Weight(cause, None, db),))
        return items([finding], sheet("s", -10, section=section), events=events)[0]

    event = Event(kind, days(day))
    assert (weight(-8.0, (event,)).db == 0.0) is ended
    assert ("ended by" in weight(-8.0, (event,)).note) is ended
    assert weight(8.0, (event,)).db == 8.0
    if not ended:
        assert weight(-8.0, (event,)) == weight(-8.0, ())


def test_a_fact_without_a_sheet_does_not_age() -> None:
    one = Finding("p.record", verdicts=(Verdict("watch", 0.0),), weights=(Weight("loose", None, -8.0),))
    assert [i.db for i in items([one], day=900)] == [-8.0]


# Clean retests -------------------------------------------------------------------------------------------------------


def test_a_clean_retest_without_a_ratio_of_its_own_clears_by_a_tenth() -> None:
    found = items([ran("p.noise", "s", 0.0, bands={})], sheet("s"))
    # 10 log10 0.1: the only weight, on the cause that names the test as its retest; worn and loose have ratios.
    assert [(i.key, i.db, i.group) for i in found] == [(("cracked", None), -10.0, "heard")]


def test_a_weight_that_was_computed_or_given_broadly_is_the_retest_s_own() -> None:
    weak = Finding("p.noise", "s", verdicts=(Verdict("watch", 0.0),), weights=(Weight("cracked", None, -2.0),))
    assert [(i.key, i.db) for i in items([weak], sheet("s"))] == [(("cracked", None), -2.0)]
    broad = Finding("p.noise", "s", verdicts=(Verdict("watch", 0.0),), weights=(Weight("bad", None, -1.0),))
    assert {i.db for i in items([broad], sheet("s"))} == {-1.0}


def test_a_clean_retest_shares_the_group_of_its_measurement() -> None:
    """One noise that clears twice counts once: by its retest, and by another rule of the same group."""
    more = Finding("p.run", "s", verdicts=(Verdict("watch", 0.0),), weights=(Weight("cracked", None, -8.0, "heard"),))
    found = items([ran("p.noise", "s", 0.0, bands={}), more], sheet("s"))
    assert {(i.key, i.db, i.group) for i in found} == {(("cracked", None), db, "heard") for db in (-8.0, -10.0)}


def test_a_weak_one_clears_less_and_capacities_not_at_all() -> None:
    found = items([ran("p.look", "s", 0.0, bands={})], sheet("s"))
    # The cause too-small names the test too; loose has a ratio of its own in the table of the test's rule.
    assert [(i.key, i.db) for i in found] == [(("whole", None), pytest.approx(10 * log10(0.3)))]


def test_a_retest_of_some_parts_clears_those() -> None:
    catalogue_rule = ran("p.noise", "s", 0.0, bands={})
    assert items([catalogue_rule], sheet("s", -180, odometer=80e6), odometer=80e6)[0].db == pytest.approx(-5.0)
    # Fired, borderline, unknown, carried, or without a sheet: it proves nothing.
    for bad in (
        ran("p.noise", "s", 1.0, bands={}),
        ran("p.noise", "s", 0.1, bands={}),
        Finding("p.noise", "s", unknown="loud road"),
        ran("p.noise", "", 0.0, bands={}),
    ):
        assert items([bad], sheet("s")) == []


def test_one_rule_of_the_test_that_is_not_clean_spoils_it() -> None:
    rules = {**CATALOGUE.rules, "p.hum": Rule("hum", "bench", "hum", "listening")}
    from attrs import evolve

    catalogue = evolve(CATALOGUE, rules=rules)
    case = Case(sheets=(sheet("s"),))
    runs = [
        judge("p", ran("p.noise", "s", 0.0, bands={})),
        judge("p", Finding("p.hum", "s", verdicts=(Verdict("watch", 1.0),))),
    ]
    weigher = Weigher(case, catalogue, Places(catalogue, PARTS), days(0))
    assert weigher.items(runs[:1])[0].key == ("cracked", None)
    assert weigher.items(runs) == []
