"""Checking single declarations: complete, of the right types, and possible."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING, Any, get_args

from loadworthy.declarations import (
    MARKS,
    Broader,
    Cause,
    Field,
    Fields,
    Group,
    Hazard,
    Limit,
    Quantity,
    Rule,
    Section,
    SymptomSet,
    Variant,
    WorkshopTest,
)
from loadworthy.findings import GRADES
from loadworthy.host.shapes import (
    Choice,
    Each,
    Shape,
    Test,
    fault,
    flag,
    not_negative,
    number,
    number_text_or_none,
    positive,
    text,
    word,
)
from loadworthy.units import KINDS

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

#: Candidates of a symptom may sum to this (method, section 4).
MOST_CANDIDATES = 1.001
#: Field types whose values are of a unit kind.
_MEASURED = ("quantity", "curve", "series")
_HAZARDS = get_args(Hazard)
_TYPES = (*_MEASURED, "number", "count", "choice", "text", "flag", "date", "rows", "record")


def _id(x: Any) -> bool:
    return word(x) and not any(mark in x for mark in "@# \t\n")


def _local_id(x: Any) -> bool:
    return _id(x) and "." not in x


def _key(x: Any) -> bool:
    return word(x) and x.isidentifier()


def _kind(x: Any) -> bool:
    return text(x) and x in KINDS


def _kind_or_nothing(x: Any) -> bool:
    return text(x) and (x in ("", "number") or x in KINDS)


def _limit_kind(x: Any) -> bool:
    return text(x) and (x in ("number", "text") or x in KINDS)


def _prior(x: Any) -> bool:
    return number(x) and 0.0 < x < 1.0


def _weighted(x: Any) -> bool:
    return x.__class__ is tuple and len(x) == 2 and word(x[0]) and number(x[1]) and 0.0 < x[1] <= 1.0


def _range(x: Any) -> bool:
    if x.__class__ is not tuple or len(x) != 2 or not all(one is None or number(one) for one in x):
        return False
    return None in x or x[0] <= x[1]


def _range_or_none(x: Any) -> bool:
    return x is None or _range(x)


def _ranges_by(x: Any) -> bool:
    if x is None:
        return True
    if x.__class__ is not tuple or len(x) != 2 or not word(x[0]) or not isinstance(x[1], (dict, MappingProxyType)):
        return False
    return all(word(key) and _range(one) for key, one in x[1].items())


def _positive_or_none(x: Any) -> bool:
    return x is None or positive(x)


def _is_mapping(x: Any) -> bool:
    return x.__class__ is MappingProxyType


_ID = Test(_id, 'a text without spaces, "@" and "#"')
_LOCAL = Test(_local_id, 'a name without spaces, ".", "@" and "#"; the plugin\'s id is put before it')
_NAME = Test(_key, "a name of letters, digits and underscores")
_KIND = Test(_kind, "a unit kind")
_HAZARD = Choice(_HAZARDS)
_IDS = Each(_ID)
_RANGE = Test(_range_or_none, "(low, high) with low <= high, None where open, or None")
_U = Test(_positive_or_none, "a finite plain number above 0, or None")
_BANDS = Test(_is_mapping, "a mapping of band to likelihood ratios")
_PAIR = "a pair of cause and weight above 0, at most 1"
_SOURCE = Test(word, "the source in words; a limit without one cannot be defended")


def _is_field(x: Any) -> bool:
    return _FIELD(x)


_FIELD = Shape(
    Field,
    name=_NAME,
    type=Choice(_TYPES),
    text=text,
    kind=Test(_kind_or_nothing, "a unit kind, or nothing"),
    quantity=text,
    choices=Each(word),
    many=flag,
    nested=flag,
    per=text,
    required=flag,
    usual=_RANGE,
    usual_by=Test(_ranges_by, "(vehicle field, {its value: (low, high)}), or None"),
    possible=_RANGE,
    u=_U,
    u_relative=_U,
    caution=text,
    help=text,
    fields=Each(Test(_is_field, "a sound Field")),
)

_SHAPES = {
    shape.cls: shape
    for shape in (
        Shape(Fields, table=Choice(("vehicle", "plan")), fields=Each(_FIELD)),
        Shape(
            Section,
            id=_NAME,
            text=word,
            fields=Each(_FIELD),
            tests=_IDS,
            half_life_days=positive,
            half_life_km=positive,
            stale_after=positive,
            ended_by_any_event=flag,
            caution=text,
        ),
        Shape(
            Limit,
            name=_LOCAL,
            value=number_text_or_none,
            kind=Test(_limit_kind, "a unit kind, number or text"),
            worse=Choice(("above", "below", "outside", "setting")),
            text=text,
            source=_SOURCE,
            mark=Choice(MARKS),
            grade=Choice((*GRADES, None)),
            applies=text,
        ),
        Shape(Rule, name=_LOCAL, section=text, text=text, test=text, group=text, bands=_BANDS, source=text),
        Shape(
            Cause,
            id=_ID,
            text=word,
            prior=Test(_prior, "a probability above 0 and below 1"),
            severity=Choice((1, 2, 3, 4)),
            hazard=_HAZARD,
            driver=word,
            located=word,
            person=flag,
            capacity=flag,
            not_physical=flag,
            repair_hours=not_negative,
            cost_class=Choice((1, 2, 3, 4, 5)),
            remedy=text,
            retest=_IDS,
            excludes=_IDS,
            events=Each(word),
            variants=Each(Shape(Variant, limit=word, grade=Choice(GRADES), hazard=_HAZARD, person=flag)),
            waivable=flag,
            mark=Choice(MARKS),
        ),
        Shape(Broader, id=_ID, text=word, covers=_IDS, symptom=text),
        Shape(SymptomSet, id=_ID, text=word, candidates=Each(Test(_weighted, _PAIR)), when=text),
        Shape(
            WorkshopTest,
            id=_ID,
            text=word,
            minutes=not_negative,
            set_up=text,
            caution=text,
            before=_IDS,
            after=_IDS,
            spoils=_IDS,
            weak=flag,
        ),
        Shape(Quantity, id=_ID, kind=_KIND, text=word, role=Choice(("", "speed", "load"))),
        Shape(Group, id=word, text=word, per_sheet=flag),
    )
}


def declaration_faults(one: Any) -> Iterable[str]:
    """Return what is wrong with one declaration in itself."""
    shape = _SHAPES.get(one.__class__)
    if shape is None:
        return (f"an object of class {one.__class__.__name__} is no declaration",)
    if not shape(one):
        return (fault(shape, "", one),)
    further = _FURTHER.get(one.__class__)
    return further(one) if further is not None else ()


def _of_fields(one: Section | Fields) -> Iterable[str]:
    return _field_faults(one.fields, "")


def _field_faults(fields: Iterable[Field], place: str) -> Iterator[str]:
    seen: set[str] = set()
    for field in fields:
        name = f"{place}{field.name}"
        if field.name in seen:
            yield f"the field {name} stands twice"
        seen.add(field.name)
        if field.type in _MEASURED and not field.kind:
            yield f"the field {name} needs the unit kind of its values in kind"
        if (field.type == "choice") != bool(field.choices):
            yield f"the field {name} needs choices" if field.type == "choice" else f"the field {name} is no choice"
        if (field.type in ("rows", "record")) != bool(field.fields):
            yield f"the field {name} {'needs fields' if not field.fields else 'cannot have fields'}"
        if field.possible is not None and (field.usual is not None or field.usual_by is not None):
            usual = [field.usual] if field.usual else []
            usual += field.usual_by[1].values() if field.usual_by else []
            if not all(_within(one, field.possible) for one in usual):
                yield f"the usual range of the field {name} lies outside the possible one"
        if field.fields:
            yield from _field_faults(field.fields, f"{name}.")


def _within(inner: tuple[float | None, float | None], outer: tuple[float | None, float | None]) -> bool:
    low, high = outer
    return all((low is None or x >= low) and (high is None or x <= high) for x in inner if x is not None)


def _of_limit(one: Limit) -> Iterator[str]:
    if one.value is not None and (one.kind == "text") != isinstance(one.value, str):
        yield f"the value {one.value!r} is not of the kind {one.kind}"
    if one.worse == "setting" and one.grade is not None:
        yield "a setting has no grade"


def _of_rule(one: Rule) -> Iterator[str]:
    for band, ratios in one.bands.items():
        if not word(band) or not isinstance(ratios, (dict, MappingProxyType)):
            yield "bands must map the names of bands to mappings of cause to likelihood ratio"
            continue
        for cause, ratio in ratios.items():
            if not (_id(cause) and positive(ratio)):
                yield f"the likelihood ratio of {cause} in the band {band} is {ratio!r}; due is a finite number above 0"


def _of_cause(one: Cause) -> Iterator[str]:
    if one.id in one.excludes:
        yield "a cause cannot exclude itself"


def _of_symptom(one: SymptomSet) -> Iterator[str]:
    total = sum(weight for _, weight in one.candidates)
    if total > MOST_CANDIDATES:
        yield f"the weights of the candidates sum to {total:.6g}, more than 1"
    if len({cause for cause, _ in one.candidates}) != len(one.candidates):
        yield "a candidate stands twice"


_FURTHER: dict[type, Callable[[Any], Iterable[str]]] = {
    Section: _of_fields,
    Fields: _of_fields,
    Limit: _of_limit,
    Rule: _of_rule,
    Cause: _of_cause,
    SymptomSet: _of_symptom,
}
