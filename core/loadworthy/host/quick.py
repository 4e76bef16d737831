"""The check of findings written out: nearly all results are findings, and the tables of ``checks`` take thrice as long.

It only ever says that a finding is sound for certain. Whatever it does not recognise (whole numbers among them) goes to
the tables, which know what to say; a test holds the two against each other.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

from loadworthy.findings import GRADES, Step, Used, Verdict

if TYPE_CHECKING:
    from loadworthy.findings import Finding

_INFINITE = float("inf")


def is_sound(one: Finding) -> bool:
    """Whether every field is of its type and every number finite. ``one`` is exactly a Finding."""
    subject = one.subject
    if not (
        one.rule.__class__ is str
        and one.rule
        and one.sheet.__class__ is str
        and (subject is None or (subject.__class__ is str and subject))
        and one.text.__class__ is str
        and one.unknown.__class__ is str
        and (one.max_grade is None or (one.max_grade.__class__ is str and one.max_grade in GRADES))
        and (one.accept is True or one.accept is False)
        and (one.clears is True or one.clears is False)
        and (one.maintenance is True or one.maintenance is False)
        and one.weights == ()
        and one.names == ()
        and one.verdicts.__class__ is tuple
        and one.readings.__class__ is tuple
        and one.steps.__class__ is tuple
        and one.bands.__class__ is MappingProxyType
    ):
        return False
    for verdict in one.verdicts:
        if verdict.__class__ is not Verdict:
            return False
        grade, p, limit, value, unit, origin, needed_u, default_p = verdict
        if not (
            grade.__class__ is str
            and grade in GRADES
            and p.__class__ is float
            and 0.0 <= p <= 1.0
            and limit.__class__ is str
            and (value is None or (value.__class__ is float and -_INFINITE < value < _INFINITE))
            and unit.__class__ is str
            and origin.__class__ is str
            and (needed_u is None or (needed_u.__class__ is float and 0.0 <= needed_u < _INFINITE))
            and (default_p is None or (default_p.__class__ is float and 0.0 <= default_p <= 1.0))
        ):
            return False
    for step in one.steps:
        if step.__class__ is not Step:
            return False
        label, figure, unit, formula, source = step
        if not (
            label.__class__ is str
            and (figure.__class__ is str or (figure.__class__ is float and -_INFINITE < figure < _INFINITE))
            and unit.__class__ is str
            and formula.__class__ is str
            and source.__class__ is str
        ):
            return False
    for used in one.readings:
        if used.__class__ is not Used:
            return False
        place, figure, u, unit = used
        if not (
            place.__class__ is str
            and (figure.__class__ is str or (figure.__class__ is float and -_INFINITE < figure < _INFINITE))
            and (u is None or (u.__class__ is float and 0.0 <= u < _INFINITE))
            and unit.__class__ is str
        ):
            return False
    for name, p in one.bands.items() if one.bands else ():
        if not (name.__class__ is str and name and p.__class__ is float and 0.0 <= p <= 1.0):
            return False
    return True
