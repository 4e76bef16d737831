"""Every result that is not what the types say is refused with words that say what is wrong."""

from __future__ import annotations

from types import MappingProxyType
from typing import Any

import pytest
from attrs import evolve, fields
from hypothesis import given
from hypothesis import strategies as st

from loadworthy.case import Curve
from loadworthy.declarations import Catalogue, Requirement, Rule, SymptomSet
from loadworthy.findings import (
    Advice,
    AtLeast,
    Candidate,
    Capacity,
    Ceiling,
    Coverage,
    Distortion,
    Finding,
    Gap,
    Gate,
    Step,
    Symptom,
    Used,
    Verdict,
    Weight,
)
from loadworthy.host.checks import _SHAPES, RESULTS, Inspector, finding_keys, without_twins
from loadworthy.host.quick import is_sound

CATALOGUE = Catalogue(
    rules={"p.rule": Rule("rule", "", "a rule", bands={"fired": {"a": 3.0}, "clean": {"a": 0.3}})},
    symptoms={"known": SymptomSet("known", "a symptom", (("a", 0.5),))},
)
nan, inf = float("nan"), float("inf")

VERDICT = Verdict("watch", 0.7, "p.limit", 3.0, "pressure", "default", 0.1, None)
GOOD = Finding(
    "p.rule",
    "s1",
    "wheel 1",
    (VERDICT,),
    "text",
    bands={"fired": 0.7, "clean": 0.3},
    weights=(Weight("a", "wheel 1", 3.0, "group"),),
    names=(("a", None),),
    readings=(Used("s1.field", 2.0, 0.1, "bar"), Used("s1.word", "loose")),
    steps=(Step("ratio", 0.5, "", "a/b", "judgement"), Step("state", "loose")),
)
SYMPTOM = Symptom("known", "p.rule", "s1", 0.9)
CAPACITY = Capacity("a", "load", 400.0, 20.0, "wheel 1", 1.1, (0.1, 0.2), Curve((20.0, 30.0), (1.0, 2.0)))
CEILING = Ceiling("limit", "load", 300.0, "loose", finding=("p.rule", None, "s1"), steps=(Step("x", 1.0),))
ROW = Requirement("row", "a row", {"none": "-", "mild": "A", "strong": "R", "extreme": "R"})


def refusals(*results: Any, allowed: Any = RESULTS) -> list[str]:
    good: list[Any] = []
    refused: list[str] = []
    Inspector("p", allowed, CATALOGUE).sift(list(results), good, refused)
    assert len(good) + len(refused) == len(results)
    return refused


SOUND = [
    GOOD,
    Finding("p.rule", unknown="no reading"),
    Finding("p.other", verdicts=(Verdict("clean", 0),), bands={"any": 1.0}),
    SYMPTOM,
    Symptom("nobody-declares", "p.rule", "s1", 0.9, candidates=(Candidate("a", None, 0.6), Candidate("b", None, 0.4))),
    CAPACITY,
    Capacity("a", "load"),
    CEILING,
    evolve(CEILING, value=Curve((20.0, 30.0), (1.0, 2.0)), outside="hold"),
    evolve(CEILING, value="as_received"),
    evolve(CEILING, value="standard", finding=None, basis="demonstrated"),
    Gap("row", "missing"),
    Coverage("row", "met", sheets=("s1",)),
    Gate("rewrite", "go", "may be written"),
    AtLeast("strong", "changed part"),
    Advice("look"),
]


@pytest.mark.parametrize("result", SOUND, ids=lambda r: type(r).__name__)
def test_sound_results_pass(result: Any) -> None:
    assert refusals(result) == []


def test_other_hooks_results_pass() -> None:
    assert refusals(Distortion("load", "changed part", widen_relative=0.1), allowed=(Distortion,)) == []
    assert refusals(ROW, allowed=(Requirement,)) == []
    assert "due is one of Distortion" in refusals(GOOD, allowed=(Distortion,))[0]


class Derived(Finding):
    pass


class Text(str):
    __slots__ = ()


BAD = [
    (evolve(GOOD, rule=""), "rule is ''; due is a text that is not empty"),
    (evolve(GOOD, rule="other.rule"), 'begins with "p."'),
    (evolve(GOOD, rule=Text("p.rule")), "rule is of class"),
    (Derived("p.rule", unknown="?"), "Derived; due is one of"),
    (evolve(GOOD, sheet=None), "sheet is None; due is a text"),
    (evolve(GOOD, subject=3), "subject is 3; due is"),
    (evolve(GOOD, verdicts=[VERDICT]), "verdicts is of class list; due is a tuple"),
    (evolve(GOOD, verdicts=(("watch", 1.0),)), "verdicts[0] is of class tuple; due is a Verdict"),
    (evolve(GOOD, verdicts=(VERDICT, VERDICT._replace(grade="bad"))), "verdicts[1].grade is 'bad'"),
    (evolve(GOOD, verdicts=(VERDICT._replace(grade=["stop"]),)), "verdicts[0].grade is of class list"),
    (evolve(GOOD, verdicts=(VERDICT._replace(p_beyond=-0.1),)), "p_beyond is -0.1"),
    (evolve(GOOD, verdicts=(VERDICT._replace(p_beyond=True),)), "p_beyond is True; due is a plain number from 0 to 1"),
    (evolve(GOOD, verdicts=(VERDICT._replace(value=inf),)), "value is inf"),
    (evolve(GOOD, verdicts=(VERDICT._replace(needed_u=-1.0),)), "needed_u is -1.0"),
    (evolve(GOOD, verdicts=(VERDICT._replace(default_p=nan),)), "default_p is nan"),
    (evolve(GOOD, verdicts=()), "neither a verdict nor"),
    (evolve(GOOD, unknown="why"), "both a verdict and a reason"),
    (evolve(GOOD, bands={"fired": nan}), "bands[fired] is nan"),
    (evolve(GOOD, bands={"fired": 1.2}), "bands[fired] is 1.2"),
    (evolve(GOOD, bands={"fired": 0.7, "clean": 0.31}), "sum to 1.01"),
    (evolve(GOOD, bands={"fired": 0.7, "odd": 0.1}), "declares no band odd"),
    (evolve(GOOD, bands={1: 0.7}), "bands has the key 1"),
    (evolve(GOOD, weights=(Weight("", None, 3.0),)), "weights[0].cause is ''"),
    (evolve(GOOD, weights=(Weight("a", None, 101.0),)), "within 100 decibans"),
    (evolve(GOOD, names=(("a",),)), "names[0] is of class tuple; due is a pair"),
    (evolve(GOOD, readings=(Used("x", 1.0, -0.1),)), "readings[0].u is -0.1"),
    (evolve(GOOD, readings=(Used("x", None),)), "readings[0].value is None"),
    (evolve(GOOD, steps=(Step("x", nan),)), "steps[0].value is nan"),
    (evolve(GOOD, steps=(Step("x", 10**400),)), "cannot be checked (OverflowError)"),
    (evolve(GOOD, max_grade="worst"), "max_grade is 'worst'"),
    (evolve(GOOD, accept=1), "accept is 1; due is True or False"),
    (evolve(GOOD, clears=None), "clears is None"),
    (evolve(SYMPTOM, p_beyond=nan), "p_beyond is nan"),
    (evolve(SYMPTOM, id="unheard-of"), "declares the symptom unheard-of"),
    (evolve(SYMPTOM, candidates=(Candidate("a", None, 0.6), Candidate("b", None, 0.402))), "sum to more than 1"),
    (evolve(SYMPTOM, candidates=(Candidate("a", None, -0.6),)), "candidates[0].weight is -0.6"),
    (evolve(CAPACITY, value=nan), "value is nan"),
    (evolve(CAPACITY, value=Curve((30.0, 20.0), (1.0, 2.0))), "due is a finite plain number, a Curve"),
    (evolve(CAPACITY, value=Curve((), ())), "a Curve with rising speeds"),
    (evolve(CAPACITY, value=Curve((1.0, 2.0), (1.0,))), "as many finite values"),
    (evolve(CAPACITY, value="much"), "value is 'much'"),
    (evolve(CAPACITY, u=-1.0), "u is -1.0"),
    (evolve(CAPACITY, use_factor=0.0), "use_factor is 0.0"),
    (evolve(CAPACITY, probability=(1.5,)), "probability[0] is 1.5"),
    (evolve(CEILING, value=None), "value is None"),
    (evolve(CEILING, value="as received"), "as_received or standard"),
    (evolve(CEILING, kind="soft"), "kind is 'soft'; due is one of hard, advisory"),
    (evolve(CEILING, outside="zero"), "outside is 'zero'"),
    (evolve(CEILING, basis="guessed"), "basis is 'guessed'"),
    (evolve(CEILING, finding=("p.rule", "s1")), "(rule, subject, sheet)"),
    (evolve(CEILING, finding=("other.rule", None, "s1")), "none of this plugin's"),
    (Gap("", "text"), "id is ''"),
    (Coverage("row", "done"), "state is 'done'; due is one of met, absent"),
    (Coverage("row", "met", sheets="s1"), "sheets is 's1'; due is a tuple"),
    (Gate("g", "maybe", "text"), "state is 'maybe'"),
    (AtLeast("huge", "because"), "plan_class is 'huge'"),
    (Advice(""), "text is ''"),
    (Distortion("load", "because"), "due is one of Advice"),
]


@pytest.mark.parametrize(("result", "words"), BAD, ids=[f"{number}: {words}" for number, (_, words) in enumerate(BAD)])
def test_unsound_results_are_refused_and_the_others_stay(result: Any, words: str) -> None:
    refused = refusals(GOOD, result, SYMPTOM)
    assert len(refused) == 1
    assert words in refused[0]
    assert refused[0].startswith("result 2")


@pytest.mark.parametrize(
    ("result", "words"),
    [
        (Distortion("load", "r", widen_by=-1.0), "widen_by is -1.0"),
        (Distortion("load", "r", widen_relative=nan), "widen_relative is nan"),
        (Distortion("load", "r", "hide"), "action is 'hide'"),
        (evolve(ROW, levels={"none": "R"}), "levels must name none, mild, strong, extreme"),
        (evolve(ROW, levels={**ROW.levels, "mild": "maybe"}), "levels[mild] is 'maybe'"),
        (evolve(ROW, ceiling="zero"), "ceiling is 'zero'"),
    ],
)
def test_other_hooks_results_are_checked(result: Any, words: str) -> None:
    assert words in refusals(result, allowed=(Distortion, Requirement))[0]


def test_every_field_of_every_result_is_checked() -> None:
    # An object of a class that no field may hold stands in for each of them in turn.
    for sound in (GOOD, SYMPTOM, CAPACITY, CEILING, *SOUND[11:], Distortion("load", "r"), ROW):
        for attribute in fields(type(sound)):
            if attribute.converter is not None:
                continue
            assert refusals(evolve(sound, **{attribute.name: object()}), allowed=_SHAPES), attribute.name
    for name, wrong in (("bands", {"fired": object()}), ("bands", {object(): 0.5})):
        assert refusals(evolve(GOOD, **{name: wrong}))


PARTS = {"verdicts": VERDICT, "readings": Used("a", 1.0, 0.1, "bar"), "steps": Step("a", 1.0)}
VALUES = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-2, 2),
    st.floats(),
    st.sampled_from(["", "watch", "stop", "text"]),
    st.just(Text("watch")),
    st.lists(st.integers(), max_size=1),
    st.just(object()),
)


@given(st.sampled_from(sorted(PARTS)), st.integers(0, 7), VALUES)
def test_the_quick_check_lets_nothing_through_in_parts(name: str, at: int, value: Any) -> None:
    part = PARTS[name]
    changed = type(part)(*(value if number == at else old for number, old in enumerate(part)))
    one = evolve(GOOD, weights=(), names=(), **{name: (changed,)})
    if is_sound(one):
        assert _SHAPES[Finding](one)


@given(st.sampled_from([a.name for a in fields(Finding) if a.converter is None]), VALUES)
def test_the_quick_check_lets_nothing_through_in_fields(name: str, value: Any) -> None:
    one = evolve(evolve(GOOD, weights=(), names=()), **{name: value})
    if is_sound(one):
        assert _SHAPES[Finding](one)


@given(st.dictionaries(st.sampled_from(["fired", "clean", ""]), VALUES, max_size=2))
def test_the_quick_check_lets_nothing_through_in_bands(bands: dict[str, Any]) -> None:
    one = evolve(GOOD, weights=(), names=(), bands=bands)
    if is_sound(one):
        assert _SHAPES[Finding](one)


def test_the_quick_check_knows_ordinary_findings() -> None:
    assert is_sound(evolve(GOOD, weights=(), names=()))
    assert is_sound(Finding("p.rule", unknown="why"))
    assert not is_sound(evolve(GOOD, names=(), weights=(Weight("a", None, nan),)))


def test_twins_leave_the_worst_in_any_order() -> None:
    def one(grade: str, p: float, sheet: str = "s1") -> Finding:
        return Finding("p.rule", sheet, None, (Verdict(grade, p),))

    clean, unknown = one("stop", 0.01), Finding("p.rule", "s1", unknown="?")
    watch, stop, other = one("watch", 1.0), one("stop", 0.6), one("note", 1.0, "s2")
    for found in ([clean, watch, stop, other], [stop, other, clean, watch], [watch, stop, clean, other]):
        refused: list[str] = []
        assert sorted(without_twins(found, refused), key=lambda one: one.sheet) == [stop, other]
        assert refused == ["Finding p.rule#s1 is given more than once; the worst is kept"] * 2
    assert without_twins([clean, unknown], []) == [unknown]
    assert without_twins([unknown, clean], []) == [unknown]


def test_what_was_given_before_stays() -> None:
    before = Finding("p.rule", "s1", None, (Verdict("stop", 1.0),))
    again = Finding("p.rule", "s1", None, (Verdict("note", 1.0),))
    refused: list[str] = []
    assert without_twins([again, Advice("x")], refused, finding_keys([before, Advice("y")])) == [Advice("x")]
    assert refused == ["Finding p.rule#s1 is given more than once; the first is kept"]


def test_proxies_of_plain_mappings_pass() -> None:
    assert refusals(evolve(GOOD, bands=MappingProxyType({"fired": 0.7}))) == []
