"""What every capacity is compared in: plan over speed, agreed fuel, air of the place, fuel system."""

from __future__ import annotations

from math import hypot, inf
from typing import TYPE_CHECKING, Any, Final

from loadworthy.sdk import Capacity, Ceiling, Curve, Finding, NamedTuple, p_above
from loadworthy_plugins.modifications.entry import ID
from loadworthy_plugins.physics.fuels import FUELS, petrol_blend
from loadworthy_plugins.shared_demand import along
from loadworthy_plugins.shared_results import number, reading_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from loadworthy.sdk import Case, Demand, Limits, Result, Step, Used
    from loadworthy_plugins.modifications.inventory import Inventory, Part

#: Ambient pressure where the case gives none, Pa.
STANDARD_PRESSURE: Final = 101_325.0
#: Fuel pressures above this are those of direct injection, Pa.
DIRECT_ABOVE: Final = 2e6
#: Base torque above this share of its peak is compared with the plan (method, section 5).
_COMPARED_ABOVE: Final = 0.2
_REFERENCED: Final = ("return_referenced", "returnless_variable")


class Fuel(NamedTuple):
    """The fuel agreed on at its highest ethanol: air need, density, and its mass over that of the demand's fuel.

    ``kind`` is petrol, diesel, gas or alcohol.
    """

    air: float
    density: float
    factor: float
    kind: str

    @property
    def diesel(self) -> bool:
        """Whether it is diesel."""
        return self.kind == "diesel"


class Level(NamedTuple):
    """A demanded quantity at the plan, with its standard uncertainty and upper edge."""

    value: float
    u: float
    high: float


class Setting(NamedTuple):
    """One case with its inventory, ready to be compared. ``demand`` None: only what needs no demand is judged."""

    case: Case
    demand: Demand | None
    limits: Limits
    found: Inventory
    fuel: Fuel

    def at_plan(self, quantity: str, i: int) -> Level | None:
        """Return what the plan asks for at the i-th speed; None where the demand does not tell."""
        band = self.demand.quantities.get(quantity) if self.demand is not None else None
        if self.demand is None or band is None:
            return None
        steps, plan = self.demand.torque[i], self.demand.plan[i]
        # The plan is one of the load steps.
        at = min(range(len(steps)), key=lambda k: abs(steps[k] - plan))
        low, high = band.low[i][at], band.high[i][at]
        return Level(band.nominal[i][at], max(0.0, high - low) / 4.0, high)

    def limit(self, name: str) -> float:
        """Return the number of one of this check's limits."""
        return self.limits[ID + name].number

    @property
    def speeds(self) -> tuple[float, ...]:
        """Speeds of the demand, rev/s."""
        return self.demand.speeds if self.demand is not None else ()

    @property
    def rises(self) -> bool:
        """Whether the plan asks for so much more than today that figures nobody has are an unknown capacity."""
        demand = self.demand
        if demand is None:
            return False
        if demand.base is None:
            return True
        floor = _COMPARED_ABOVE * max(demand.base, default=0.0)
        ratios = [
            p / b if b > floor else inf for p, b in zip(demand.plan, demand.base, strict=True) if p > max(b, floor)
        ]
        return max(ratios, default=0.0) > self.limit("capacity_unknown_above")

    @property
    def cylinders(self) -> int | None:
        """Number of cylinders, as stated."""
        count = self.case.vehicle.get("cylinder_count")
        return int(count) if count else None

    @property
    def ambient(self) -> float:
        """Ambient pressure of the place, Pa."""
        return number(self.case.vehicle.get("ambient_pressure")) or STANDARD_PRESSURE

    @property
    def direct(self) -> bool:
        """Whether the fuel is injected into the cylinder."""
        system = self.case.vehicle.get("fuel_system")
        if system is not None or self.fuel.diesel:
            return bool(system == "direct" or self.fuel.diesel)
        parts = self.found.of("injector")
        return any((number(p.row.get("flow_pressure")) or 0.0) > DIRECT_ABOVE for p in parts)

    @property
    def referenced(self) -> bool:
        """Whether the fuel pressure follows the manifold's; not stated: no, which is the worse one."""
        told = [p.row["referenced"] for p in self.found.of("fuel_regulator", "fuel_pump") if "referenced" in p.row]
        if told:
            return all(told)
        return self.case.vehicle.get("fuel_system") in _REFERENCED

    @property
    def voltage(self) -> float | None:
        """Loaded voltage by the latest sheet that gives it (the lowest of that day)."""
        given = [(s.date, number(s.get("loaded_voltage"))) for s in self.found.sheets if s.get("loaded_voltage")]
        last = max((day for day, _ in given), default=None)
        return min((v for day, v in given if day == last and v is not None), default=None)

    def boost(self, i: int) -> float | None:
        """Return the manifold pressure above ambient at the plan, Pa, never below none; None where unknown."""
        level = self.at_plan("manifold_pressure", i)
        if level is not None:
            return max(0.0, level.high - self.ambient)
        return 0.0 if self.case.vehicle.get("induction") == "none" else None

    def set_pressure(self) -> float | None:
        """Return the fuel pressure set, Pa gauge, by regulator, pump or injector; the lowest that is told."""
        parts = self.found.of("fuel_regulator", "fuel_pump")
        told = [number(p.row.get("set_pressure")) for p in parts]
        if not self.direct:
            told += [number(p.row.get("rail_pressure")) for p in self.found.of("injector")]
        return min((p for p in told if p is not None), default=None)


def agreed_fuel(case: Case) -> Fuel:
    """Return the fuel of the plan at its highest ethanol, and how much more of it by mass the demand must count."""
    vehicle = case.vehicle
    name = vehicle.get("fuel") or "petrol_e0"
    row = FUELS[name]
    share = vehicle.get("ethanol_fraction")
    if share is None:
        share = row.ethanol_fraction
    air = number(vehicle.get("afr_stoich"))
    density = number(vehicle.get("fuel_density"))
    if row.kind in ("petrol", "alcohol") and share is not None:
        now = petrol_blend(share)
        air, density = air or now.stoichiometric_air, density or now.density
    air, density = air or row.stoichiometric_air, density or row.density or 745.0
    # The name permits what the tank of one day need not hold.
    permitted = max(share or 0.0, row.ethanol_fraction or 0.0)
    stated = number(case.plan.get("ethanol_max"))
    highest = permitted if stated is None else stated
    if share is None or highest <= share:
        return Fuel(air, density, 1.0, row.kind)
    richest = petrol_blend(highest)
    return Fuel(richest.stoichiometric_air, richest.density, max(1.0, air / richest.stoichiometric_air), row.kind)


def value(row: Mapping[str, Any], key: str) -> tuple[float, float] | None:
    """Return a figure of a part with its standard uncertainty; None where it is not given."""
    found = row.get(key)
    reading = reading_of(found)
    if reading is not None:
        return reading.value, reading.u or 0.0
    plain = number(found)
    return None if plain is None else (plain, 0.0)


def relative(*shares: float) -> float:
    """Return relative standard uncertainties in quadrature (JCGM 100:2008, 5.1)."""
    return hypot(*shares)


class Use(NamedTuple):
    """What a part gives at every speed, and how much of it the plan takes.

    ``value`` and ``u``: capacity in the quantity of the demand, over speed. ``used`` and ``u_used``: what is held to
    the limits, over speed.
    """

    value: tuple[float, ...]
    u: tuple[float, ...]
    used: tuple[float, ...]
    u_used: tuple[float, ...]


def over_speed(rows: Sequence[tuple[float, float, float, float]]) -> Use:
    """Return the use from its four figures at each speed."""
    value, u, used, u_used = zip(*rows, strict=True)
    return Use(value, u, used, u_used)


def worst(limits: Limits, names: Sequence[str], use: Use) -> int:
    """Return the index of the speed at which the gravest limit is exceeded most surely."""
    limit = limits[ID + names[-1]]

    def badness(i: int) -> tuple[float, float]:
        y, u = use.used[i], use.u_used[i]
        far = (y - limit.number) if limit.worse == "above" else (limit.number - y)
        return limit.judge(y, u).p_beyond, far

    return max(range(len(use.used)), key=lambda i: (*badness(i), -i))


def judged(
    s: Setting,
    rule: str,
    names: Sequence[str],
    part: Part,
    use: Use,
    quantity: str,
    text: str,
    until: str,
    cause: str = "",
    factor: float = 1.0,
    steps: tuple[Step, ...] = (),
    readings: tuple[Used, ...] = (),
    sure: bool = True,
) -> Iterator[Result]:
    """Return the finding of a use, the ceiling tied to it and, with a cause, the capacity.

    ``factor``: what the plan takes of the quantity is this much more than the demand says. Not ``sure``: something was
    taken that nobody states, so that nothing is cleared.
    """
    i = worst(s.limits, names, use)
    key = (ID + rule, part.name, part.sheet_id)
    found = tuple(s.limits[ID + name].judge(use.used[i], use.u_used[i]) for name in names)
    at = f" at {60.0 * s.speeds[i]:.0f} rpm" if s.speeds else ""
    words = f"{text}: {use.used[i]:.3g}{at}"
    yield Finding(
        key[0],
        part.sheet_id,
        part.name,
        verdicts=found,
        text=words,
        steps=steps,
        readings=readings,
        clears=sure and part.status != "conflicting",
    )
    curve = Curve(s.speeds, tuple(v / factor for v in use.value))
    yield Ceiling(rule, quantity, curve, text, subject=part.name, until=until, outside="hold", finding=key, steps=steps)
    if cause:
        yield Capacity(
            cause,
            quantity,
            Curve(s.speeds, use.value),
            max(use.u),
            use_factor=factor,
            probability=_too_small(s, quantity, use, factor),
            finding=f"{key[0]}@{part.name}#{part.sheet_id}",
            text=text,
            until=until,
            source="figures of the inventory",
        )


def _too_small(s: Setting, quantity: str, use: Use, factor: float) -> tuple[float, ...]:
    """Return P(capacity < demand) at every speed: each has an uncertainty of its own."""
    found = []
    for i, (most, u) in enumerate(zip(use.value, use.u, strict=True)):
        level = s.at_plan(quantity, i)
        if level is None:
            return ()
        found.append(p_above(level.value * factor, hypot(level.u * factor, u), most))
    return tuple(found)


def at_standard(s: Setting, quantity: str) -> Curve | None:
    """Return what a quantity is at the maker's torque, over speed; None where that torque or quantity is unknown."""
    demand = s.demand
    band = demand.quantities.get(quantity) if demand is not None else None
    if demand is None or band is None or demand.standard is None:
        return None
    values = []
    for steps, row, torque in zip(demand.torque, band.high, demand.standard, strict=True):
        values.append(along(steps, row, torque))
    return Curve(demand.speeds, tuple(values))


def unknown_capacity(s: Setting, cause: str, quantity: str, text: str, until: str) -> Capacity:
    """Return a capacity that nobody knows: held to what the maker's own full load asks of it."""
    return Capacity(
        cause, quantity, demonstrated=at_standard(s, quantity), text=text, until=until, source="figures missing"
    )
