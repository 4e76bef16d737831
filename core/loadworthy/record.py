"""The base of the frozen value classes.

``attrs`` writes the constructors; comparison and display are written once here instead of being generated
for every class, because generating them for fifty classes costs a quarter of the start-up time.
"""

from __future__ import annotations

from collections import namedtuple
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Mapping
    from typing import NamedTuple
else:

    class _TupleMaker(type):
        """Makes named tuples as `typing.NamedTuple` does, without compiling every annotation.

        The annotations of this package are text; typing compiles each of them, which for a hundred small tuples costs
        more than reading and judging a case.
        """

        def __new__(cls, name: str, bases: tuple[type, ...], body: dict[str, Any]) -> type:
            fields = tuple(body.get("__annotations__", ()))
            defaults = [body.pop(field) for field in fields if field in body]
            made = namedtuple(name, fields, defaults=defaults, module=body["__module__"])
            for key, value in body.items():
                if key not in ("__module__", "__dict__", "__weakref__"):
                    setattr(made, key, value)
            return made

    class _NamedTuple:
        """Stands among the bases of a class statement for the maker above."""

        def __mro_entries__(self, bases: tuple[object, ...]) -> tuple[type, ...]:
            return (_TUPLE,)

    _TUPLE = type.__new__(_TupleMaker, "NamedTuple", (), {})
    NamedTuple = _NamedTuple()

__all__ = ["EMPTY", "NamedTuple", "Record", "frozen_mapping"]

EMPTY: Mapping[str, Any] = MappingProxyType({})


class Record:
    """Value semantics for frozen attrs classes: equal when of one class with equal fields."""

    __slots__ = ()

    def _values(self) -> tuple[Any, ...]:
        return tuple(getattr(self, a.name) for a in self.__attrs_attrs__)  # type: ignore[attr-defined]

    def __eq__(self, other: object) -> bool:
        """Compare field by field."""
        if other.__class__ is not self.__class__:
            return NotImplemented
        assert isinstance(other, Record)
        return self._values() == other._values()

    def __hash__(self) -> int:
        """Hash by value; mappings and other unhashable fields make the record unhashable, as usual."""
        return hash((self.__class__, self._values()))

    def __repr__(self) -> str:
        """Show the class and those fields that differ from nothing."""
        names = (a.name for a in self.__attrs_attrs__)  # type: ignore[attr-defined]
        shown = ((n, getattr(self, n)) for n in names)
        body = ", ".join(f"{n}={v!r}" for n, v in shown if v is not None and v != () and v != "")
        return f"{self.__class__.__name__}({body})"


def frozen_mapping(value: Mapping[Any, Any]) -> Mapping[Any, Any]:
    """Return a read-only view of a private copy (attrs converter)."""
    if isinstance(value, MappingProxyType):
        return value
    return MappingProxyType(dict(value))
