"""The base of the value classes: it does what attrs does, and attrs takes its classes for its own."""

from __future__ import annotations

import copy
import datetime
import pickle
from types import MappingProxyType
from typing import Any

import attrs
import pytest
from hypothesis import given
from hypothesis import strategies as st

from loadworthy import case, findings
from loadworthy.case import Reading, Sheet, Void
from loadworthy.declarations import Cause
from loadworthy.findings import Finding, Gap
from loadworthy.record import Record, evolve

DAY = datetime.date(2026, 5, 10)
CLASSES = sorted(Record.__subclasses__(), key=lambda cls: cls.__name__)


@pytest.mark.parametrize("cls", CLASSES, ids=lambda cls: cls.__name__)
def test_attrs_knows_every_class(cls: type[Any]) -> None:
    """Names, order and defaults are those of the annotations; attrs would make the same class of them."""
    assert attrs.has(cls)
    described = attrs.fields(cls)
    assert [one.name for one in described] == list(cls.__annotations__)
    required = [one.name for one in described if one.default is attrs.NOTHING]
    # What is required comes first, so that it can be given by position.
    assert required == [one.name for one in described][: len(required)]
    assert attrs.fields(cls) is described


def test_the_base_is_no_attrs_class() -> None:
    assert not attrs.has(Record)
    assert {Sheet, Finding, Cause} <= set(CLASSES)


def test_by_position_and_by_name() -> None:
    one = Void("s", "typed wrongly", "A", DAY)
    assert one == Void(date=DAY, who="A", why="typed wrongly", sheet="s")
    assert (one.sheet, one.who) == ("s", "A")
    assert hash(one) == hash(copy.deepcopy(one))
    assert repr(one) == f"Void(sheet='s', why='typed wrongly', who='A', date={DAY!r}, unfinished=False)"
    assert one != Void("t", "typed wrongly", "A", DAY)
    assert one != ("s", "typed wrongly", "A", DAY)


@pytest.mark.parametrize(
    ("args", "named", "words"),
    [
        ((), {}, "lacks id, text"),
        (("a",), {}, "lacks text"),
        (("a", "b"), {"text": "c"}, "got text twice"),
        (("a", "b"), {"colour": "red"}, "no field colour"),
        (tuple("abcdefghijk"), {}, "but 11 were given"),
        (("a",), {"colour": "red"}, "no field colour"),
    ],
)
def test_wrong_arguments_are_type_errors(args: tuple[Any, ...], named: dict[str, Any], words: str) -> None:
    with pytest.raises(TypeError, match=words):
        Gap(*args, **named)


def test_nothing_can_be_changed() -> None:
    one = Reading(1.0)
    with pytest.raises(attrs.exceptions.FrozenInstanceError):
        one.value = 2.0
    with pytest.raises(attrs.exceptions.FrozenInstanceError):
        del one.value
    with pytest.raises(attrs.exceptions.FrozenInstanceError):
        one.more = 2.0
    given_values = {"level": one}
    sheet = Sheet("bench", "s", DAY, given_values)
    given_values["level"] = Reading(9.0)
    assert sheet.values == {"level": one}
    assert isinstance(sheet.values, MappingProxyType)


@pytest.mark.parametrize("change", [evolve, attrs.evolve])
def test_evolve(change: Any) -> None:
    sheet = Sheet("bench", "s", DAY, {"level": 1})
    other = change(sheet, id="t", values={"level": 2})
    assert (other.id, other.values["level"], other.date, sheet.id) == ("t", 2, DAY, "s")
    with pytest.raises(TypeError, match="colour"):
        change(sheet, colour="red")


def test_copies_and_pickles_are_equal() -> None:
    one = Cause("worn", "worn", 0.1, 3, "load", retest=("look",))
    for again in (copy.copy(one), copy.deepcopy(one), pickle.loads(pickle.dumps(one))):
        assert again == one
        with pytest.raises(attrs.exceptions.FrozenInstanceError):
            again.prior = 0.9


@given(st.data())
def test_it_takes_what_the_same_attrs_class_takes(data: st.DataObject) -> None:
    twin = attrs.make_class(
        "Twin", {one.name: attrs.field(default=one.default) for one in attrs.fields(Gap)}, frozen=True
    )
    names = [one.name for one in attrs.fields(Gap)]
    args = data.draw(st.lists(st.text(max_size=2), max_size=len(names) + 1))
    named = data.draw(st.dictionaries(st.sampled_from(["id", "text", "other", names[-1]]), st.text(max_size=2)))
    try:
        expected: Any = attrs.asdict(twin(*args, **named))
    except TypeError:
        expected = TypeError
    try:
        found: Any = dict(Gap(*args, **named).items())
    except TypeError:
        found = TypeError
    assert found == expected


def test_modules_of_the_model_define_records() -> None:
    for module in (case, findings):
        mine = [one for one in vars(module).values() if isinstance(one, type) and issubclass(one, Record)]
        assert len(mine) > 5
