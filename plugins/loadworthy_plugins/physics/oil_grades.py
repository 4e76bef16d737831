"""Grades of engine oil by SAE J300: bands of viscosity at 100 degC and least high-shear viscosity. Floats in SI.

Sources: SAE J300 (201304, 201501; a public reprint of the table for 16 to 60); grades 8 and 12: viscosities from
memory. The number is no temperature, and the W number says nothing about hot viscosity.
"""

from __future__ import annotations

from loadworthy.sdk import NamedTuple
from loadworthy_plugins.physics.viscosity import kv40_of_index

#: Hot grade: least (included) and greatest (excluded) viscosity at 100 degC, mm2/s, least high-shear viscosity, mPa s.
_HOT: dict[int, tuple[float, float, float]] = {
    8: (4.0, 6.1, 1.7),  # viscosities from memory
    12: (5.0, 7.1, 2.0),  # viscosities from memory
    16: (6.1, 8.2, 2.3),
    20: (6.9, 9.3, 2.6),
    30: (9.3, 12.5, 2.9),
    40: (12.5, 16.3, 3.7),
    50: (16.3, 21.9, 3.7),
    60: (21.9, 26.1, 3.7),
}
#: High-shear viscosity of a 40 with these W grades, mPa s.
_LIGHT_40 = (0, 5, 10)
_LIGHT_40_HTHS = 3.5
#: W grade: least viscosity at 100 degC, mm2/s.
_WINTER: dict[int, float] = {0: 3.8, 5: 3.8, 10: 4.1, 15: 5.6, 20: 5.6, 25: 9.3}
#: Viscosity index of a typical multigrade and of a typical monograde (judgement).
_INDEX_MULTI, _INDEX_MONO = 165.0, 100.0


class Grade(NamedTuple):
    """A grade: ``winter`` is None for a monograde, ``hot`` None for a W grade alone."""

    winter: int | None
    hot: int | None

    @property
    def name(self) -> str:
        """The grade as it stands on the can."""
        winter = "" if self.winter is None else f"{self.winter}W"
        return "-".join(filter(None, (winter, "" if self.hot is None else str(self.hot))))

    @property
    def band(self) -> tuple[float, float]:
        """Least (included) and greatest (excluded) viscosity at 100 degC, m2/s; infinite for a W grade alone."""
        if self.hot is None:
            return 1e-6 * _WINTER[self.winter or 0], float("inf")
        low, high, _ = _HOT[self.hot]
        return 1e-6 * low, 1e-6 * high

    @property
    def least_hths(self) -> float | None:
        """Least high-shear viscosity at 150 degC, Pa s; None for a W grade alone."""
        if self.hot is None:
            return None
        if self.hot == 40 and self.winter in _LIGHT_40:
            return 1e-3 * _LIGHT_40_HTHS
        return 1e-3 * _HOT[self.hot][2]


def read_grade(text: str) -> Grade:
    """Return the grade in a text such as ``5W-30``, ``SAE 10W40`` or ``SAE 30``.

    Raises ValueError where the text holds no grade of SAE J300.

    >>> read_grade("SAE 5W-30"), read_grade("sae 40"), read_grade("10w60").name
    (Grade(winter=5, hot=30), Grade(winter=None, hot=40), '10W-60')
    """
    words = text.upper().replace("SAE", " ").replace("W", "W ").replace("-", " ").replace("/", " ").split()
    winter: int | None = None
    hot: int | None = None
    for word in words[:2]:
        digits = word.removesuffix("W")
        if not (digits.isascii() and digits.isdigit()) or len(digits) > 2:
            break
        if word.endswith("W") and winter is None and hot is None and int(digits) in _WINTER:
            winter = int(digits)
        elif not word.endswith("W") and hot is None and int(digits) in _HOT:
            hot = int(digits)
        else:
            break
    else:
        if len(words) <= 2 and (winter is not None or hot is not None):
            return Grade(winter, hot)
    raise ValueError(f"{text!r} is no oil grade: write it as on the can, 5W-30")


def grades_of(kv100: float, hths150: float | None = None) -> tuple[int, ...]:
    """Return the hot grades whose band holds a viscosity at 100 degC (m2/s): several, for the low bands overlap.

    With the high-shear viscosity (Pa s) the highest of them whose least value is met (SAE J300, section 6, from
    memory); none where it is too low for all.

    >>> grades_of(8.0e-6), grades_of(8.0e-6, 2.4e-3)
    ((16, 20), (16,))
    """
    nu = 1e6 * kv100
    found = tuple(grade for grade, (low, high, _) in _HOT.items() if low <= nu < high)
    if hths150 is None:
        return found
    met = [grade for grade in found if 1e3 * hths150 >= _least(grade)]
    return (max(met),) if met else ()


def _least(grade: int) -> float:
    return _LIGHT_40_HTHS if grade == 40 else _HOT[grade][2]


def typical_viscosity(text: str) -> tuple[float, float]:
    """Return the viscosities at 40 and 100 degC, m2/s, of a typical oil of a grade: middle of its band (judgement).

    Raises ValueError where the text is no grade, or a W grade alone.

    >>> [round(1e6 * v, 2) for v in typical_viscosity("5W-30")]
    [63.21, 10.9]
    """
    grade = read_grade(text)
    if grade.hot is None:
        raise ValueError(f"{text!r} is a W grade alone: its hot viscosity is open")
    low, high = grade.band
    middle = (low + high) / 2.0
    return kv40_of_index(middle, _INDEX_MONO if grade.winter is None else _INDEX_MULTI), middle
