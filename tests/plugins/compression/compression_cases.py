"""Builders of cases for the tests of this check, and a view on what it makes of them."""

from __future__ import annotations

import datetime
from functools import lru_cache
from typing import TYPE_CHECKING, Any, NamedTuple

import loadworthy_plugins.compression as compression
import loadworthy_plugins.house_rules as house_rules
from loadworthy.assessing import assess
from loadworthy.case import Case
from loadworthy.findings import Advice, Ceiling, Coverage, Finding, Gap, Symptom
from loadworthy.host import Host
from loadworthy.house import House
from loadworthy.standing import judge
from loadworthy_plugins.compression.judging import judge_case

if TYPE_CHECKING:
    from collections.abc import Sequence

    from loadworthy.findings import Demand, Result
    from loadworthy.limits import Limits
    from loadworthy.register import Register

DAY = datetime.date(2026, 5, 4)

#: A petrol four: 500 ml a cylinder, ratio 10, closing 50 degrees late; it should read 14.3 bar, 12.2 to 16.9.
PETROL: dict[str, Any] = {
    "fuel": "petrol_e10",
    "cylinder_count": 4,
    "displacement": "1998 cm3",
    "compression_ratio": 10.0,
    "bore": "86 mm",
    "stroke": "86 mm",
    "rod_length": "143 mm",
    "intake_closing": "43 deg",
    "intake_closing_basis": "1mm",
    "cylinder_arrangement": "inline",
}
DIESEL: dict[str, Any] = {
    "fuel": "diesel_b7",
    "cylinder_count": 4,
    "displacement": "1968 cm3",
    "compression_ratio": 17.0,
    "bore": "81 mm",
    "stroke": "95.5 mm",
    "rod_length": "144 mm",
    "intake_closing": "28 deg",
    "intake_closing_basis": "1mm",
    "cylinder_arrangement": "inline",
}
GOOD: dict[str, Any] = {
    "compression_strokes": 6,
    "cranking_speed": "230 rpm",
    "throttle_state": "wide_open",
    "coolant_temp": "85 degC",
    "altitude": "0 m",
}
GOOD_LEAK: dict[str, Any] = {
    "leak_supply": "80 psi",
    "leak_orifice_diameter": "1.016 mm",
    "leak_orifice_cd": 0.85,
    "leak_tdc_held": True,
    "leak_engine_warm": True,
    "altitude": "0 m",
}


@lru_cache
def host() -> Host:
    return Host({"compression": compression, "house_rules": house_rules}, entry_points=False)


@lru_cache
def limits() -> Limits:
    return House().resolve(host().catalogue)


def bars(readings: Sequence[float | None]) -> dict[str, str]:
    return {str(i): f"{value} bar" for i, value in enumerate(readings, 1) if value is not None}


def dry(readings: Sequence[float | None], *, day: int = 0, **more: Any) -> dict[str, Any]:
    """Return a compression sheet under good conditions, bar by cylinder; ``None`` in ``more`` takes a field away."""
    values = {"date": DAY + datetime.timedelta(days=day), "dry_reading": bars(readings), **GOOD, **more}
    return {key: value for key, value in values.items() if value is not None}


def leak(losses: Sequence[float | None], *, day: int = 0, **more: Any) -> dict[str, Any]:
    """Return a leak-down sheet under good conditions: percent lost of 80 psi on a 1.016 mm jet, by cylinder."""
    held = {str(i): f"{80 * (1 - loss / 100)} psi" for i, loss in enumerate(losses, 1) if loss is not None}
    values = {"date": DAY + datetime.timedelta(days=day), "leak_cylinder": held, **GOOD_LEAK, **more}
    return {key: value for key, value in values.items() if value is not None}


def case(vehicle: dict[str, Any] | None = None, **tables: Any) -> Case:
    """Return a case: every keyword is a list of sheets, repairs or events."""
    data = {"name": "test", "as_of": DAY + datetime.timedelta(days=400), "vehicle": vehicle or PETROL, **tables}
    return Case.from_dict(data, catalogue=host().catalogue)


def refused(vehicle: dict[str, Any] | None = None, **tables: Any) -> str:
    """Return the words with which a case is refused."""
    from loadworthy.errors import CaseError

    try:
        case(vehicle, **tables)
    except CaseError as error:
        return str(error)
    raise AssertionError("the case was accepted")


class View(NamedTuple):
    """What the check returns for a case."""

    case: Case
    results: tuple[Result, ...]

    def finding(self, rule: str, subject: str | None = None, sheet: int = -1) -> Finding:
        """Return the finding of a rule at a subject; of several sheets the last by date."""
        found = [
            r
            for r in self.results
            if isinstance(r, Finding) and r.rule == f"compression.{rule}" and r.subject == subject
        ]
        assert found, f"no finding of {rule} at {subject}"
        return found[sheet]

    def has(self, rule: str, subject: str | None = None) -> bool:
        return any(
            isinstance(r, Finding) and r.rule == f"compression.{rule}" and r.subject == subject for r in self.results
        )

    def grade(self, rule: str, subject: str | None = None, sheet: int = -1) -> str:
        """Return the grade as the core makes it, ``unknown`` where the rule could not run or may not clear."""
        standing = judge("compression", self.finding(rule, subject, sheet))
        return standing.grade or "unknown"

    def accept(self, rule: str, subject: str | None = None) -> bool:
        return judge("compression", self.finding(rule, subject)).accept

    def grades(self, rule: str, count: int = 4) -> list[str]:
        return [self.grade(rule, f"cylinder {n}") for n in range(1, count + 1)]

    def symptoms(self) -> set[tuple[str, str | None]]:
        return {(r.id, r.subject) for r in self.results if isinstance(r, Symptom)}

    def symptom(self, id: str, subject: str | None = None) -> Symptom:
        return next(r for r in self.results if isinstance(r, Symptom) and r.id == id and r.subject == subject)

    def gaps(self) -> set[str]:
        return {r.id.removeprefix("compression.") for r in self.results if isinstance(r, Gap)}

    def advice(self) -> list[str]:
        return [r.text for r in self.results if isinstance(r, Advice)]

    def ceilings(self) -> dict[str, Ceiling]:
        return {r.name: r for r in self.results if isinstance(r, Ceiling)}

    def covered(self, row: str = "compression") -> Coverage:
        return next(r for r in self.results if isinstance(r, Coverage) and r.row == row)

    def step(self, label: str, rule: str, subject: str | None = None) -> Any:
        return next(s.value for s in self.finding(rule, subject).steps if s.label == label)


def look(vehicle: dict[str, Any] | None = None, demand: Demand | None = None, **tables: Any) -> View:
    made = case(vehicle, **tables)
    return View(made, judge_case(made, demand, limits()))


def register(vehicle: dict[str, Any] | None = None, *, days: int = 0, **tables: Any) -> Register:
    """Return the core's register of a case some days after the day of the sheets; no result may be refused."""
    found = assess(case(vehicle, **tables), host=host(), as_of=DAY + datetime.timedelta(days=days))
    assert not found.failures, found.failures
    return found


def belief(found: Register, cause: str, subject: str | None = None) -> Any:
    return next(b for b in found.beliefs if (b.cause, b.subject) == (cause, subject))


def ratio(found: Register, cause: str, subject: str | None, rule: str) -> float:
    """Return the likelihood ratio with which a rule speaks about a cause."""
    uses = [w for w in belief(found, cause, subject).weights if f"compression.{rule}" in w.finding]
    assert len(uses) == 1, uses
    return float(10 ** (uses[0].raw_db / 10))
