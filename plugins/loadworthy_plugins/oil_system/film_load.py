"""What the plan asks of the oil film: the demanded quantity ``film_load``, over speed and load."""

from __future__ import annotations

from math import hypot, pi
from typing import TYPE_CHECKING, Any

from loadworthy.sdk import Assumption, Band, NamedTuple, evolve
from loadworthy_plugins.oil_system.film import T150, film_index, high_shear_viscosity, least_index
from loadworthy_plugins.oil_system.heat import planned_temperature
from loadworthy_plugins.oil_system.oil import DENSITY, Oil, latest_oil, typical_line
from loadworthy_plugins.oil_system.rules_heat import read_steady
from loadworthy_plugins.physics.oil_grades import read_grade
from loadworthy_plugins.shared_results import number

if TYPE_CHECKING:
    from collections.abc import Callable

    from loadworthy.sdk import Case, Demand
    from loadworthy_plugins.oil_system.rules_heat import Steady

#: Relative standard uncertainty of a high-shear viscosity that was measured, and of one from the grade (judgement).
_U_MEASURED, _U_GRADE = 0.03, 0.07
#: Oil temperature where no steady run was made, K (judgement): the same for both engines, so it hardly matters.
_ASSUMED = 393.15


class Shear(NamedTuple):
    """High-shear viscosities: of the oil that the maker asks for and of the one in the sump, at 150 degC (Pa s)."""

    asked: float
    filled: float
    thinned: float
    u: float
    words: tuple[str, ...]


def shear_of(case: Case) -> Shear | None:
    """Return what is known of the high-shear viscosities; None where not even a grade is."""
    asked = _least(case.vehicle.get("oil_grade_spec"))
    filled, thinned, measured, words = None, 1.0, False, []
    for sheet in case.of("oil_sample", "oil_pressure"):
        own = number(sheet.get("hths150"))
        grade = _least(sheet.get("oil_grade_filled"))
        fresh, used = number(sheet.get("kv100")), number(sheet.get("used_kv100"))
        if own is not None or grade is not None:
            filled, measured = (own, True) if own is not None else (grade, False)
            thinned = 1.0
        if fresh and used:
            # Thickening by soot and oxidation carries no load: only thinning counts.
            thinned = min(1.0, used / fresh)
    if asked is None and filled is None:
        return None
    if asked is None or filled is None:
        known = asked if asked is not None else filled
        words.append(
            "high-shear viscosity of " + ("the filled oil" if filled is None else "the oil that the maker asks for")
        )
        return Shear(known or 0.0, known or 0.0, thinned, _U_GRADE, tuple(words))
    return Shear(asked, filled, thinned, hypot(_U_MEASURED if measured else _U_GRADE, _U_MEASURED), ())


def _least(grade: Any) -> float | None:
    if not isinstance(grade, str):
        return None
    try:
        return read_grade(grade).least_hths
    except ValueError:
        return None


def extended(case: Case, demand: Demand) -> Demand | None:
    """Return the demand with ``film_load``; None where oil or standard torque are not known."""
    shear = shear_of(case)
    curve = demand.standard if demand.standard is not None else demand.base
    if shear is None or curve is None or not any(t > 0.0 for t in curve):
        return None
    runs = [read_steady(sheet, case) for sheet in case.of("oil_heat")]
    run = next((r for r in reversed(runs) if r is not None and not r.why_not and r.power and _usable(r)), None)
    received = run.oil if run is not None else _ASSUMED
    oil = latest_oil(case)
    reference = least_index(
        lambda n, t: high_shear_viscosity(shear.asked, *_pair(oil, received)), zip(demand.speeds, curve, strict=True)
    )
    temperature = _temperatures(demand, run, received)

    def load(i: int, torque: float) -> float:
        mu = high_shear_viscosity(shear.filled, *_pair(oil, temperature(i, torque)), shear.thinned)
        return reference / film_index(mu, demand.speeds[i], torque)

    nominal = tuple(tuple(load(i, t) for t in row) for i, row in enumerate(demand.torque))
    low = tuple(tuple(x * max(0.0, 1.0 - 2.0 * shear.u) for x in row) for row in nominal)
    high = tuple(tuple(x * (1.0 + 2.0 * shear.u) for x in row) for row in nominal)
    return evolve(
        demand,
        quantities={**demand.quantities, "film_load": Band(low, nominal, high)},
        assumptions=(*demand.assumptions, *_assumptions(shear, run, demand)),
    )


def _usable(run: Steady) -> bool:
    return bool(run.sinks) and all(run.oil > sink for sink, _ in run.sinks)


def _pair(oil: Oil | None, temperature: float) -> tuple[float, float]:
    """Return the low-shear viscosities at a temperature and at 150 degC; of a typical oil where none is known."""
    known = oil if oil is not None else _typical()
    return known.mu(temperature), known.mu(T150)


def _typical() -> Oil:
    line = typical_line("5W-30")
    assert line is not None, "the table of grades holds it"
    return Oil(line, "grade_typical", DENSITY)


def _temperatures(demand: Demand, run: Steady | None, received: float) -> Callable[[int, float], float]:
    """Return the oil temperature over speed and torque: as received, or as the share of the planned power has it."""
    if run is None or run.power is None:
        return lambda i, torque: received
    peak = max(2.0 * pi * n * t for n, t in zip(demand.speeds, demand.plan, strict=True))
    steady, power = run, run.power

    def at(i: int, torque: float) -> float:
        share = torque / demand.plan[i] if demand.plan[i] > 0.0 else 0.0
        found = [planned_temperature(steady.oil, now, later, power, share * peak) for now, later in steady.sinks]
        return max(high for _, high in found)

    return at


def _assumptions(shear: Shear, run: Steady | None, demand: Demand) -> tuple[Assumption, ...]:
    out = [Assumption(words, "as the other one", "", "not given", None, "default") for words in shear.words]
    if run is None:
        why = "no steady run: taken as equal for both, which is optimistic"
        out.append(Assumption("oil temperature for the film", _ASSUMED, "temperature", why, None, "default"))
    if demand.standard is None:
        out.append(
            Assumption(
                "standard engine of the film index", "as received", "", "standard torque not given", None, "default"
            )
        )
    return tuple(out)
