"""The base of the frozen value classes.

They are attrs classes: `attrs.fields`, `attrs.evolve` and `attrs.has` work on them, and a type checker reads them as
such. What attrs would generate for every class when it is defined is written once here, and its own description of a
class is made when somebody asks for it: for fifty classes that would cost a quarter of the start-up time.
"""

from __future__ import annotations

from operator import itemgetter
from types import FunctionType, MappingProxyType
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from typing import NamedTuple, TypeVar

    from attrs import field, frozen

    R = TypeVar("R", bound="Record")
else:
    try:
        from _collections import _tuplegetter
    except ImportError:  # as the standard library does without it

        def _tuplegetter(index, doc):
            return property(itemgetter(index), doc=doc)

    class _FieldOf:
        """What follows the name of a field in the body of a class, where a plain default would not do."""

        __slots__ = ("converter", "default")

        def __init__(self, default, converter):
            self.default, self.converter = default, converter

    _REQUIRED = object()

    def field(*, default=_REQUIRED, converter=None):
        """Describe a field as `attrs.field` does."""
        return _FieldOf(default, converter)

    def frozen(*, eq, repr, slots):
        """Make a frozen class of the annotations in its body, as `attrs.frozen` does; `Record` brings the rest."""
        assert (eq, repr, slots) == (False, False, False)
        return _make

    def _make(cls):
        names = tuple(cls.__annotations__)
        cls._names_, cls._name_set_, cls._defaults_, cls._converters_ = names, set(names), {}, []
        for name in names:
            if name in cls.__dict__:
                given = cls.__dict__[name]
                delattr(cls, name)
                if given.__class__ is not _FieldOf:
                    cls._defaults_[name] = given
                    continue
                if given.default is not _REQUIRED:
                    cls._defaults_[name] = given.default
                cls._converters_.append((name, given.converter))
        return cls

    class _Tuple(tuple):
        """What all named tuples share; as in `collections.namedtuple`."""

        __slots__ = ()

        @classmethod
        def _make(cls, iterable):
            found = tuple.__new__(cls, iterable)
            if len(found) != len(cls._fields):
                raise TypeError(f"Expected {len(cls._fields)} arguments, got {len(found)}")
            return found

        def _replace(self, /, **changes):
            found = self._make(map(changes.pop, self._fields, self))
            if changes:
                raise ValueError(f"Got unexpected field names: {list(changes)!r}")
            return found

        def _asdict(self):
            return dict(zip(self._fields, self, strict=True))

        def __getnewargs__(self):
            return tuple(self)

        def __repr__(self):
            body = ", ".join(f"{name}={value!r}" for name, value in zip(self._fields, self, strict=True))
            return f"{self.__class__.__name__}({body})"

    #: Constructor by number of fields; each class has its own with the names of its fields.
    _TEMPLATES = {}

    def _constructor(fields, defaults):
        """Return ``__new__`` of a named tuple: the standard library compiles one for every class, this one a size."""
        template = _TEMPLATES.get(len(fields))
        if template is None:
            names = "".join(f", _{at}" for at in range(len(fields)))
            template = eval(
                f"lambda _cls{names}: _new(_cls, ({names[2:]}{',' * bool(fields)}))", {"_new": tuple.__new__}
            )
            _TEMPLATES[len(fields)] = template
        code = template.__code__.replace(co_varnames=("_cls", *fields), co_name="__new__")
        return FunctionType(code, template.__globals__, "__new__", defaults)

    class _TupleMaker(type):
        """Makes named tuples as `typing.NamedTuple` does, without compiling annotations and constructors anew.

        A hundred small classes made the usual way cost more than reading and judging a case.
        """

        def __new__(cls, name: str, bases: tuple[type, ...], body: dict[str, Any]) -> type:
            fields = tuple(body.get("__annotations__", ()))
            defaults = {field: body.pop(field) for field in fields if field in body}
            if fields[len(fields) - len(defaults) :] != tuple(defaults):
                raise TypeError(f"a field without default follows one with a default in {name}")
            body.pop("__dict__", None)
            body |= {field: _tuplegetter(at, f"Alias for field number {at}") for at, field in enumerate(fields)}
            body |= {
                "__slots__": (),
                "__new__": _constructor(fields, tuple(defaults.values())),
                "__match_args__": fields,
                "_fields": fields,
                "_field_defaults": defaults,
            }
            return type(name, (_Tuple,), body)

    class _NamedTuple:
        """Stands among the bases of a class statement for the maker above."""

        def __mro_entries__(self, bases: tuple[object, ...]) -> tuple[type, ...]:
            return (_TUPLE,)

    _TUPLE = type.__new__(_TupleMaker, "NamedTuple", (), {})
    NamedTuple = _NamedTuple()

__all__ = ["EMPTY", "NamedTuple", "Record", "evolve", "field", "frozen", "frozen_mapping"]

EMPTY: Mapping[str, Any] = MappingProxyType({})


class _Description:
    """``__attrs_attrs__`` of a class: what attrs itself would hold there, made when it is first asked for."""

    def __get__(self, _: object, cls: type[Record]) -> Any:
        if cls is Record:
            raise AttributeError("the base has no fields")
        import attrs

        made = attrs.make_class(cls.__name__, {name: _described(cls, name) for name in cls._names_}, frozen=True)
        cls.__attrs_attrs__ = attrs.fields(made)
        return cls.__attrs_attrs__


def _described(cls: type[Record], name: str) -> Any:
    import attrs

    converter = dict(cls._converters_).get(name)
    return attrs.field(
        default=cls._defaults_.get(name, attrs.NOTHING), converter=converter, type=cls.__annotations__[name]
    )


class Record:
    """A frozen value: equal to another of its class with equal fields."""

    if TYPE_CHECKING:
        _names_: tuple[str, ...]
        _defaults_: Mapping[str, Any]
        _converters_: tuple[tuple[str, Callable[[Any], Any]], ...]

    __attrs_attrs__: Any = _Description()

    if not TYPE_CHECKING:

        def __init__(self, *args, **kwargs):
            """Take the fields in their order or by name."""
            cls, held = self.__class__, self.__dict__
            held.update(cls._defaults_)
            held.update(zip(cls._names_, args, strict=False))  # too many are told below
            if kwargs:
                held.update(kwargs)
            if held.keys() != cls._name_set_ or (args and (len(args) > len(held) or _doubled(cls, args, kwargs))):
                raise TypeError(_misuse(cls, args, kwargs))
            for name, convert in cls._converters_:
                held[name] = convert(held[name])

    def __setattr__(self, name: str, _: Any) -> None:
        """Refuse."""
        raise _frozen_error()

    def __delattr__(self, name: str) -> None:
        """Refuse."""
        raise _frozen_error()

    def items(self) -> tuple[tuple[str, Any], ...]:
        """Return the fields in their order, each with its value."""
        return tuple((name, self.__dict__[name]) for name in self._names_)

    def __eq__(self, other: object) -> bool:
        """Compare field by field."""
        if other.__class__ is not self.__class__:
            return NotImplemented
        return self.__dict__ == other.__dict__

    def __hash__(self) -> int:
        """Hash by value; mappings and other unhashable fields make the record unhashable, as usual."""
        return hash((self.__class__, self.items()))

    def __repr__(self) -> str:
        """Show the class and those fields that differ from nothing."""
        body = ", ".join(f"{n}={v!r}" for n, v in self.items() if v is not None and v != () and v != "")
        return f"{self.__class__.__name__}({body})"


def evolve(record: R, **changes: Any) -> R:
    """Return a copy with some fields changed, as `attrs.evolve` does. Raises TypeError for a name that is no field."""
    return record.__class__(**{**record.__dict__, **changes})


def _doubled(cls: type[Record], args: tuple[Any, ...], kwargs: Mapping[str, Any]) -> bool:
    return bool(kwargs) and not kwargs.keys().isdisjoint(cls._names_[: len(args)])


def _misuse(cls: type[Record], args: tuple[Any, ...], kwargs: Mapping[str, Any]) -> str:
    """Say what is wrong with the arguments of a constructor."""
    names = cls._names_
    if len(args) > len(names):
        return f"{cls.__name__}() takes {len(names)} arguments but {len(args)} were given"
    unknown = [name for name in kwargs if name not in names]
    if unknown:
        return f"{cls.__name__}() has no field {', '.join(unknown)}; fields are {', '.join(names)}"
    doubled = [name for name in names[: len(args)] if name in kwargs]
    if doubled:
        return f"{cls.__name__}() got {', '.join(doubled)} twice"
    missing = [name for name in names[len(args) :] if name not in kwargs and name not in cls._defaults_]
    return f"{cls.__name__}() lacks {', '.join(missing)}"


def _frozen_error() -> AttributeError:
    from attrs.exceptions import FrozenInstanceError

    return FrozenInstanceError()


def frozen_mapping(value: Mapping[Any, Any]) -> Mapping[Any, Any]:
    """Return a read-only view of a private copy (attrs converter)."""
    if isinstance(value, MappingProxyType):
        return value
    return MappingProxyType(dict(value))
