"""The oil in the sump on the day of a sheet: how viscous it is at any temperature, and how well that is known."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from loadworthy.sdk import NamedTuple
from loadworthy_plugins.physics.oil_grades import typical_viscosity
from loadworthy_plugins.physics.viscosity import T40, T100, ViscosityLine, density, dynamic_viscosity, line_through
from loadworthy_plugins.shared_results import number

if TYPE_CHECKING:
    from collections.abc import Mapping

    from loadworthy.sdk import Case, Sheet

#: Density at 15 degC where nobody gives one, kg/m3 (judgement).
DENSITY = 855.0
#: Relative standard uncertainty of the dynamic viscosity by origin (judgement).
U_BY_BASIS = {"used": 0.03, "measured": 0.03, "data_sheet": 0.07, "grade_typical": 0.15}
#: A sample further away than this says nothing about the oil of another sheet (judgement: half the half-life).
BELONGS_WITHIN_DAYS = 90
#: Repairs of these causes put other oil into the engine.
_OIL_CHANGED = (
    "oil-too-thin",
    "oil-too-thick",
    "oil-wrong-grade",
    "oil-overdue-or-degraded",
    "fuel-dilution",
    "coolant-in-oil",
    "oil-dirty-low-or-wrong-grade",
    "oil-sludge",
    "dirt-ingestion",
)


class Oil(NamedTuple):
    """Oil of known viscosity. ``basis``: ``used`` (the sump's own, measured), ``measured``, ``data_sheet`` or
    ``grade_typical``; ``fresh``: it was changed just before, so that its data sheet is the sump's own.
    """

    line: ViscosityLine
    basis: str
    density15: float = DENSITY
    fresh: bool = False
    source: str = ""

    @property
    def measured(self) -> bool:
        """Whether the viscosity in the sump is known by measurement, or the oil was changed just before."""
        return self.basis == "used" or (self.fresh and self.basis in ("measured", "data_sheet"))

    @property
    def u_relative(self) -> float:
        """Relative standard uncertainty of the viscosity."""
        return U_BY_BASIS[self.basis]

    def mu(self, temperature: float) -> float:
        """Return the dynamic viscosity at a temperature, Pa s."""
        return dynamic(self.line, temperature, self.density15)


def dynamic(line: ViscosityLine, temperature: float, density15: float = DENSITY) -> float:
    """Return the dynamic viscosity of an oil at a temperature, Pa s."""
    return dynamic_viscosity(line.at(temperature), density(density15, temperature))


def oil_of(sheet: Sheet, case: Case) -> Oil | None:
    """Return the oil in the sump on the day of a sheet: by its own figures, else by those of the sample beside it."""
    fresh = sheet.get("oil_changed_for_test") is True
    own = _from(sheet.values, fresh)
    if own is not None and own.basis == "used":
        return own
    if not fresh:
        sample = sample_of(sheet, case)
        if sample is not None:
            other = _from(sample.values, False)
            if other is not None and (own is None or U_BY_BASIS[other.basis] < U_BY_BASIS[own.basis]):
                return other._replace(source=sample.id)
    return own


def sample_of(sheet: Sheet, case: Case) -> Sheet | None:
    """Return the oil sample nearest in time, with no change of oil between; of equally near ones the last."""
    best, least = None, BELONGS_WITHIN_DAYS
    for sample in case.of("oil_sample"):
        days = abs((sample.date - sheet.date).days)
        if days <= least and not oil_changed_between(case, sheet, sample):
            best, least = sample, days
    return best


def oil_changed_between(case: Case, one: Sheet, other: Sheet) -> bool:
    """Tell whether the oil may have been changed between two sheets."""
    first, last = sorted((one.date, other.date))
    changes = [r for r in case.repairs if any(t.what in _OIL_CHANGED for t in r.treats)]
    if first == last:
        return bool([r for r in changes if r.date == first]) and one.retest_of != other.retest_of
    if any(first <= r.date <= last for r in changes):
        return True
    fresh = [s for s in case.of("oil_pressure") if s.get("oil_changed_for_test") is True]
    return any(first <= s.date <= last and s.id != one.id for s in fresh)


def _from(values: Mapping[str, Any], fresh: bool) -> Oil | None:
    density15 = number(values.get("density15")) or DENSITY
    kv40, kv100 = number(values.get("kv40")), number(values.get("kv100"))
    basis = str(values.get("kv_basis") or "data_sheet")
    grade = values.get("oil_grade_filled")
    fresh_line = line(kv40, kv100)
    typical = typical_line(grade) if isinstance(grade, str) else None
    used = used_line(values, fresh_line or typical)
    if used is not None:
        return Oil(used, "used", density15, fresh)
    if fresh_line is not None:
        return Oil(fresh_line, basis, density15, fresh)
    if typical is not None:
        return Oil(typical, "grade_typical", density15, fresh)
    return None


def used_line(values: Mapping[str, Any], like: ViscosityLine | None) -> ViscosityLine | None:
    """Return the line of the used oil; from its viscosity at 100 degC alone with the slope of the fresh one."""
    used40, used100 = number(values.get("used_kv40")), number(values.get("used_kv100"))
    found = line(used40, used100)
    if found is None and used100 is not None and like is not None:
        return like.through(T100, used100)
    return found


def line(kv40: float | None, kv100: float | None) -> ViscosityLine | None:
    """Return the line through the viscosities at 40 and 100 degC; None where they are missing or no oil's."""
    if kv40 is None or kv100 is None or kv40 <= kv100:
        return None
    return line_through(T40, kv40, T100, kv100)


def typical_line(grade: str) -> ViscosityLine | None:
    """Return the line of a typical oil of a grade; None where the text is no grade."""
    try:
        kv40, kv100 = typical_viscosity(grade)
    except ValueError:
        return None
    return line(kv40, kv100)


def latest_oil(case: Case) -> Oil | None:
    """Return the oil by the latest sheet that says anything about it."""
    found = None
    for sheet in case.of("oil_pressure", "oil_sample"):
        found = _from(sheet.values, sheet.get("oil_changed_for_test") is True) or found
    return found
