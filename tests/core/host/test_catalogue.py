"""Declarations are complete, possible and of one mind, or nothing is judged with them."""

from __future__ import annotations

import random
from typing import Any

import pytest
from attrs import evolve, fields

from loadworthy.declarations import (
    MARKS,
    Broader,
    Catalogue,
    Cause,
    Field,
    Fields,
    Group,
    Limit,
    Quantity,
    Rule,
    Section,
    SymptomSet,
    Variant,
    WorkshopTest,
)
from loadworthy.errors import DeclarationError
from loadworthy.host.catalogue import collect, undeclared
from loadworthy.host.declared import _SHAPES

nan, inf = float("nan"), float("inf")

GAP = Field("gap", "quantity", "gap of the pads", "length", usual=(1e-3, 5e-3), possible=(0.0, 1e-2), u=1e-4)
SECTION = Section("pads", "pads looked at", (GAP, Field("state", "choice", choices=("good", "worn"))), tests=("look",))
LIMIT = Limit("least", 2e-3, "length", "below", "least gap", "maker's handbook, table 3", "published", "fix_first")
RULE = Rule(
    "thin", "pads", "pads are thick enough", "look", bands={"fired": {"pads-worn": 5.0}, "clean": {"pads-worn": 0.2}}
)
CAUSE = Cause(
    "pads-worn", "pads worn", 0.1, 2, "slow", retest=("look",), variants=(Variant("a.least", "stop", "sudden"),)
)
TEST = WorkshopTest("look", "look at the pads", 10, "wheels off", "Support the vehicle.")
SYMPTOM = SymptomSet("squeal", "squeals", (("pads-worn", 0.6),))
QUANTITY = Quantity("load", "torque", "torque", "load")
GROUP = Group("one log", "all of one log", per_sheet=True)
BROADER = Broader("pads-bad", "pads bad", ("pads-worn",), "squeal")
VEHICLE = Fields("vehicle", (Field("wheels", "count", "number of wheels", possible=(2, 8)),))
ALL = (SECTION, LIMIT, RULE, CAUSE, TEST, SYMPTOM, QUANTITY, GROUP, BROADER, VEHICLE)


def faults(*declared: tuple[str, Any]) -> list[str]:
    with pytest.raises(DeclarationError) as caught:
        collect(declared)
    return [str(fault) for fault in caught.value.faults]


def test_everything_finds_its_place() -> None:
    catalogue = collect([("a", one) for one in ALL])
    assert catalogue.sections == {"pads": SECTION}
    assert catalogue.limits == {"a.least": LIMIT}
    assert catalogue.rules == {"a.thin": RULE}
    assert catalogue.causes == {"pads-worn": CAUSE}
    assert catalogue.tests == {"look": TEST}
    assert catalogue.symptoms == {"squeal": SYMPTOM}
    assert catalogue.quantities == {"load": QUANTITY}
    assert catalogue.groups == {"one log": GROUP}
    assert catalogue.broader == {"pads-bad": BROADER}
    assert catalogue.vehicle["wheels"].type == "count"
    assert catalogue.owner("limit", "a.least") == catalogue.owner("cause", "pads-worn") == "a"
    assert catalogue.owner("cause", "unheard-of") == ""
    assert undeclared(catalogue) == ()


def test_the_core_brings_its_own_fields() -> None:
    catalogue = collect([])
    assert {"base_torque_measured", "standard_torque"} <= catalogue.vehicle.keys()
    assert {"torque", "goal", "use"} <= catalogue.plan.keys()
    assert catalogue.owner("plan", "torque") == "core"


def test_frozen() -> None:
    catalogue = collect([("a", one) for one in ALL])
    with pytest.raises(TypeError):
        catalogue.limits["a.least"] = LIMIT


SINGLE = [
    (SECTION, "section pads"),
    (CAUSE, "cause pads-worn"),
    (TEST, "test look"),
    (SYMPTOM, "symptom squeal"),
    (BROADER, "broader pads-bad"),
]


@pytest.mark.parametrize(("one", "name"), SINGLE, ids=[name for _, name in SINGLE])
def test_what_has_an_effect_has_one_owner(one: Any, name: str) -> None:
    # Even an equal second declaration: nobody would know whose it is.
    assert faults(("a", one), ("b", one)) == [f"b: the {name} is declared by a and by b; leave it to one of them"]


@pytest.mark.parametrize(("one", "name"), [(LIMIT, "limit a.least"), (evolve(RULE, section=""), "rule a.thin")])
def test_limits_and_rules_are_the_plugins_own(one: Any, name: str) -> None:
    assert faults(("a", one), ("a", one)) == [f"a: the {name} is declared twice by a; leave it to one of them"]
    catalogue = collect([("a", one), ("b", one)])
    assert len({**catalogue.limits, **catalogue.rules}) == 2


@pytest.mark.parametrize(
    ("one", "other", "name"),
    [
        (QUANTITY, evolve(QUANTITY, kind="power"), "quantity load"),
        (GROUP, evolve(GROUP, per_sheet=False), "group one log"),
        (VEHICLE, Fields("vehicle", (evolve(VEHICLE.fields[0], possible=(1, 8)),)), "vehicle field wheels"),
        (Fields("plan", VEHICLE.fields), Fields("plan", (evolve(VEHICLE.fields[0], text="x"),)), "plan field wheels"),
    ],
)
def test_shared_words_must_mean_the_same(one: Any, other: Any, name: str) -> None:
    catalogue = collect([("a", one), ("b", evolve(one))])
    assert "a" in catalogue.owners.values()
    assert "b" not in catalogue.owners.values()
    assert len(catalogue.shared) == 1
    assert catalogue.shared <= catalogue.owners.keys()
    assert collect([("a", one), ("a", evolve(one))]).shared == frozenset()
    assert faults(("a", one), ("b", other)) == [
        f"b: the {name} is declared differently by a and by b; declare the same in both"
    ]


def test_the_core_field_cannot_be_declared_otherwise() -> None:
    own = collect([]).plan["goal"]
    assert collect([("a", Fields("plan", (own,)))]).owner("plan", "goal") == "core"
    assert "by core and by a" in faults(("a", Fields("plan", (evolve(own, choices=("fun",)),))))[0]


def test_a_cause_and_a_broader_wording() -> None:
    other = Broader("pads-worn", "something with the pads", ("pads-worn",))
    assert faults(("a", CAUSE), ("b", other)) == [
        "b: pads-worn is declared as a cause by a and as a broader wording by b; leave it to one of them"
    ]


FIELD = "fields[0]"
BAD = [
    (5, "an object of class int is no declaration"),
    (None, "an object of class NoneType is no declaration"),
    (evolve(LIMIT, source=""), "source is ''; due is the source in words"),
    (evolve(LIMIT, source=None), "source is None; due is the source in words"),
    (evolve(LIMIT, mark="hearsay"), "mark is 'hearsay'; due is one of published, common practice, no source"),
    (evolve(LIMIT, mark=""), "mark is ''"),
    (evolve(LIMIT, value=nan), "value is nan"),
    (evolve(LIMIT, value="much"), "the value 'much' is not of the kind length"),
    (evolve(LIMIT, kind="text"), "the value 0.002 is not of the kind text"),
    (evolve(LIMIT, kind="furlongs"), "kind is 'furlongs'; due is a unit kind, number or text"),
    (evolve(LIMIT, worse="beside"), "worse is 'beside'"),
    (evolve(LIMIT, grade="bad"), "grade is 'bad'"),
    (evolve(LIMIT, worse="setting"), "a setting has no grade"),
    (evolve(LIMIT, name="a.least"), "name is 'a.least'; due is a name without spaces"),
    (evolve(CAUSE, prior=0.0), "prior is 0.0; due is a probability above 0 and below 1"),
    (evolve(CAUSE, prior=1.0), "prior is 1.0"),
    (evolve(CAUSE, prior=nan), "prior is nan"),
    (evolve(CAUSE, severity=0), "severity is 0; due is one of 1, 2, 3, 4"),
    (evolve(CAUSE, severity=5), "severity is 5"),
    (evolve(CAUSE, hazard="terrible"), "hazard is 'terrible'; due is one of none, rare, slow"),
    (evolve(CAUSE, repair_hours=-1.0), "repair_hours is -1.0"),
    (evolve(CAUSE, id="pads@left"), "id is 'pads@left'"),
    (evolve(CAUSE, id=""), "id is ''"),
    (evolve(CAUSE, excludes=("pads-worn",)), "a cause cannot exclude itself"),
    (evolve(CAUSE, variants=(Variant("a.least", "stop", "odd"),)), "variants[0].hazard is 'odd'"),
    (evolve(RULE, bands={"fired": {"pads-worn": 0.0}}), "ratio of pads-worn in the band fired is 0.0"),
    (evolve(RULE, bands={"fired": {"pads-worn": -1.0}}), "ratio of pads-worn in the band fired is -1.0"),
    (evolve(RULE, bands={"fired": {"pads-worn": nan}}), "ratio of pads-worn in the band fired is nan"),
    (evolve(RULE, bands={"fired": {"pads-worn": inf}}), "ratio of pads-worn in the band fired is inf"),
    (evolve(RULE, bands={"fired": 3.0}), "bands must map the names of bands"),
    (evolve(RULE, section="elsewhere"), "its section elsewhere is declared by no installed plugin"),
    (evolve(SYMPTOM, candidates=(("a", 0.6), ("b", 0.402))), "sum to 1.002, more than 1"),
    (evolve(SYMPTOM, candidates=(("a", 0.6), ("a", 0.2))), "a candidate stands twice"),
    (evolve(SYMPTOM, candidates=(("a", -0.1),)), "candidates[0] is of class tuple; due is a pair"),
    (evolve(TEST, minutes=-5), "minutes is -5"),
    (evolve(QUANTITY, kind="number"), "kind is 'number'; due is a unit kind"),
    (evolve(SECTION, id="repair"), "the section cannot be called repair, which is a table of the case itself"),
    (evolve(SECTION, id="vehicle"), "the section cannot be called vehicle"),
    (evolve(SECTION, half_life_days=0.0), "half_life_days is 0.0"),
    (
        evolve(SECTION, fields=(evolve(GAP, name="note"),)),
        "the field cannot be called note, which is a key of every sheet",
    ),
    (evolve(SECTION, fields=(GAP, GAP)), "the field gap stands twice"),
    (evolve(SECTION, fields=(evolve(GAP, type="amount"),)), "fields[0].type is 'amount'"),
    (evolve(SECTION, fields=(evolve(GAP, kind="furlongs"),)), "fields[0].kind is 'furlongs'"),
    (evolve(SECTION, fields=(evolve(GAP, kind=""),)), "the field gap needs the unit kind"),
    (evolve(SECTION, fields=(evolve(GAP, choices=("a",)),)), "the field gap is no choice"),
    (evolve(SECTION, fields=(Field("a", "choice"),)), "the field a needs choices"),
    (evolve(SECTION, fields=(Field("a", "rows"),)), "the field a needs fields"),
    (evolve(SECTION, fields=(Field("a", "text", fields=(GAP,)),)), "the field a cannot have fields"),
    (evolve(SECTION, fields=(Field("a", "record", fields=(evolve(GAP, kind=""),)),)), "the field a.gap needs the unit"),
    (evolve(SECTION, fields=(evolve(GAP, usual=(1e-3, 2e-2)),)), "usual range of the field gap lies outside"),
    (
        evolve(SECTION, fields=(evolve(GAP, usual=None, usual_by=("kind", {"x": (-1.0, None)})),)),
        "lies outside the possible",
    ),
    (
        evolve(SECTION, fields=(evolve(GAP, usual=(5e-3, 1e-3)),)),
        "fields[0].usual is of class tuple; due is (low, high)",
    ),
    (evolve(SECTION, fields=(evolve(GAP, u=0.0),)), "fields[0].u is 0.0"),
    (evolve(SECTION, fields=(evolve(GAP, u_relative=-0.1),)), "fields[0].u_relative is -0.1"),
    (evolve(SECTION, fields=(evolve(GAP, name="two words"),)), "fields[0].name is 'two words'"),
    (evolve(VEHICLE, table="driver"), "table is 'driver'; due is one of vehicle, plan"),
]


@pytest.mark.parametrize(("one", "words"), BAD, ids=[f"{number}: {words}" for number, (_, words) in enumerate(BAD)])
def test_what_is_incomplete_or_impossible(one: Any, words: str) -> None:
    found = faults(*(("a", other) for other in ALL if type(other) is not type(one)), ("culprit", one))
    relevant = [fault for fault in found if "culprit" in fault]
    assert len(relevant) == 1
    assert words in relevant[0]


def test_all_faults_at_once() -> None:
    found = faults(
        ("a", evolve(LIMIT, source="")), ("b", evolve(CAUSE, prior=2.0)), ("c", "text"), ("c", TEST), ("d", TEST)
    )
    assert len(found) == 4
    with pytest.raises(DeclarationError, match="cannot be used: 4 faults"):
        collect([("a", evolve(LIMIT, source="")), ("b", evolve(CAUSE, prior=2.0)), ("c", 5), ("c", TEST), ("d", TEST)])


@pytest.mark.parametrize("mark", MARKS)
def test_all_marks_are_known(mark: Any) -> None:
    assert collect([("a", evolve(LIMIT, mark=mark))]).limits["a.least"].mark == mark


def test_rules_without_a_section() -> None:
    for section in ("", "vehicle", "plan"):
        assert "a.thin" in collect([("a", evolve(RULE, section=section))]).rules


def test_every_field_of_every_declaration_is_checked() -> None:
    for sound in (*ALL, LIMIT):
        for attribute in fields(type(sound)):
            if attribute.converter is None:
                assert not _SHAPES[type(sound)](evolve(sound, **{attribute.name: object()})), attribute.name


def test_order_is_nothing() -> None:
    declared = [("a", one) for one in ALL]
    expected = collect(declared)
    bad = [("a", evolve(LIMIT, source="")), ("a", CAUSE), ("b", CAUSE), ("c", 5)]
    words = faults(*bad)
    for seed in range(5):
        random.Random(seed).shuffle(declared)
        assert collect(declared) == expected
    assert faults(*bad[:1], *bad[3:], *bad[1:3]) == words


def test_what_nobody_declares() -> None:
    catalogue = collect(
        [
            (
                "a",
                evolve(
                    SECTION, fields=(evolve(GAP, quantity="heat", usual=None, usual_by=("age", {"old": (0.0, None)})),)
                ),
            ),
            ("a", evolve(RULE, bands={"fired": {"disc-cracked": 2.0, "pads-bad": 2.0}})),
            ("a", evolve(CAUSE, retest=("drive",), driver="load", excludes=("pads-missing",))),
            ("a", Broader("pads-bad", "pads bad", ("pads-worn", "pads-oily"), "smell")),
            ("a", evolve(SYMPTOM, candidates=(("disc-cracked", 0.2),))),
            ("a", evolve(TEST, before=("wash",))),
        ]
    )
    assert undeclared(catalogue) == (
        ("cause", "disc-cracked", "rule a.thin"),
        ("cause", "disc-cracked", "symptom squeal"),
        ("cause", "pads-missing", "cause pads-worn"),
        ("cause", "pads-oily", "broader pads-bad"),
        ("limit", "a.least", "cause pads-worn"),
        ("quantity", "heat", "section pads"),
        ("quantity", "load", "cause pads-worn"),
        ("symptom", "smell", "broader pads-bad"),
        ("test", "drive", "cause pads-worn"),
        ("test", "wash", "test look"),
        ("vehicle", "age", "section pads"),
    )
    assert undeclared(Catalogue()) == ()
