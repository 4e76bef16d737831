"""What the bundled checks declare together, against the one list of cause, symptom, test and quantity ids.

``vocabulary.toml`` is the source of their ids and figures; its own head says which of them are judgement. What belongs
to a check that is not built yet is exempt, by the name of that check.
"""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

import pytest

from loadworthy import Host
from loadworthy.host.catalogue import undeclared

VOCABULARY: dict[str, list[dict[str, Any]]] = {
    key: value
    for key, value in tomllib.loads((Path(__file__).with_name("vocabulary.toml")).read_text(encoding="utf-8")).items()
    if isinstance(value, list)
}
NOT_BUILT = {
    "boost_integrity",
    "clutch",
    "emissions",
    "fuel_quality",
    "service",
}
#: Chapter of the handbook -> the check that it describes; "codes" is the table of fault codes.
CHECK_OF = {
    "10": "fault_memory",
    "20": "boost_integrity",
    "30": "oil_system",
    "35": "service",
    "40": "compression",
    "50": "fuel_quality",
    "55": "modifications",
    "60": "emissions",
    "70": "clutch",
    "codes": "fault_memory",
}
FAMILIES = ("cause", "symptom", "test", "quantity")
HOST = Host()
CATALOGUE = HOST.catalogue


def owner(family: str, entry: dict[str, Any]) -> str:
    """Return the one plugin that is to declare an entry."""
    if family == "test":
        return str(entry["asks"][0])
    if family == "quantity":
        return str(entry["supplier"])
    return str(entry["owner"]) if family == "cause" else CHECK_OF[entry["chapters"][0]]


def entries(family: str) -> list[Any]:
    """Return what a built check must declare of a family."""
    due = [entry for entry in VOCABULARY[family] if owner(family, entry) not in NOT_BUILT]
    return [pytest.param(entry, id=entry["id"]) for entry in due]


def test_checks_that_are_not_built_are_really_absent() -> None:
    built = {plugin.id for plugin in HOST.plugins}
    owners = {
        owner(family, entry) for family in ("cause", "symptom", "test", "quantity") for entry in VOCABULARY[family]
    }
    assert not NOT_BUILT & built
    assert owners <= NOT_BUILT | built


@pytest.mark.parametrize("entry", [e for e in entries("cause") if "covers" not in e.values[0]])
def test_causes(entry: dict[str, Any]) -> None:
    declared = CATALOGUE.causes[entry["id"]]
    assert CATALOGUE.owner("cause", declared.id) == entry["owner"]
    for key in ("text", "prior", "severity", "hazard", "driver", "located", "repair_hours", "cost_class"):
        assert getattr(declared, key) == entry[key], key
    for key in ("person", "capacity", "not_physical"):
        assert getattr(declared, key) == entry.get(key, False), key
    assert declared.retest == tuple(entry["retest"])
    assert set(declared.excludes) == set(entry.get("excludes", ()))
    assert declared.remedy


@pytest.mark.parametrize("entry", [e for e in entries("cause") if "covers" in e.values[0]])
def test_broader_wordings(entry: dict[str, Any]) -> None:
    declared = CATALOGUE.broader[entry["id"]]
    assert (declared.text, set(declared.covers)) == (entry["text"], set(entry["covers"]))
    assert declared.symptom == entry.get("symptom", "")
    assert entry["id"] not in CATALOGUE.causes


@pytest.mark.parametrize("entry", entries("symptom"))
def test_symptoms(entry: dict[str, Any]) -> None:
    declared = CATALOGUE.symptoms[entry["id"]]
    assert declared.text == entry["text"]
    assert dict(declared.candidates) == {one["id"]: one["weight"] for one in entry["candidates"]}
    assert 1.0 - sum(weight for _, weight in declared.candidates) == pytest.approx(entry["remainder"], abs=0.002)


@pytest.mark.parametrize("entry", entries("test"))
def test_workshop_tests(entry: dict[str, Any]) -> None:
    declared = CATALOGUE.tests[entry["id"]]
    for key in ("text", "minutes", "set_up", "caution"):
        assert getattr(declared, key) == entry[key], key
    for key in ("before", "after", "spoils"):
        assert set(getattr(declared, key)) == set(entry[key]), key
    assert declared.weak == entry.get("weak", False)


@pytest.mark.parametrize("entry", entries("quantity"))
def test_quantities(entry: dict[str, Any]) -> None:
    # Without the place in the handbook that stands behind some texts.
    assert CATALOGUE.quantities[entry["id"]].text == re.sub(r" \(\d\d, \d\.\d+\)| \(\d\d A?\d+\)$", "", entry["text"])


def test_nothing_is_declared_that_the_vocabulary_lacks() -> None:
    for family, declared in (
        ("cause", {*CATALOGUE.causes, *CATALOGUE.broader}),
        ("symptom", set(CATALOGUE.symptoms)),
        ("test", set(CATALOGUE.tests)),
        ("quantity", set(CATALOGUE.quantities)),
    ):
        assert declared <= {entry["id"] for entry in VOCABULARY[family]}, family
        assert declared, family


def test_whatever_is_spoken_of_is_declared_or_belongs_to_a_check_not_built() -> None:
    known = {(family, entry["id"]): owner(family, entry) for family in FAMILIES for entry in VOCABULARY[family]}
    for family, id, by in undeclared(CATALOGUE):
        assert known.get((family, id)) in NOT_BUILT, f"{by} speaks of the {family} {id}, which nobody declares"
