from __future__ import annotations

from typing import Any, NamedTuple

import pytest
from attrs import NOTHING

from loadworthy.host import checks, declared, shapes
from loadworthy.host.shapes import Each, Shape, fault, number, show, text


class Pair(NamedTuple):
    a: str
    b: float = 0.0


def all_shapes(test: Any) -> list[Shape]:
    """Return a shape and all shapes within it."""
    if isinstance(test, Each):
        return all_shapes(test.item)
    return [test, *(inner for one in test.tests for inner in all_shapes(one))] if isinstance(test, Shape) else []


SHAPES = {
    shape.cls.__name__: shape
    for table in (checks._SHAPES, declared._SHAPES)
    for outer in table.values()
    for shape in all_shapes(outer)
}


@pytest.mark.parametrize("name", sorted(SHAPES))
def test_defaults_pass_their_own_tests(name: str) -> None:
    # Fields that hold their default are not tested each time, so it is done here.
    shape = SHAPES[name]
    assert len(shape.names) == len(shape._rows) > 1
    for field, (default, test) in zip(shape.names, shape._rows, strict=True):
        if default is not NOTHING and default is not shapes._NONE:
            assert test(default), f"{name}.{field}"


def test_shapes_and_classes_must_agree() -> None:
    with pytest.raises(TypeError, match="Pair and the tests differ in b"):
        Shape(Pair, a=text)
    with pytest.raises(TypeError, match="differ in c"):
        Shape(Pair, a=text, b=number, c=number)


def test_messages_lead_to_the_place() -> None:
    pairs = Each(Shape(Pair, a=text, b=number))
    assert pairs((Pair("x", 1.0), Pair("y")))
    assert fault(pairs, "pairs", (Pair("x"), Pair("y", True))) == "pairs[1].b is True; due is a finite plain number"
    assert fault(pairs, "pairs", None) == "pairs is None; due is a tuple"
    assert fault(pairs, "pairs", (("x", 1.0),)) == "pairs[0] is of class tuple; due is a Pair"


def test_showing_values() -> None:
    assert show("x" * 100) == "'" + "x" * 55 + " ..."
    assert show({1: 2}) == "of class dict"
    assert show(Pair("a")).startswith("of class ")
