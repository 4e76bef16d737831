"""Describing what a value must look like, so that one table serves both the quick check and the message.

Only exact types pass: a subclass could carry code of the plugin's own into the core. Numbers are finite.
"""

from __future__ import annotations

from math import isfinite
from operator import attrgetter
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from loadworthy.record import NamedTuple

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

_SHOWN = 60
#: Stands for the default of a field that has none.
_NONE: Any = object()


def text(x: Any) -> bool:
    """Whether it is a text."""
    return x.__class__ is str


def word(x: Any) -> bool:
    """Whether it is a text that is not empty."""
    return x.__class__ is str and x != ""


def word_or_none(x: Any) -> bool:
    """Whether it is a text that is not empty, or None."""
    return x is None or (x.__class__ is str and x != "")


def flag(x: Any) -> bool:
    """Whether it is True or False."""
    return x is True or x is False


def number(x: Any) -> bool:
    """Whether it is a finite number."""
    return (x.__class__ is float or x.__class__ is int) and isfinite(x)


def not_negative(x: Any) -> bool:
    """Whether it is a finite number of at least 0."""
    return number(x) and x >= 0


def positive(x: Any) -> bool:
    """Whether it is a finite number above 0."""
    return number(x) and x > 0


def share(x: Any) -> bool:
    """Whether it is a number from 0 to 1."""
    return (x.__class__ is float or x.__class__ is int) and 0.0 <= x <= 1.0


def number_or_text(x: Any) -> bool:
    """Whether it is a finite number or a text."""
    return x.__class__ is str or number(x)


def number_text_or_none(x: Any) -> bool:
    """Whether it is a finite number, a text or None."""
    return x is None or x.__class__ is str or number(x)


def not_negative_or_none(x: Any) -> bool:
    """Whether it is a finite number of at least 0, or None."""
    return x is None or not_negative(x)


def share_or_none(x: Any) -> bool:
    """Whether it is a number from 0 to 1, or None."""
    return x is None or share(x)


def numbers(x: Any) -> bool:
    """Whether it is a tuple of finite numbers."""
    return x.__class__ is tuple and all(map(number, x))


#: What to write, for every test that has no words of its own.
_DUE: dict[Any, str] = {
    text: "a text",
    word: "a text that is not empty",
    word_or_none: "a text that is not empty, or None",
    flag: "True or False",
    number: "a finite plain number",
    not_negative: "a finite plain number of at least 0",
    positive: "a finite plain number above 0",
    share: "a plain number from 0 to 1",
    number_or_text: "a finite plain number or a text",
    number_text_or_none: "a finite plain number, a text or None",
    not_negative_or_none: "a finite plain number of at least 0, or None",
    share_or_none: "a plain number from 0 to 1, or None",
    numbers: "a tuple of finite plain numbers",
}


class Choice:
    """One of a few words (or numbers)."""

    __slots__ = ("words",)

    def __init__(self, words: Iterable[Any]) -> None:
        self.words = tuple(words)

    def __call__(self, x: Any) -> bool:
        """Whether it is one of the words."""
        return x.__class__ in (str, int, None.__class__) and x in self.words

    @property
    def due(self) -> str:
        """What to write."""
        return "one of " + ", ".join(word if isinstance(word, str) and word else repr(word) for word in self.words)


class Each:
    """A tuple of things that all pass one test."""

    __slots__ = ("item",)

    def __init__(self, item: Any) -> None:
        self.item = item

    def __call__(self, x: Any) -> bool:
        """Whether it is such a tuple."""
        return x.__class__ is tuple and (not x or all(map(self.item, x)))

    def fault(self, place: str, x: Any) -> str:
        """Say what is wrong."""
        if x.__class__ is not tuple:
            return f"{place} is {show(x)}; due is a tuple"
        return next((fault(self.item, f"{place}[{at}]", one) for at, one in enumerate(x) if not self.item(one)), "")


class Table:
    """A read-only mapping from texts to things that pass one test."""

    __slots__ = ("item",)

    def __init__(self, item: Any) -> None:
        self.item = item

    def __call__(self, x: Any) -> bool:
        """Whether it is such a mapping."""
        if x.__class__ is not MappingProxyType:
            return False
        return not x or (all(map(word, x)) and all(map(self.item, x.values())))

    def fault(self, place: str, x: Any) -> str:
        """Say what is wrong."""
        if x.__class__ is not MappingProxyType:
            return f"{place} is {show(x)}; due is a mapping"
        for key, value in x.items():
            if not word(key):
                return f"{place} has the key {show(key)}; due is a text"
            if not self.item(value):
                return fault(self.item, f"{place}[{key}]", value)
        return ""


class Shape:
    """An object of exactly one class, with a test for each of its fields, by name.

    A field that holds its default is not tested: most do, and the class has chosen it.
    """

    __slots__ = ("_read", "_rows", "cls", "names", "tests")

    def __init__(self, cls: type, **tests: Any) -> None:
        made: Any = cls  # a named tuple or a record: each knows its fields and their defaults
        if issubclass(cls, tuple):
            defaults: dict[str, Any] = dict.fromkeys(made._fields, _NONE) | made._field_defaults
        else:
            defaults = {name: made._defaults_.get(name, _NONE) for name in made._names_}
        if defaults.keys() != tests.keys():
            raise TypeError(f"{cls.__name__} and the tests differ in {', '.join(defaults.keys() ^ tests.keys())}")
        self.cls = cls
        self.names = tuple(defaults)
        self.tests: tuple[Callable[[Any], bool], ...] = tuple(tests[name] for name in self.names)
        self._rows = tuple(zip(defaults.values(), self.tests, strict=True))
        self._read: Callable[[Any], Iterable[Any]] = iter if issubclass(cls, tuple) else attrgetter(*self.names)

    def __call__(self, x: Any) -> bool:
        """Whether it is such an object."""
        if x.__class__ is not self.cls:
            return False
        for value, (default, test) in zip(self._read(x), self._rows, strict=True):
            if value is not default and not test(value):
                return False
        return True

    def fault(self, place: str, x: Any) -> str:
        """Say what is wrong."""
        if x.__class__ is not self.cls:
            return f"{place or 'it'} is {show(x)}; due is a {self.cls.__name__}"
        for name, value, (default, test) in zip(self.names, self._read(x), self._rows, strict=True):
            if value is not default and not test(value):
                return fault(test, f"{place}.{name}" if place else name, value)
        return ""


class Test(NamedTuple):
    """A test with words of its own."""

    test: Callable[[Any], bool]
    due: str

    def __call__(self, x: Any) -> bool:
        """Whether it passes."""
        return self.test(x)


def fault(test: Any, place: str, x: Any) -> str:
    """Return what is wrong with ``x``, which does not pass ``test``, in words."""
    if hasattr(test, "fault"):
        return str(test.fault(place, x))
    due = _DUE.get(test) or test.due
    return f"{place} is {show(x)}; due is {due}"


def show(x: Any) -> str:
    """Return a value in short for a message, its class where it is no simple value."""
    if x is None or x.__class__ in (str, int, float, bool):
        shown = repr(x)
        return shown if len(shown) <= _SHOWN else f"{shown[: _SHOWN - 4]} ..."
    name = f"{x.__class__.__module__}.{x.__class__.__name__}".removeprefix("builtins.")
    return f"of class {name}"
