"""One session of leak-down, worked out: leak areas, what they cost at cranking speed, and where the air went."""

from __future__ import annotations

from math import sqrt
from typing import TYPE_CHECKING

from loadworthy.sdk import NamedTuple
from loadworthy_plugins.compression.conditions import Conditions, ambient, leak_conditions
from loadworthy_plugins.compression.cranking import (
    DIESEL_PATH,
    PETROL_PATH,
    Stroke,
    leak_sensitivity,
    peak_pressure,
    reading_ratio,
)
from loadworthy_plugins.compression.dry import cylinder_values
from loadworthy_plugins.compression.leakage import (
    ASSUMED_JET_DIAMETER,
    ASSUMED_JET_DISCHARGE,
    UNRESOLVED_LOSS,
    area_ratio,
    area_uncertainty,
    cylinder_from_loss,
    jet_area,
    jet_by_known_jet,
)
from loadworthy_plugins.physics.atmosphere import STANDARD_PRESSURE
from loadworthy_plugins.shared_results import number

if TYPE_CHECKING:
    from loadworthy.sdk import Reading, Sheet
    from loadworthy_plugins.compression.engine import Engine

#: Fixed reference of the leak limits: what 5 % on a 0.040 in jet at 80 psi stands for, m2.
REFERENCE_AREA = 0.30e-6
#: Cranking speed at which a leak is priced, rev/s.
PRICED_AT = 200.0 / 60.0
#: Relative standard uncertainty of the discharge coefficient: stated, and assumed (judgement).
_U_DISCHARGE, _U_ASSUMED_DISCHARGE = 0.02, 0.06
#: Relative standard uncertainty of a tester's gauge whose reading states none (judgement).
_U_GAUGE = 0.01


class Jet(NamedTuple):
    """The tester's jet: effective area (m2), its relative uncertainty, and whether anybody knows it."""

    area: float
    u: float
    known: bool
    diameter: float
    discharge: float


class LeakPlace(NamedTuple):
    """One cylinder's leak; None where something cannot be computed.

    ``share`` lost of the supply, ``area`` (m2) with ``u_area``, ``lost`` of the cranking compression against the fixed
    reference with ``u_lost``.
    """

    cylinder: int
    share: float | None
    u_share: float | None
    area: float | None
    u_area: float
    lost: float | None
    u_lost: float
    escapes: frozenset[str]
    refused: str

    @property
    def unresolved(self) -> bool:
        """Tell whether nearly everything is lost, so that no area can be told."""
        return self.share is not None and self.share >= UNRESOLVED_LOSS

    @property
    def listened(self) -> bool:
        """Tell whether somebody listened where the air goes."""
        return bool(self.escapes) and "not_checked" not in self.escapes

    @property
    def neighbours(self) -> tuple[int, ...]:
        """Cylinders at whose plug hole the air was heard."""
        return tuple(sorted(int(e.removeprefix("cylinder_")) for e in self.escapes if e.startswith("cylinder_")))


class LeakSet(NamedTuple):
    """A session of leak-down. ``stroke`` prices the leaks; None where the displacement is not known."""

    sheet: Sheet
    engine: Engine
    places: tuple[LeakPlace, ...]
    missing: tuple[int, ...]
    jet: Jet
    supply: float | None
    conditions: Conditions
    stroke: Stroke | None

    def place(self, cylinder: int) -> LeakPlace | None:
        """Return one cylinder's leak; None where it was not measured."""
        return next((p for p in self.places if p.cylinder == cylinder), None)

    @property
    def clears(self) -> bool:
        """Tell whether the session may clear anything: known jet, held at top dead centre, warm."""
        return self.jet.known and self.conditions.clear

    @property
    def best_share(self) -> float | None:
        """Smallest share lost of all cylinders."""
        return min((p.share for p in self.places if p.share is not None), default=None)

    def over_best(self, place: LeakPlace) -> float:
        """Return how much more of the supply a cylinder loses than the best one."""
        best = self.best_share
        return place.share - best if place.share is not None and best is not None else 0.0


def read_leak(sheet: Sheet, engine: Engine) -> LeakSet | None:
    """Work out one sheet of leak-down; None where it holds nothing about any cylinder."""
    held = cylinder_values(sheet, "leak_cylinder")
    percent = cylinder_values(sheet, "leak_percent")
    escapes = {int(k): frozenset(v) for k, v in (sheet.get("leak_escape") or {}).items() if str(k).isdigit()}
    named = sorted(n for n in {*held, *percent, *escapes} if n <= (engine.cylinders or 0))
    if not named:
        return None
    supply = sheet.reading("leak_supply")
    air = ambient(sheet) or STANDARD_PRESSURE
    jet = _jet(sheet, supply.value if supply is not None else None, air)
    stroke = None
    if engine.leaking is not None:
        path = DIESEL_PATH if engine.diesel else PETROL_PATH
        stroke = Stroke(engine.leaking, engine.leaking_closing, path, PRICED_AT)
    places = tuple(
        _place(n, supply, held.get(n), percent.get(n), air, jet, stroke, escapes.get(n, frozenset())) for n in named
    )
    measured = {p.cylinder for p in places if p.share is not None}
    return LeakSet(
        sheet=sheet,
        engine=engine,
        places=places,
        missing=tuple(n for n in engine.numbers if n not in measured),
        jet=jet,
        supply=supply.value if supply is not None else None,
        conditions=leak_conditions(sheet),
        stroke=stroke,
    )


def _jet(sheet: Sheet, supply: float | None, air: float) -> Jet:
    """Return the jet as stated, else as calibrated with a known 1.00 mm jet, else as assumed."""
    discharge = number(sheet.get("leak_orifice_cd"))
    u_discharge = _U_DISCHARGE if discharge is not None else _U_ASSUMED_DISCHARGE
    stated = sheet.reading("leak_orifice_diameter")
    diameter, u_diameter = None, 0.0
    if stated is not None:
        diameter, u_diameter = stated.value, (stated.u or 0.0) / stated.value
    else:
        known = number(sheet.get("known_jet_reading"))
        if known is not None and supply is not None and 0.0 < known < supply:
            diameter, u_diameter = jet_by_known_jet(area_ratio(supply + air, known + air, air)), 0.02
    size = diameter or ASSUMED_JET_DIAMETER
    coefficient = discharge or ASSUMED_JET_DISCHARGE
    u = sqrt((2.0 * u_diameter) ** 2 + u_discharge**2) if diameter else 0.25
    return Jet(jet_area(size, coefficient), u, diameter is not None, size, coefficient)


def _place(
    cylinder: int,
    supply: Reading | None,
    held: Reading | None,
    percent: Reading | None,
    air: float,
    jet: Jet,
    stroke: Stroke | None,
    escapes: frozenset[str],
) -> LeakPlace:
    share = u_share = area = lost = None
    u_area = u_lost = 0.0
    refused = "; ".join(r.refused for r in (supply, held, percent) if r is not None and r.refused)
    if percent is not None:
        share, u_share = percent.value, percent.u
    if supply is not None and supply.value > 0.0:
        u_supply = supply.u or _U_GAUGE * supply.value
        if held is not None:
            u_held = held.u or _U_GAUGE * supply.value
            share = max(0.0, 1.0 - held.value / supply.value)
            u_share = sqrt(u_held**2 + (u_supply * held.value / supply.value) ** 2) / supply.value
        if share is not None and share < UNRESOLVED_LOSS:
            p1 = supply.value + air
            p2 = cylinder_from_loss(p1, share, air)
            u_held = (held.u if held is not None else None) or (u_share or 0.02) * supply.value
            area = area_ratio(p1, p2, air) * jet.area
            u_area = area_uncertainty(p1, p2, air, jet=jet.area, u_supply=u_supply, u_cylinder=u_held, u_jet=jet.u)
    if area is not None and stroke is not None:
        lost, u_lost = priced(stroke, area, u_area)
    return LeakPlace(cylinder, share, u_share, area, u_area, lost, u_lost, escapes, refused)


def priced(stroke: Stroke, area: float, u_area: float) -> tuple[float, float]:
    """Return the cranking compression that a leak costs against the fixed reference, and its standard uncertainty.

    ``1 - ratio(area) / ratio(0.30 mm2)``; the slope of the ratio by its closed form.
    """
    reference = reading_ratio(stroke, REFERENCE_AREA)
    ratio = reading_ratio(stroke, area)
    sound = peak_pressure(stroke, 0.0) / stroke.ambient
    slope = leak_sensitivity(stroke) * (ratio + 1.0 / sound)
    # A large leak changes the reading little more: the slope holds for its remaining pressure only.
    return 1.0 - ratio / reference, max(1e-6, slope * u_area / reference)
