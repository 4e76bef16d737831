"""What each hook of the host gives, and what it does where plugins disagree."""

from __future__ import annotations

import threading
from types import MappingProxyType
from typing import Any

import pytest
from attrs import evolve

from loadworthy.case import Case
from loadworthy.declarations import Requirement
from loadworthy.errors import DeclarationError
from loadworthy.findings import Advice, Assumption, Band, Demand, Distortion, Finding, Verdict
from loadworthy.host import HookRun, Host
from loadworthy.host.check_demand import demand_fault, extension_fault, merged
from loadworthy.limits import Limits

CASE = Case("any")
nan, inf = float("nan"), float("inf")


def words(run: HookRun) -> list[tuple[str, str]]:
    return [(failure.plugin, failure.problem) for failure in run.failures]


def row(**more: Any) -> Requirement:
    levels = {"none": "-", "mild": "A", "strong": "R", "extreme": "R"}
    return Requirement(**{"id": "row", "text": "a row", "levels": levels, **more})


def test_hooks_that_nobody_answers(host_of: Any, demand: Any) -> None:
    host = host_of()
    assert host.requirements() == host.distort(CASE) == host.examine(CASE, None, Limits({})) == HookRun()
    assert host.review(CASE, ()) == HookRun()
    assert host.subjects(CASE) == HookRun()
    assert host.demand(CASE) == HookRun()
    assert host.extend_demand(CASE, demand()).demand == demand()


def test_requirements(plugin: Any, host_of: Any) -> None:
    first, same, other = row(), row(), row(text="another text")
    host = host_of(
        a=plugin(requirements=lambda: [first]),
        b=plugin(requirements=lambda: [same, row(id="more")]),
        c=plugin(requirements=lambda: (one for one in [other])),
    )
    run = host.requirements()
    assert run.values == (("a", first), ("b", row(id="more")))
    assert words(run) == [("c", "the row row is given by a with other content, which counts")]


def test_subjects(plugin: Any, host_of: Any) -> None:
    host = host_of(
        a=plugin(subjects=lambda case: {"wheel": ["wheel 1", "wheel 2"]}),
        b=plugin(subjects=lambda: MappingProxyType({"wheel": ("wheel 1", "wheel 2"), "axle": ("axle front",)})),
        c=plugin(subjects=lambda: {"wheel": ["wheel 1"], "door": ["door left"]}),
        d=plugin(subjects=lambda: {"wheel": "wheel 1", 3: ["x"], "seat": ["seat 1", "seat 1"], "roof": []}),
        e=plugin(subjects=lambda: ["wheel 1"]),
        f=plugin(subjects=lambda: None),
    )
    run = host.subjects(CASE)
    assert [(id, dict(members)) for id, members in run.values] == [
        ("a", {"wheel": ("wheel 1", "wheel 2")}),
        ("b", {"wheel": ("wheel 1", "wheel 2"), "axle": ("axle front",)}),
        ("c", {"door": ("door left",)}),
        ("d", {"roof": ()}),
    ]
    assert words(run) == [
        ("c", "the members of wheel are listed otherwise by a, whose list counts"),
        ("d", "the members of 'wheel' are refused; due is a text and a list of texts"),
        ("d", "the members of 3 are refused; due is a text and a list of texts"),
        ("d", "the members of seat are refused: one stands twice"),
        ("e", "returned of class list; due is a mapping of kinds to lists of subjects"),
    ]


def test_distort(plugin: Any, host_of: Any) -> None:
    good = Distortion("load", "changed part", "refuse")
    run = host_of(a=plugin(distort=lambda case: [good, Distortion("load", "x", widen_by=nan)])).distort(CASE)
    assert run.values == (("a", good),)
    assert "widen_by is nan" in run.failures[0].problem


def test_one_supplier_of_demand(plugin: Any, host_of: Any, demand: Any) -> None:
    asked: list[str] = []

    def supplier(name: str, table: Demand | None) -> Any:
        def supply(case: Case) -> Demand | None:
            asked.append(name)
            return table

        return plugin(demand=supply)

    host = host_of(
        a=supplier("a", None), b=supplier("b", demand(basis="b")), c=supplier("c", demand(basis="c")), d=plugin()
    )
    run = host.demand(CASE)
    assert [id for id, _ in run.values] == ["b"]
    assert run.demand is run.values[0][1]
    assert run.unused == ("a", "c")
    assert asked == ["a", "b"]

    preferred = host.demand(CASE, "c")
    assert (preferred.values[0][0], preferred.demand.basis, preferred.unused) == ("c", "c", ("a", "b"))
    assert preferred.failures == ()
    assert asked == ["a", "b", "c"]

    absent = host.demand(CASE, "d")
    assert absent.values == run.values
    assert words(absent) == [("d", "is to supply demand but no loaded plugin of this name does")]


def test_a_supplier_that_fails(plugin: Any, host_of: Any, demand: Any) -> None:
    def fails(case: Case) -> Demand:
        raise ValueError("no idea")

    host = host_of(
        a=plugin(demand=fails),
        b=plugin(demand=lambda: demand(speeds=(50.0, 20.0))),
        c=plugin(demand=lambda: 5),
        d=plugin(demand=demand),
        timed=True,
    )
    run = host.demand(CASE)
    assert [id for id, _ in run.values] == ["d"]
    assert words(run) == [
        ("a", "raised ValueError: no idea"),
        ("b", "the table was refused: speeds do not rise"),
        ("c", "the table was refused: it is 5; due is a Demand or None"),
    ]
    assert run.seconds.keys() == {"a", "b", "c", "d"}


GRID = ((40.0, 80.0, 100.0), (50.0, 90.0, 120.0))


def band(low: Any = GRID, nominal: Any = GRID, high: Any = GRID) -> dict[str, Band]:
    return {"load": Band(low, nominal, high)}


def test_sound_tables(demand: Any) -> None:
    assert demand_fault(demand()) == ""
    assert demand_fault(demand(base=None, standard=(70.0, 80.0))) == ""
    assert demand_fault(demand(assumptions=(Assumption("x", 1.0, "", "why", 0.1),))) == ""
    # Sums of floats: a plan that differs from its step in the last digit is held.
    assert demand_fault(demand(plan=(100.00000000000001, 120.0))) == ""


BAD_TABLES = [
    ({"speeds": ()}, "speeds is of class tuple; due is a tuple that is not empty"),
    ({"speeds": [20.0, 50.0]}, "speeds is of class list"),
    ({"speeds": (20.0, 20.0)}, "speeds do not rise"),
    ({"speeds": (-20.0, 50.0)}, "speeds begin below 0"),
    ({"speeds": (20.0, nan)}, "speeds holds nan"),
    ({"speeds": (20.0, "50")}, "speeds holds '50'"),
    ({"plan": None}, "plan is None"),
    ({"plan": (100.0,)}, "plan has not one value per speed"),
    ({"plan": (100.0, inf)}, "plan holds inf"),
    ({"base": (80.0, True)}, "base holds True"),
    ({"standard": (80.0,)}, "standard has not one value per speed"),
    ({"torque": GRID[:1]}, "torque has not one row of steps per speed"),
    ({"torque": (GRID[0], (50.0, 90.0, 60.0, 120.0))}, "the steps of torque at speed 2 do not rise"),
    ({"torque": (GRID[0], (90.0, 120.0))}, "must be rectangular"),
    ({"torque": (GRID[0], (50.0, 90.0, nan))}, "holds nan"),
    ({"plan": (99.0, 120.0)}, "the steps of torque at speed 1 do not hold plan itself, 99.0"),
    ({"base": (80.0, 91.0)}, "the steps of torque at speed 2 do not hold base itself, 91.0"),
    ({"quantities": {"load": GRID}}, "the quantity load is of class tuple; due is a Band"),
    ({"quantities": {"": Band(GRID, GRID, GRID)}}, "quantities has the key ''"),
    ({"quantities": band(low=[GRID])}, "low is no tuple of tuples"),
    ({"quantities": band(high=(GRID[0],))}, "high has not one number per speed and step"),
    ({"quantities": band(nominal=(GRID[0], (50.0, 90.0)))}, "nominal has not one number per speed and step"),
    ({"quantities": band(low=((41.0, 80.0, 100.0), GRID[1]))}, "the quantity load at speed 1 has not low <= nominal"),
    ({"quantities": band(high=(GRID[0], (50.0, 89.0, 120.0)))}, "at speed 2 has not low <= nominal <= high"),
    ({"quantities": band(low=((nan, 80.0, 100.0), GRID[1]))}, "something else than finite plain numbers"),
    ({"quantities": band(high=((inf, 80.0, 100.0), GRID[1]))}, "something else than finite plain numbers"),
    ({"quantities": band(low=((-inf, 80.0, 100.0), GRID[1]))}, "something else than finite plain numbers"),
    ({"quantities": band(nominal=(("x", 80.0, 100.0), GRID[1]))}, "something else than finite plain numbers"),
    ({"assumptions": (("x", 1.0),)}, "assumptions[0] is of class tuple; due is a Assumption"),
    ({"assumptions": (Assumption("x", nan),)}, "assumptions[0].value is nan"),
    ({"base_source": None}, "base_source is None; due is a text"),
]


@pytest.mark.parametrize(("change", "expected"), BAD_TABLES, ids=[case[1] for case in BAD_TABLES])
def test_unsound_tables(change: dict[str, Any], expected: str, demand: Any) -> None:
    assert expected in demand_fault(demand(**change))


def test_extending_demand(plugin: Any, host_of: Any, demand: Any) -> None:
    before = demand(assumptions=(Assumption("first", 1.0),))
    extra = Band(GRID, GRID, GRID)

    def adds(name: str, figures: Band = extra) -> Any:
        def extend(demand: Demand) -> Demand:
            assert name not in demand.quantities
            return evolve(
                demand,
                quantities={**demand.quantities, name: figures},
                assumptions=(*demand.assumptions, Assumption(f"of {name}", 2.0)),
            )

        return plugin(extend_demand=extend)

    double = Band(GRID, GRID, tuple(tuple(3.0 * x for x in row) for row in GRID))
    host = host_of(a=adds("heat"), b=adds("film"), c=adds("heat"), d=adds("film", double), e=plugin())
    run = host.extend_demand(CASE, before)
    assert run.demand is not None
    assert run.demand.quantities == {**before.quantities, "heat": extra, "film": extra}
    assert [one.what for one in run.demand.assumptions] == ["first", "of heat", "of film", "of heat", "of film"]
    assert words(run) == [("d", "the quantity film was added by b with other figures, which count")]
    assert demand_fault(run.demand) == ""
    assert before == demand(assumptions=(Assumption("first", 1.0),))


BAD_EXTENSIONS = [
    ({"quantities": {}}, "the quantity load is taken away"),
    ({"quantities": band(high=tuple(tuple(9.0 * x for x in row) for row in GRID))}, "the quantity load is changed"),
    ({"torque": ((40.0, 80.0, 100.0), (50.0, 90.0, 130.0))}, "torque is changed"),
    ({"plan": (80.0, 90.0)}, "plan is changed"),
    ({"base": None}, "base is changed"),
    ({"basis": "mine"}, "basis is changed"),
    ({"assumptions": (Assumption("other", 1.0),)}, "assumptions are changed"),
    ({"assumptions": [Assumption("first", 1.0)]}, "assumptions are changed"),
    ({"more": Band(GRID, GRID, ((1.0, 1.0, 1.0), GRID[1]))}, "the quantity more at speed 1 has not low"),
    ({"more": None}, "the quantity more is None; due is a Band"),
]


@pytest.mark.parametrize(("change", "expected"), BAD_EXTENSIONS, ids=[case[1] for case in BAD_EXTENSIONS])
def test_an_extension_may_only_add(
    change: dict[str, Any], expected: str, plugin: Any, host_of: Any, demand: Any
) -> None:
    before = demand(assumptions=(Assumption("first", 1.0),))
    if "more" in change:
        change = {"quantities": {**before.quantities, "more": change["more"]}}
    assert expected in extension_fault(before, evolve(before, **change))
    run = host_of(a=plugin(extend_demand=lambda demand: evolve(demand, **change))).extend_demand(CASE, before)
    assert run.values == ()
    assert run.demand is before
    assert words(run)[0][1].startswith("the table was refused: ")
    assert expected in words(run)[0][1]


def test_merging_nothing_keeps_the_table(demand: Any) -> None:
    before = demand()
    assert merged(before, [("a", evolve(before))]) == (before, [])
    assert merged(before, [])[0] is before


def test_review(plugin: Any, host_of: Any, finding: Any) -> None:
    def examine(case: Case) -> list[Finding]:
        return [finding("b.rule", text="first")]

    def review(case: Case, results: Any) -> list[Any]:
        assert isinstance(results, tuple)
        return [
            finding("b.rule", text="second thoughts"),
            finding("b.review", text=f"of {len(results)}"),
            finding("a.rule"),
        ]

    host = host_of(a=plugin(examine=lambda: [finding("a.rule")]), b=plugin(examine=examine, review=review))
    results = [one for _, one in host.examine(CASE, None, Limits({})).values]
    run = host.review(CASE, results)
    assert [(id, one.rule, one.text) for id, one in run.values] == [("b", "b.review", "of 2")]
    assert sorted(words(run)) == [
        ("b", "Finding b.rule#s1 is given more than once; the first is kept"),
        ("b", 'result 3, Finding a.rule#s1, refused: a rule of this plugin has an id that begins with "b."'),
    ]


def test_examine_is_given_all(plugin: Any, host_of: Any, demand: Any) -> None:
    seen: list[Any] = []
    limits, table = Limits({}), demand()
    host = host_of(a=plugin(examine=lambda case, demand, limits: seen.append((case, demand, limits))))
    host.examine(CASE, table, limits)
    assert all(one is other for one, other in zip(seen[0], (CASE, table, limits), strict=True))


def test_declarations_that_contradict_each_other_raise_each_time(plugin: Any, host_of: Any) -> None:
    host = host_of(a=plugin(declare=lambda: [5], examine=lambda: [Advice("x")]))
    errors: list[DeclarationError] = []

    def ask() -> None:
        try:
            _ = host.catalogue
        except DeclarationError as error:
            errors.append(error)

    threads = [threading.Thread(target=ask) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len({id(error) for error in errors}) == 8
    assert {str(error) for error in errors} == {
        "the declarations of the plugins cannot be used: 1 fault\n  a: an object of class int is no declaration"
    }
    with pytest.raises(DeclarationError):
        host.examine(CASE, None, Limits({}))


def test_what_was_declared_before_an_exception_counts(plugin: Any, host_of: Any) -> None:
    from loadworthy.declarations import Group

    def declare() -> Any:
        yield Group("first", "declared in time")
        raise ValueError("no more")

    host: Host = host_of(a=plugin(declare=declare))
    assert list(host.catalogue.groups) == ["first"]
    assert [(failure.hook, failure.problem) for failure in host.failures] == [("declare", "raised ValueError: no more")]


def test_verdict_classes_are_shared() -> None:
    # Results are compared by value: two runs of one host on one case are equal.
    assert Finding("a.b", verdicts=(Verdict("note", 1.0),)) == Finding("a.b", verdicts=(Verdict("note", 1.0),))
