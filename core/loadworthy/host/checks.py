"""Checking every value that a plugin returns, before anyone relies on it.

A result that fails is refused with a sentence that says what is wrong; the plugin's other results stay.
"""

from __future__ import annotations

from operator import lt
from typing import TYPE_CHECKING, Any

from loadworthy.case import Curve
from loadworthy.declarations import PLAN_CLASSES, Requirement
from loadworthy.findings import (
    GRADES,
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
from loadworthy.host.quick import is_sound
from loadworthy.host.shapes import (
    Choice,
    Each,
    Shape,
    Table,
    Test,
    fault,
    flag,
    not_negative,
    not_negative_or_none,
    number,
    number_or_text,
    number_text_or_none,
    numbers,
    positive,
    share,
    share_or_none,
    show,
    text,
    word,
    word_or_none,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from loadworthy.declarations import Catalogue

    _Key = tuple[str, str | None, str]

#: Weights beyond this many decibans are slips of the pen: a likelihood ratio of ten thousand million.
MOST_DB = 100.0
#: Sums of probabilities may pass 1 by rounding.
SLACK = 1e-9
#: A verdict below this probability is clean (method, section 2).
CLEAN_BELOW = 0.05
#: Candidates of a symptom may sum to this (method, section 4).
MOST_CANDIDATES = 1.001


def _db(x: Any) -> bool:
    return number(x) and -MOST_DB <= x <= MOST_DB


def _named(x: Any) -> bool:
    return x.__class__ is tuple and len(x) == 2 and word(x[0]) and word_or_none(x[1])


def _finding_key(x: Any) -> bool:
    return x is None or (x.__class__ is tuple and len(x) == 3 and word(x[0]) and word_or_none(x[1]) and text(x[2]))


def is_curve(x: Any) -> bool:
    """Whether it is a curve: as many finite values as speeds, and the speeds rise."""
    if x.__class__ is not Curve or not (numbers(x.speeds) and numbers(x.values)):
        return False
    speeds = x.speeds
    return 0 < len(speeds) == len(x.values) and all(map(lt, speeds, speeds[1:]))


def _number_or_curve(x: Any) -> bool:
    return x is None or number(x) or is_curve(x)


def _ceiling_value(x: Any) -> bool:
    return x == "as_received" or x == "standard" if x.__class__ is str else number(x) or is_curve(x)


_CURVE = "a Curve with rising speeds and as many finite values"
_AMOUNT = Test(_number_or_curve, f"a finite plain number, {_CURVE}, or None")
_GRADE = Choice(GRADES)
_STEPS = Each(Shape(Step, label=text, value=number_or_text, unit=text, formula=text, source=text))

_VERDICT = Shape(
    Verdict,
    grade=_GRADE,
    p_beyond=share,
    limit=text,
    value=number_text_or_none,
    unit=text,
    origin=text,
    needed_u=not_negative_or_none,
    default_p=share_or_none,
)
_WEIGHT = Shape(
    Weight,
    cause=word,
    subject=word_or_none,
    db=Test(_db, f"a plain number within {MOST_DB:g} decibans"),
    group=text,
)
_USED = Shape(Used, place=text, value=number_or_text, u=not_negative_or_none, unit=text)
_CANDIDATE = Shape(Candidate, cause=word, subject=word_or_none, weight=share)

_SHAPES = {
    shape.cls: shape
    for shape in (
        Shape(
            Finding,
            rule=word,
            sheet=text,
            subject=word_or_none,
            verdicts=Each(_VERDICT),
            text=text,
            unknown=text,
            bands=Table(share),
            weights=Each(_WEIGHT),
            names=Each(Test(_named, "a pair of cause and subject")),
            readings=Each(_USED),
            steps=_STEPS,
            max_grade=Choice((*GRADES, None)),
            accept=flag,
            clears=flag,
            maintenance=flag,
        ),
        Shape(
            Symptom,
            id=word,
            rule=word,
            sheet=text,
            p_beyond=share,
            subject=word_or_none,
            group=text,
            candidates=Each(_CANDIDATE),
            text=text,
        ),
        Shape(
            Capacity,
            cause=word,
            quantity=word,
            value=_AMOUNT,
            u=not_negative,
            subject=word_or_none,
            use_factor=positive,
            probability=Each(share),
            demonstrated=_AMOUNT,
            finding=text,
            text=text,
            until=text,
            source=text,
        ),
        Shape(
            Ceiling,
            name=word,
            quantity=word,
            value=Test(_ceiling_value, f"a finite plain number, {_CURVE}, as_received or standard"),
            reason=word,
            subject=word_or_none,
            kind=Choice(("hard", "advisory")),
            origin=Choice(("fault", "gap")),
            until=text,
            finding=Test(_finding_key, "(rule, subject, sheet) of a finding, or None"),
            row=text,
            outside=Choice(("as_received", "hold", "none")),
            basis=Choice(("", "demonstrated")),
            steps=_STEPS,
        ),
        Shape(Gap, id=word, text=word, required=flag, section=text, test=text, subject=word_or_none, write=text),
        Shape(
            Coverage,
            row=word,
            state=Choice(("met", "absent", "unknown", "refused", "stale", "not_applicable")),
            why=text,
            sheets=Each(word),
        ),
        Shape(Gate, id=word, state=Choice(("go", "no_go", "unknown")), text=word, why=text),
        Shape(AtLeast, plan_class=Choice(PLAN_CLASSES), reason=word),
        Shape(Advice, text=word, subject=word_or_none, test=text, sheet=text),
        Shape(
            Distortion,
            target=word,
            reason=word,
            action=Choice(("widen", "refuse")),
            widen_by=not_negative,
            widen_relative=not_negative,
        ),
        Shape(
            Requirement,
            id=word,
            text=word,
            levels=Table(Choice(("R", "A", "-"))),
            section=text,
            test=text,
            gate=flag,
            ceiling=Choice(("", "as_received")),
        ),
    )
}
#: What ``examine`` and ``review`` may return.
RESULTS = frozenset((Finding, Symptom, Capacity, Ceiling, Gap, Coverage, Gate, AtLeast, Advice))


class Inspector:
    """Checks the results of one hook of one plugin. ``allowed`` are the classes that the hook may return."""

    __slots__ = ("_allowed", "_catalogue", "_plugin", "_prefix")

    def __init__(self, plugin: str, allowed: Iterable[type], catalogue: Catalogue) -> None:
        self._plugin = plugin
        self._prefix = plugin + "."
        self._allowed = allowed
        self._catalogue = catalogue

    def sift(self, found: list[Any], good: list[Any], refused: list[str]) -> None:
        """Put what passes into ``good``, in order, and a sentence on everything else into ``refused``."""
        for at, one in enumerate(found, 1):
            kind = one.__class__
            shape = _SHAPES.get(kind) if kind in self._allowed else None
            if shape is None:
                due = ", ".join(sorted(cls.__name__ for cls in self._allowed))
                refused.append(f"result {at} is {show(one)}; due is one of {due}")
                continue
            try:
                sound = (kind is Finding and is_sound(one)) or shape(one)
                problem = "" if sound else fault(shape, "", one)
                if not problem and kind in _FURTHER:
                    problem = _FURTHER[kind](self, one)
            except Exception as error:
                problem = f"it cannot be checked ({type(error).__name__})"
            if problem:
                refused.append(f"result {at}, {_name(one)}, refused: {problem}")
            else:
                good.append(one)

    def _finding(self, one: Finding) -> str:
        if not one.rule.startswith(self._prefix):
            return f'a rule of this plugin has an id that begins with "{self._prefix}"'
        if not one.verdicts and not one.unknown:
            return "neither a verdict nor, in unknown, why there is none"
        if one.verdicts and one.unknown:
            return "both a verdict and a reason why there is none"
        if one.bands:
            if sum(one.bands.values()) > 1.0 + SLACK:
                return f"the probabilities of its bands sum to {sum(one.bands.values()):.6g}"
            rule = self._catalogue.rules.get(one.rule)
            if rule is not None and not one.bands.keys() <= rule.bands.keys():
                unknown = ", ".join(sorted(one.bands.keys() - rule.bands.keys()))
                return f"its rule declares no band {unknown}"
        return ""

    def _symptom(self, one: Symptom) -> str:
        if sum(candidate.weight for candidate in one.candidates) > MOST_CANDIDATES:
            return "the weights of its candidates sum to more than 1"
        if not one.candidates and one.id not in self._catalogue.symptoms:
            return f"no installed plugin declares the symptom {one.id}, so it must bring its candidates"
        return ""

    def _ceiling(self, one: Ceiling) -> str:
        if one.finding is not None and not one.finding[0].startswith(self._prefix):
            return f'its finding is none of this plugin\'s; their rules begin with "{self._prefix}"'
        return ""

    def _requirement(self, one: Requirement) -> str:
        if set(one.levels) != set(PLAN_CLASSES):
            return f"levels must name {', '.join(PLAN_CLASSES)} and nothing else"
        return ""


_FURTHER: dict[type, Callable[[Inspector, Any], str]] = {
    Finding: Inspector._finding,
    Symptom: Inspector._symptom,
    Ceiling: Inspector._ceiling,
    Requirement: Inspector._requirement,
}


def _name(one: Any) -> str:
    """Return class and id of a result, as far as they are texts."""
    id = next((getattr(one, key) for key in ("rule", "id", "name", "row", "cause", "target") if hasattr(one, key)), "")
    where = "".join(
        f"{mark}{part}"
        for mark, part in (("@", getattr(one, "subject", None)), ("#", getattr(one, "sheet", "")))
        if part and text(part)
    )
    return f"{type(one).__name__} {id}{where}" if text(id) and id else type(one).__name__


def finding_keys(results: Iterable[Any]) -> frozenset[_Key]:
    """Return rule, subject and sheet of every finding among the results."""
    return frozenset((one.rule, one.subject, one.sheet) for one in results if one.__class__ is Finding)


def without_twins(found: list[Any], refused: list[str], taken: frozenset[_Key] = frozenset()) -> list[Any]:
    """Leave out findings of one rule on one subject and sheet but the worst of each, which does not depend on order.

    ``taken`` are the keys of findings given before; those stay, whatever comes later.
    """
    best: dict[_Key, Finding] = {}
    twins = False
    for one in found:
        if one.__class__ is Finding:
            key = (one.rule, one.subject, one.sheet)
            other = best.get(key)
            if other is None and key not in taken:
                best[key] = one
                continue
            twins = True
            if other is not None and _badness(one) > _badness(other):
                best[key] = one
            kept = "the first is kept" if other is None else "the worst is kept"
            refused.append(f"{_name(one)} is given more than once; {kept}")
    if not twins:
        return found
    keep = {id(one) for one in best.values()}
    return [one for one in found if one.__class__ is not Finding or id(one) in keep]


def _badness(one: Finding) -> tuple[Any, ...]:
    """Order findings from clean over unknown to the gravest."""
    fired = [(float(GRADES.index(v.grade)), v.p_beyond) for v in one.verdicts if v.p_beyond >= CLEAN_BELOW]
    return (max(fired, default=(0.5 if one.unknown else 0.0, 0.0)), not one.clears, repr(one))
