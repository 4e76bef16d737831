"""From the case to what the model takes: engine, air, and how far the stated figures can be trusted."""

from __future__ import annotations

from math import hypot
from typing import TYPE_CHECKING, Any

from loadworthy.sdk import Assumption, NamedTuple, Reading
from loadworthy_plugins.load_demand import defaults
from loadworthy_plugins.load_demand.formulas import crank_figure
from loadworthy_plugins.load_demand.point import Breathing, Engine
from loadworthy_plugins.load_demand.uncertainty import (
    TEMPERATURE_U,
    TEMPERATURE_U_COOLER_UNKNOWN,
    power_u,
)
from loadworthy_plugins.physics.atmosphere import (
    STANDARD_PRESSURE,
    dry_pressure,
    standard_air,
    station_pressure,
)
from loadworthy_plugins.physics.compressor import DEFAULT_REFERENCE_PRESSURE, DEFAULT_REFERENCE_TEMPERATURE
from loadworthy_plugins.physics.fuels import FUELS, petrol_blend

if TYPE_CHECKING:
    from collections.abc import Mapping

    from loadworthy.sdk import Case

#: Ambient temperature (K) and relative humidity where none is stated (judgement).
USUAL_TEMPERATURE = 298.15
USUAL_HUMIDITY = 0.5
MEASURED_BASES = ("crank_measured", "wheel")


#: The working cycle that the model knows, assumed where none is stated.
COVERED_CYCLE = "four_stroke"
_CYCLES = {"two_stroke": "two-stroke engines", "rotary": "rotary engines"}


class Lack(NamedTuple):
    """Something that the case does not say: the model stops (``required``) or goes on with an assumption."""

    id: str
    text: str
    write: str
    required: bool = False


class Notes:
    """Assumptions made and things found lacking while the case is read."""

    __slots__ = ("assumptions", "lacks")

    def __init__(self) -> None:
        self.assumptions: list[Assumption] = []
        self.lacks: list[Lack] = []

    def assume(self, what: str, value: float | str, unit: str, why: str, u: float | None = None) -> None:
        """Write down, once, a value that was taken because none was given."""
        assumption = Assumption(what, value, unit, why, u)
        if assumption not in self.assumptions:
            self.assumptions.append(assumption)

    def lack(self, id: str, text: str, write: str, *, required: bool = False) -> None:
        """Write down what the case lacks and what to write."""
        self.lacks.append(Lack(id, text, write, required))

    @property
    def stopped(self) -> bool:
        """Whether something lacks without which there is no demand."""
        return any(lack.required for lack in self.lacks)


def number(table: Mapping[str, Any], name: str) -> float | None:
    """Value of a quantity or number field, None where it was not written."""
    value = table.get(name)
    if isinstance(value, Reading):
        return value.value
    return None if value is None else float(value)


def stated_u(table: Mapping[str, Any], name: str) -> float:
    """Relative standard uncertainty that a reading states, an uncertain unit included; 0 where none is known."""
    reading = table.get(name)
    if not isinstance(reading, Reading) or reading.value == 0.0:
        return 0.0
    u = reading.u
    if u is None:
        u = hypot(*(part for _, part in reading.u_parts)) if reading.u_parts else 0.0
    return u / abs(reading.value)


class FuelUse(NamedTuple):
    """The fuel as the model takes it: kind, air and heat per mass, factors on air need and filling, density."""

    kind: str
    stoichiometric_air: float
    lower_heating_value: float
    specific_factor: float
    filling_factor: float
    density: float | None = None


def read_fuel(case: Case, notes: Notes) -> FuelUse | None:
    """Fuel from the pump's name, a known ethanol share, and the vehicle's own figures if it has some."""
    name = case.vehicle.get("fuel")
    if name is None:
        notes.lack("load_demand.fuel", "fuel not stated: no demand", 'vehicle.fuel = "petrol_e10"', required=True)
        return None
    fuel = FUELS[name]
    air, heat, density = fuel.stoichiometric_air, fuel.lower_heating_value, fuel.density
    factor = 0.97 if fuel.kind == "alcohol" else 1.0
    if fuel.kind == "petrol":
        share = number(case.vehicle, "ethanol_fraction")
        if share is None:
            share = fuel.ethanol_fraction or 0.0
            if share:
                notes.assume("ethanol share", share, "1", "highest share of the fuel's name")
        blend = petrol_blend(share)
        air, heat, density = blend.stoichiometric_air, blend.lower_heating_value, blend.density
        factor = defaults.alcohol_air_factor(share)
    air = number(case.vehicle, "afr_stoich") or air
    heat = number(case.vehicle, "lower_heating_value") or heat
    density = number(case.vehicle, "fuel_density") or density
    return FuelUse(fuel.kind, air, heat, factor, defaults.GAS_FILLING.get(name, 1.0), density)


def read_engine(case: Case, notes: Notes) -> tuple[float, str, FuelUse, defaults.Choice] | None:
    """Displacement, induction, fuel and row of defaults; None with a required gap where one is unknown."""
    vehicle = case.vehicle
    cycle = vehicle.get("engine_cycle", COVERED_CYCLE)
    if cycle != COVERED_CYCLE:
        notes.lack(
            "load_demand.engine_cycle",
            f"the model is for four-stroke engines, not for {_CYCLES[cycle]}: no demand",
            "leave the plan to somebody who can compute it, or use a plugin that supplies demand for this engine",
            required=True,
        )
        return None
    displacement = number(vehicle, "displacement")
    if displacement is None:
        notes.lack(
            "load_demand.displacement",
            "displacement not stated: no demand",
            'vehicle.displacement = "1998 cm3"',
            required=True,
        )
    induction = vehicle.get("induction")
    if induction is None:
        notes.lack(
            "load_demand.induction",
            "not stated whether and how the engine is charged: no demand",
            'vehicle.induction = "none", "turbo", "supercharger" or "twin"',
            required=True,
        )
    fuel = read_fuel(case, notes)
    if displacement is None or induction is None or fuel is None:
        return None
    valves, phasing = vehicle.get("valves_per_cylinder"), vehicle.get("cam_phasing")
    choice = defaults.choose_row(fuel.kind, induction, valves, phasing)
    notes.assume("engine type", choice.row.text, "", choice.why)
    if valves is None and not (fuel.kind != "diesel" and induction == "supercharger"):
        notes.lack(
            "load_demand.valves_per_cylinder",
            "valves per cylinder not stated: the hungrier engine type is assumed",
            "vehicle.valves_per_cylinder = 4",
        )
    elif valves is not None and valves >= 4 and phasing is None and induction == "none" and fuel.kind != "diesel":
        notes.lack(
            "load_demand.cam_phasing",
            "cam phasing not stated: fixed cams are assumed",
            "vehicle.cam_phasing = true or false",
        )
    return displacement, induction, fuel, choice


class Surroundings(NamedTuple):
    """Air around the vehicle, and whether its pressure and temperature were stated rather than assumed."""

    pressure: float
    temperature: float
    stated: bool


def read_surroundings(case: Case, notes: Notes) -> Surroundings:
    """Station pressure and temperature. A pressure of unknown kind is not used: it may be 10 % wrong in the hills."""
    vehicle = case.vehicle
    stated, kind = number(vehicle, "ambient_pressure"), vehicle.get("ambient_pressure_kind")
    altitude = number(vehicle, "altitude")
    pressure = None
    if stated is not None and kind == "station":
        pressure = stated
    elif stated is not None and kind == "sea_level_reduced" and altitude is not None:
        pressure = station_pressure(stated, altitude)
    elif stated is not None:
        missing = "ambient_pressure_kind" if kind is None else "altitude"
        notes.lack(
            f"load_demand.{missing}",
            "ambient pressure not used: not known whether it was read at the place or reduced to sea level"
            if kind is None
            else "ambient pressure not used: reduced to sea level, and the altitude is not stated",
            'vehicle.ambient_pressure_kind = "station"' if kind is None else 'vehicle.altitude = "420 m"',
        )
    measured = pressure is not None
    if pressure is None and altitude is not None:
        pressure = standard_air(altitude).pressure
        notes.assume("ambient pressure", pressure, "Pa absolute", "standard atmosphere at the stated altitude", 1e3)
    elif pressure is None:
        pressure = STANDARD_PRESSURE
        notes.assume("ambient pressure", pressure, "Pa absolute", "standard atmosphere at sea level", 3e3)
    temperature = number(vehicle, "ambient_temperature")
    if temperature is None:
        measured = False
        temperature = USUAL_TEMPERATURE
        notes.assume("ambient temperature", temperature, "temperature", "usual day (judgement)", 7.0)
    return Surroundings(pressure, temperature, measured)


def read_breathing(case: Case, induction: str, air: Surroundings, notes: Notes) -> Breathing:
    """Charge cooling and intake losses; the flow at which the losses hold is set later."""
    charge = number(case.plan, "charge_temperature")
    temperature_u = TEMPERATURE_U
    effectiveness, cooling, cooler_drop = 0.0, air.temperature, 0.0
    if induction != "none":
        cooler = case.vehicle.get("charge_cooler")
        if cooler is None:
            notes.assume("charge cooler", "air_air", "", "not stated; charge temperature less certain")
            notes.lack(
                "load_demand.charge_cooler",
                "charge cooler not stated: an air-to-air one is assumed",
                'vehicle.charge_cooler = "none", "air_air" or "air_water"',
            )
            temperature_u = TEMPERATURE_U if charge is not None else TEMPERATURE_U_COOLER_UNKNOWN
        if cooler != "none":
            effectiveness, cooler_drop = defaults.COOLER_EFFECTIVENESS, defaults.COOLER_DROP
            notes.assume("cooler effectiveness", effectiveness, "1", "usual on the road (judgement)", 0.08)
            notes.assume("cooler pressure drop", cooler_drop, "Pa", "usual at rated flow (judgement)", 3e3)
            cooling = air.temperature + defaults.COOLING_AIR_WARMING
        if cooler == "air_water":
            coolant = number(case.vehicle, "charge_coolant_temperature")
            cooling = air.temperature + defaults.COOLANT_WARMING if coolant is None else coolant
            if coolant is None:
                notes.assume(
                    "charge coolant temperature", cooling, "temperature", "15 K above ambient (judgement)", 8.0
                )
        notes.assume("filter pressure drop", defaults.FILTER_DROP, "Pa", "usual at rated flow (judgement)", 1e3)
    temperature_u = max(temperature_u, stated_u(case.plan, "charge_temperature"))
    return Breathing(
        air.pressure,
        air.temperature,
        effectiveness,
        cooling,
        defaults.FILTER_DROP,
        cooler_drop,
        0.0,
        charge,
        temperature_u,
        number(case.vehicle, "compressor_map_temperature") or DEFAULT_REFERENCE_TEMPERATURE,
        number(case.vehicle, "compressor_map_pressure") or DEFAULT_REFERENCE_PRESSURE,
    )


def make_engine(
    read: tuple[float, str, FuelUse, defaults.Choice],
    mixture: float | None,
    torque_speed: float,
    power_speed: float,
) -> Engine:
    """Put the engine together once the speeds of its peaks are known."""
    displacement, induction, fuel, choice = read
    return Engine(
        displacement,
        induction,
        fuel.stoichiometric_air,
        fuel.lower_heating_value,
        choice,
        fuel.specific_factor,
        fuel.filling_factor,
        mixture,
        torque_speed,
        power_speed,
        fuel.density,
    )


class Trust(NamedTuple):
    """How stated torque and power become crank figures as observed, and how certain they are.

    ``scale`` multiplies a stated figure; ``factor`` is the correction taken out of it (1 if none), ``outside_rule``
    whether the rule allows no such factor; ``u`` is the relative standard uncertainty of the figure.
    """

    scale: float
    u: float
    basis: str
    rule: str
    factor: float = 1.0
    outside_rule: bool = False


def read_trust(
    case: Case, table: str, charged_spark: bool, air: Surroundings, notes: Notes, figure_u: float = 0.0
) -> Trust:
    """Trust in the figures of ``plan`` or ``vehicle``. Each table stands in for the other where one is silent."""
    first, second = (case.plan, case.vehicle) if table == "plan" else (case.vehicle, case.plan)
    basis = first.get("power_basis") or second.get("power_basis") or "unknown"
    rule = first.get("power_correction") or second.get("power_correction") or "unknown"
    scale = 1.0
    if basis == "wheel":
        loss = number(case.vehicle, "wheel_to_crank_loss")
        if loss is None:
            loss = _usual_loss(case, notes)
        scale = crank_figure(1.0, loss)
    factor, excess = 1.0, 0.0
    if charged_spark and basis in MEASURED_BASES and air.stated:
        factor, excess = _factor_of(case, rule, air, notes)
    return Trust(
        scale / factor,
        hypot(power_u(basis, rule != "unknown", figure_u), excess),
        basis,
        rule,
        factor,
        excess > 0.0,
    )


def _usual_loss(case: Case, notes: Notes) -> float:
    gearbox, layout = case.vehicle.get("gearbox_type"), case.vehicle.get("drive_layout")
    two_wheel = "manual" if gearbox == "manual" else "automatic"
    drive = two_wheel if layout in ("front", "rear") else "all_wheel"
    loss, limits = defaults.WHEEL_LOSS[drive]
    why = f"usual for {drive.replace('_', '-')} drive (common practice, no source)"
    if layout is None or (gearbox is None and drive != "all_wheel"):
        why += "; the larger loss, as gearbox or driven axles are not stated"
    notes.assume("loss from crank to wheel", loss, "1", why, limits / 3.0**0.5)
    return loss


def _factor_of(case: Case, rule: str, air: Surroundings, notes: Notes) -> tuple[float, float]:
    """Correction factor that the rule put on a figure in this air, and by how much it lies outside its window."""
    from loadworthy_plugins.physics import power_correction

    humidity = number(case.vehicle, "relative_humidity")
    if humidity is None:
        humidity = USUAL_HUMIDITY
        if rule in ("iso_1585", "sae_j1349", "j607_std"):
            notes.assume("relative humidity", humidity, "1", "not stated", 0.2)
    dry = dry_pressure(air.pressure, air.temperature, humidity)
    if rule == "iso_1585":
        correction = power_correction.iso_1585_spark(dry, air.temperature)
    elif rule == "sae_j1349":
        correction = power_correction.sae_j1349(dry, air.temperature)
    elif rule == "din_70020":
        correction = power_correction.din_70020(air.pressure, air.temperature)
    elif rule == "j607_std":
        correction = power_correction.j607_standard(dry, air.temperature)
    else:
        return 1.0, 0.0
    return correction.factor, correction.excess
