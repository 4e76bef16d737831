"""The schemas say what the reader reads and what a register holds, no more and no less."""

from __future__ import annotations

import copy
import datetime
import functools
import json
import tomllib
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import pytest
from drawn_cases import CATALOGUE, cases, read
from hypothesis import given, settings
from jsonschema import Draft202012Validator
from shown import CASE, register

from loadworthy import Case, CaseError, assess
from loadworthy.declarations import Catalogue
from loadworthy.outputs.schema import schema, schema_json
from support import DEMOS, bundled

if TYPE_CHECKING:
    from pathlib import Path

    from loadworthy import Register


def checker(what: str, catalogue: Catalogue) -> Draft202012Validator:
    found = schema(what, catalogue)
    Draft202012Validator.check_schema(found)
    return Draft202012Validator(found, format_checker=Draft202012Validator.FORMAT_CHECKER)


def as_json(value: Any) -> Any:
    """TOML's types as JSON has them."""
    if isinstance(value, dict):
        return {key: as_json(inner) for key, inner in value.items()}
    if isinstance(value, (list, tuple)):
        return [as_json(inner) for inner in value]
    if isinstance(value, (datetime.date, datetime.time)):
        return value.isoformat()
    return value


@pytest.fixture(scope="module")
def case_of() -> Draft202012Validator:
    return checker("case", bundled().catalogue)


@pytest.fixture(scope="module")
def of_register() -> Draft202012Validator:
    return checker("register", bundled().catalogue)


@functools.cache
def demo(path: Path) -> Register:
    return assess(Case.load(path, catalogue=bundled().catalogue), host=bundled())


def test_json_of_one_or_both() -> None:
    catalogue = bundled().catalogue
    both = json.loads(schema_json(None, catalogue))
    assert list(both) == ["case", "register"]
    for what, one in both.items():
        assert json.loads(schema_json(what, catalogue)) == one
        assert one["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert schema_json("case", catalogue).isascii()


# The case ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_demo_cases_and_their_registers_conform(
    path: Path, case_of: Draft202012Validator, of_register: Draft202012Validator
) -> None:
    tables = as_json(tomllib.loads(path.read_text(encoding="utf-8")))
    assert list(case_of.iter_errors(tables)) == []
    assert list(of_register.iter_errors(demo(path).to_dict())) == []
    # What the reader makes of the JSON is the same case.
    assert Case.from_dict(tables, catalogue=bundled().catalogue).digest == demo(path).case_digest


@settings(max_examples=150, deadline=None)
@given(cases())
def test_what_the_reader_takes_the_schema_takes(tables: dict[str, Any]) -> None:
    try:
        read(tables)
    except CaseError:
        return  # two sheets that happen to be the same
    errors = [error.message for error in _generated().iter_errors(as_json(tables))]
    assert errors == []


@functools.cache
def _generated() -> Draft202012Validator:
    return checker("case", CATALOGUE)


SOUND: dict[str, Any] = {
    "name": "a",
    "as_of": "2026-05-10",
    "vehicle": {"tank": "61 L", "base_torque_logged": {"1000 rpm": "190 N m"}},
    "instrument": [{"id": "g", "measures": "pressure_gauge", "span": "25 bar", "class": 1.6}],
    "repair": [{"id": "r", "date": "2026-05-01", "what": "w", "treats": ["leak@wheel 1"]}],
    "event": [{"kind": "k", "date": "2026-05-01"}],
    "waiver": [{"who": "a", "what": "b", "why": "c", "from": "2026-05-01", "until": "2026-05-02"}],
    "void": [{"sheet": "s", "why": "w", "who": "v", "date": "2026-05-03"}],
    "bench": [
        {
            "id": "s",
            "date": "2026-05-02",
            "time": "10:30:00",
            "odometer": "84 km",
            "instrument": "g",
            "grip": ["12.1 bar", "12,3 bar"],
            "each": {"1": "12 bar", "left": "12 bar +- 0.2"},
            "share": 0.3,
            "strokes": 4,
            "layout": [[1, 2], [3]],
            "state": "open",
            "marks": ["a"],
            "clean": True,
            "pull": {"1000 rpm": "20 N m"},
            "trace": {"every": "1 ms", "unit": "A", "values": [1, 2.5]},
            "points": [{"load": "2 kN"}],
            "device": {"width": "2 mm"},
            "u": {"grip": "0.1 bar", "points": {"load": "3 N"}},
        }
    ],
}
#: Where something is put (None: taken away), in what the reader and the schema both refuse.
BROKEN: list[tuple[str, Any]] = [
    ("bench.0.date", None),
    ("bench.0.date", "2026-5-2"),
    ("bench.0.date", "2026-02-30"),
    ("bench.0.date", 20260502),
    ("bench.0.time", "25:00:00"),
    ("bench.0.time", "10:30:00Z"),
    ("bench.0.grip", 12.1),
    ("bench.0.grip", []),
    ("bench.0.grip", ["12 bar", 12]),
    ("bench.0.grip", "12.1"),
    ("bench.0.grip", "bar"),
    ("bench.0.grip", True),
    ("bench.0.grips", "12 bar"),
    ("bench.0.each", "12 bar"),
    ("bench.0.each.wheel 1", "12 bar"),
    ("bench.0.each.01", "12 bar"),
    ("bench.0.each.a@b", "12 bar"),
    ("bench.0.share", []),
    ("bench.0.factor", "1.0"),
    ("bench.0.strokes", 4.5),
    ("bench.0.strokes", 0),
    ("bench.0.strokes", True),
    ("bench.0.layout", [1]),
    ("bench.0.state", "ajar"),
    ("bench.0.marks", "a"),
    ("bench.0.clean", "yes"),
    ("bench.0.since", "yesterday"),
    ("bench.0.pull", {}),
    ("bench.0.pull", {"1000 rpm": 20}),
    ("bench.0.pull", {"1000": "20 N m"}),
    ("bench.0.pull", {"1000 rpm": "20 N m +- 1"}),
    ("bench.0.trace.every", None),
    ("bench.0.trace.rate", 3),
    ("bench.0.trace.values", ["1 A"]),
    ("bench.0.points.0.load", None),
    ("bench.0.points.0.weight", "2 kN"),
    ("bench.0.device", ["2 mm"]),
    ("bench.0.note", 3),
    ("bench.0.note", "a\x1bb"),
    ("bench.0.id", "a#b"),
    ("bench.0.id", " a"),
    ("bench.0.unfinished", "yes"),
    ("bench.0.file", 3),
    ("bench.0.file", {"sha256": "0" * 64}),
    ("bench.0.file", [{"path": "a.jpg", "sha256": "12"}]),
    ("bench.0.file", {"path": "a.jpg", "size": 3}),
    ("bench.0.instrument", 3),
    ("bench.0.instrument", {"grips": "g"}),
    ("bench.0.u", {"grips": "0.1 bar"}),
    ("bench.0.u", {"grip": 0.1}),
    ("bench.0.u", {"points": {"lode": "3 N"}}),
    ("bench", {"date": "2026-05-02"}),
    ("bank", []),
    ("name", "two\nlines"),
    ("as_of", "soon"),
    ("vehicle.tnk", "61 L"),
    ("vehicle.base_torque_logged", "190 N m"),
    ("plan.use", "road"),
    ("plan.goal", "speed"),
    ("instrument.0.measures", "weight"),
    ("instrument.0.span", None),
    ("instrument.0.span", 25),
    ("instrument.0.class", 0),
    ("repair.0.treats", "leak"),
    ("repair.0.treats", ["leak@"]),
    ("repair.0.what", None),
    ("event.0.kind", None),
    ("waiver.0.until", None),
    ("waiver.0.where", "here"),
    ("void.0.date", None),
]


def changed(tables: Any, place: str, value: Any) -> Any:
    """Return a copy with one thing changed."""
    found = copy.deepcopy(tables)
    *way, last = place.split(".")
    inner = found
    for step in way:
        inner = inner[int(step)] if isinstance(inner, list) else inner.setdefault(step, {})
    if value is None:
        del inner[last]
    else:
        inner[last] = value
    return found


def test_the_sound_case_is_sound() -> None:
    read(SOUND)
    assert list(_generated().iter_errors(SOUND)) == []


@pytest.mark.parametrize(("place", "value"), BROKEN, ids=lambda value: str(value).encode("unicode_escape").decode())
def test_what_the_reader_refuses_the_schema_refuses(place: str, value: Any) -> None:
    broken = changed(SOUND, place, value)
    with pytest.raises(CaseError):
        read(broken)
    assert not _generated().is_valid(broken)


@pytest.mark.parametrize("place", [place for place, value in BROKEN if value is None and "trace" not in place])
def test_what_is_missing_while_a_table_is_unfinished_is_no_fault(place: str) -> None:
    name, at, _ = place.split(".", 2)
    written = changed(changed(SOUND, place, None), f"{name}.{at}.unfinished", True)
    read(written)
    assert list(_generated().iter_errors(written)) == []


def test_what_a_plugin_that_did_not_load_would_know_is_refused_by_nobody() -> None:
    absent = Catalogue(sections=CATALOGUE.sections, vehicle=CATALOGUE.vehicle, absent=("gone",))
    unknown = SOUND | {"further": [{"a": 1}], "vehicle": {"unheard_of": "x"}}
    assert checker("case", absent).is_valid(unknown)
    assert not _generated().is_valid(unknown)


# The register --------------------------------------------------------------------------------------------------------

#: Objects whose keys are ids, or depend on the plugins.
FREE = ("vehicle", "plan", "share", "quantities")


def objects(value: Any, place: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Yield the place of every object with fixed keys."""
    if isinstance(value, dict):
        if not (place and place[-1] in FREE):
            yield place
        elif place[-1] in FREE[:2]:
            return
        for key, inner in value.items():
            yield from objects(inner, (*place, key))
    elif isinstance(value, list):
        for at, inner in enumerate(value):
            yield from objects(inner, (*place, at))


def short(value: Any) -> Any:
    """Return the same with at most two objects in every list."""
    if isinstance(value, dict):
        return {key: short(inner) for key, inner in value.items()}
    if isinstance(value, list) and value and isinstance(value[0], dict):
        return [short(inner) for inner in value[:2]]
    return value


def shape(place: tuple[Any, ...]) -> tuple[Any, ...]:
    """Return what objects of one kind have in common."""
    return tuple("id" if i and place[i - 1] in FREE else step for i, step in enumerate(place) if isinstance(step, str))


def test_a_missing_or_renamed_key_of_a_register_is_seen(of_register: Draft202012Validator) -> None:
    seen: set[tuple[Any, ...]] = set()
    for found in (register(), demo(next(p for p in DEMOS if "hold" in p.stem))):
        data = short(found.to_dict())
        assert of_register.is_valid(data)
        for place in objects(data):
            if shape(place) in seen:
                continue
            seen.add(shape(place))
            target = data
            for step in place:
                target = target[step]
            for key in list(target):
                value = target.pop(key)
                assert not of_register.is_valid(data), (place, key, "missing")
                target[f"{key}s"] = value
                assert not of_register.is_valid(data), (place, key, "renamed")
                del target[f"{key}s"]
                target[key] = value
                target[f"{key}s"] = value
                assert not of_register.is_valid(data), (place, key, "too many")
                del target[f"{key}s"]
    kinds = ("risks", "not_looked_into", "findings", "ceilings", "gaps", "gates", "waivers", "plugin_failures")
    assert {(kind,) for kind in kinds} <= seen
    assert {("risks", "findings"), ("risks", "findings", "limit"), ("demand", "quantities", "id")} <= seen
    assert len(seen) > 30


def test_registers_with_nothing_in_them_conform(of_register: Draft202012Validator) -> None:
    for text in (CASE.partition("[vehicle]")[0], CASE.replace("base_torque_measured", "#"), 'name = "empty"'):
        assert list(of_register.iter_errors(register(text).to_dict())) == []
