"""One point of the demand: at a speed and torque everything that the engine then takes, each with its range."""

from __future__ import annotations

from math import hypot, sqrt

from loadworthy.sdk import NamedTuple
from loadworthy_plugins.load_demand.chain import Chain, ChargeState, settle, state_at
from loadworthy_plugins.load_demand.defaults import (
    ASPIRATED_PRESSURE,
    ASPIRATED_PRESSURE_U,
    ASPIRATED_WARMING,
    INLET_WARMING,
    Choice,
    at_speed,
    compressor_efficiency,
)
from loadworthy_plugins.load_demand.formulas import (
    KWH,
    Flows,
    charge_density,
    diesel_flows,
    filling_needed,
    mean_pressure,
    power_of,
    spark_flows,
    torque_of_mean_pressure,
    work_density,
    work_per_air,
)
from loadworthy_plugins.load_demand.uncertainty import (
    ANCHORED_AIR_U,
    ANCHORED_TEMPERATURE_U,
    MIXTURE_U,
    Range,
    anchored_pressure_u,
    around,
    pressure_u,
)
from loadworthy_plugins.physics.atmosphere import R_AIR
from loadworthy_plugins.physics.compressor import (
    DEFAULT_REFERENCE_PRESSURE,
    DEFAULT_REFERENCE_TEMPERATURE,
    compressor_power,
    corrected_flow,
    isentropic_rise,
)


class Engine(NamedTuple):
    """The engine as the model knows it. ``induction`` as in the case; ``mixture`` is the stated full-load lambda.

    ``fuel_density`` at 15 degC, None for a gas.
    """

    displacement: float
    induction: str
    stoichiometric_air: float
    lower_heating_value: float
    choice: Choice
    specific_factor: float
    filling_factor: float
    mixture: float | None
    torque_speed: float
    power_speed: float
    fuel_density: float | None = None

    @property
    def charged(self) -> bool:
        """Whether anything compresses the charge."""
        return self.induction != "none"


class Breathing(NamedTuple):
    """Air, cooler and losses. The drops hold at ``rated_flow`` (kg/s) and go with the flow squared.

    ``map_temperature`` and ``map_pressure`` are the inlet state to which the compressor map is corrected.
    """

    ambient_pressure: float
    ambient_temperature: float
    effectiveness: float
    cooling_temperature: float
    filter_drop: float
    cooler_drop: float
    rated_flow: float
    charge_temperature: float | None
    temperature_u: float
    map_temperature: float = DEFAULT_REFERENCE_TEMPERATURE
    map_pressure: float = DEFAULT_REFERENCE_PRESSURE


class Figures(NamedTuple):
    """Defaults of the engine type at one speed, for its mixture: specific air and fuel kg/J, filling, efficiency."""

    specific_air: float
    specific_fuel: float
    mixture: float
    filling: float
    efficiency: float


class Anchor(NamedTuple):
    """What this car's own full-load log showed near a speed.

    ``work`` is kappa (J/kg) carried to the planned mixture, ``pressure`` and ``temperature`` the manifold's,
    ``shift`` the charge temperature above the computed one, ``specific_air`` (kg/J) measured if the flow was logged.
    """

    torque: float
    work: float
    pressure: float
    temperature: float
    shift: float
    work_u: float
    specific_air: float | None = None


class Demanded(NamedTuple):
    """What a point demands, low, nominal and high; what a bare engine has no use for is None."""

    torque: Range
    power: Range
    mean_pressure: Range
    air_flow: Range
    fuel_flow: Range
    exhaust_flow: Range
    heat: Range
    manifold_pressure: Range
    charge_temperature: Range
    pressure_ratio: Range | None
    outlet_temperature: Range | None
    compressor_power: Range | None
    corrected_flow: Range | None
    tip_speed: Range | None
    filling: float
    filling_default: float
    filling_u: float
    pressure_u: float


def figures_at(engine: Engine, speed: float) -> Figures:
    """Defaults at a speed; OutsideModelError where a spark engine's mixture lies outside the known range."""
    row = engine.choice.row
    where = (speed, engine.torque_speed, engine.power_speed)
    specific = at_speed(row.specific, *where) * engine.specific_factor / KWH
    reference = at_speed(row.mixture, *where)
    mixture = reference if engine.mixture is None else engine.mixture
    if row.family == "diesel":
        fuel = specific
        air = specific * mixture * engine.stoichiometric_air
    else:
        air = specific * work_per_air(reference) / work_per_air(mixture)
        fuel = air / (mixture * engine.stoichiometric_air)
    return Figures(
        air,
        fuel,
        mixture,
        at_speed(row.filling, *where) * engine.filling_factor,
        compressor_efficiency(row.family, engine.induction, *where),
    )


def flows_at(
    engine: Engine, speed: float, torque: float, anchor: Anchor | None = None, figures: Figures | None = None
) -> Flows:
    """Air and fuel, kg/s, at a speed and torque; ``figures`` are those of the speed where they are known already."""
    figures = figures_at(engine, speed) if figures is None else figures
    power = power_of(torque, speed)
    if anchor is not None and anchor.specific_air is not None:
        return spark_flows(power, anchor.specific_air, figures.mixture, engine.stoichiometric_air)
    if engine.choice.row.family == "diesel":
        return diesel_flows(power, figures.specific_fuel, figures.mixture, engine.stoichiometric_air)
    return spark_flows(power, figures.specific_air, figures.mixture, engine.stoichiometric_air)


def chain_at(breathing: Breathing, efficiency: float, air: float, shift: float = 0.0) -> Chain:
    """The charging system at an air flow (kg/s): its drops go with the flow squared."""
    share = (air / breathing.rated_flow) ** 2 if breathing.rated_flow > 0.0 else 1.0
    return Chain(
        breathing.ambient_pressure,
        breathing.ambient_temperature,
        breathing.ambient_temperature + INLET_WARMING,
        efficiency,
        breathing.effectiveness,
        breathing.cooling_temperature,
        # A plan far beyond its own rated flow must not leave a vacuum before the compressor.
        min(breathing.filter_drop * share, 0.3 * breathing.ambient_pressure),
        breathing.cooler_drop * share,
        breathing.charge_temperature,
        shift,
    )


def torque_at_pressure(engine: Engine, breathing: Breathing, speed: float, pressure: float) -> float:
    """Torque, N m, that a manifold pressure (Pa) makes at a speed: bmep = rho kappa, drops at the flow it implies."""
    figures = figures_at(engine, speed)
    work = work_density(figures.filling, figures.specific_air)
    rated_flow = breathing.rated_flow
    air = rated_flow
    for _ in range(40):
        state = state_at(pressure, chain_at(breathing, figures.efficiency, air))
        density = pressure / (R_AIR * state.charge_temperature)
        new = figures.filling * density * engine.displacement * speed / 2.0
        if abs(new - air) <= 1e-12:
            break
        air = new
    return torque_of_mean_pressure(density * work, engine.displacement)


def demand_at(
    engine: Engine,
    breathing: Breathing,
    speed: float,
    torque: float,
    power_relative: float,
    anchor: Anchor | None = None,
    demonstrated_rise: float | None = None,
    torque_at_stated_boost: float | None = None,
    figures: Figures | None = None,
) -> Demanded:
    """Everything that a torque (N m) at a speed (rev/s) takes; ``power_relative`` is the relative u of the torque.

    ``demonstrated_rise`` (K) is the isentropic temperature rise of the compressor in the largest steady state of an
    accepted log; without it the relative tip speed is unknown. Where the plan states boost, the pressure at
    ``torque_at_stated_boost`` is exact and the torque is not. ``figures`` are those of the speed, if known already.
    """
    figures = figures_at(engine, speed) if figures is None else figures
    flows = flows_at(engine, speed, torque, anchor, figures)
    power = power_of(torque, speed)
    bmep = mean_pressure(torque, engine.displacement)
    # One sensor on both sides: what is anchored is exact at the logged torque itself.
    away = abs(torque / anchor.torque - 1.0) if anchor is not None else 1.0

    specific_u = engine.choice.u_specific
    if anchor is not None and anchor.specific_air is not None:
        air_u = hypot(power_relative, ANCHORED_AIR_U) * away
    else:
        air_u = hypot(power_relative, specific_u)
    fuel_u = air_u if engine.choice.row.family == "diesel" else hypot(air_u, MIXTURE_U)
    air, fuel = around(flows.air, air_u), around(flows.fuel, fuel_u)

    common = {
        "torque": around(torque, power_relative),
        "power": around(power, power_relative),
        "mean_pressure": around(bmep, power_relative),
        "air_flow": air,
        "fuel_flow": fuel,
        "exhaust_flow": Range(*(a + f for a, f in zip(air, fuel, strict=True))),
        "heat": Range(*(f * engine.lower_heating_value for f in fuel)),
    }
    if anchor is not None:
        filling, filling_u = anchor.work * figures.specific_air, anchor.work_u
        if anchor.specific_air is not None:
            filling = anchor.work * anchor.specific_air
    else:
        filling, filling_u = figures.filling, engine.choice.u_filling

    if not engine.charged:
        if anchor is not None:
            pressure, temperature = anchor.pressure, anchor.temperature
            pressure_r, temperature_r = around(pressure, 0.0), around(temperature, 0.0)
        else:
            pressure = ASPIRATED_PRESSURE * breathing.ambient_pressure
            temperature = breathing.charge_temperature or breathing.ambient_temperature + ASPIRATED_WARMING
            pressure_r = around(pressure, ASPIRATED_PRESSURE_U)
            temperature_r = around(temperature, breathing.temperature_u)
        needed = filling_needed(flows.air, pressure / (R_AIR * temperature), engine.displacement, speed)
        return Demanded(
            **common,
            manifold_pressure=pressure_r,
            charge_temperature=temperature_r,
            pressure_ratio=None,
            outlet_temperature=None,
            compressor_power=None,
            corrected_flow=None,
            tip_speed=None,
            filling=needed,
            filling_default=filling,
            filling_u=filling_u,
            pressure_u=ASPIRATED_PRESSURE_U,
        )

    chain = chain_at(breathing, figures.efficiency, flows.air, anchor.shift if anchor is not None else 0.0)
    if anchor is not None:
        density = bmep / anchor.work
        u = anchored_pressure_u(power_relative, anchor.work_u, ANCHORED_TEMPERATURE_U) * away
    else:
        density = charge_density(flows.air, figures.filling, engine.displacement, speed)
        u = pressure_u(power_relative, specific_u, engine.choice.u_filling, breathing.temperature_u)
        if torque_at_stated_boost is not None:
            u *= abs(torque / torque_at_stated_boost - 1.0)
    nominal = settle(density, chain)
    p = around(nominal.manifold_pressure, u)
    states = (state_at(p.low, chain), nominal, state_at(p.high, chain))
    return Demanded(
        **common,
        manifold_pressure=p,
        charge_temperature=Range(*(s.charge_temperature for s in states)),
        pressure_ratio=Range(*(s.pressure_ratio for s in states)),
        outlet_temperature=Range(*(s.outlet_temperature for s in states)),
        compressor_power=Range(
            *(compressor_power(a, s.inlet_temperature, s.outlet_temperature) for a, s in zip(air, states, strict=True))
        ),
        corrected_flow=Range(
            *(
                corrected_flow(
                    a,
                    nominal.inlet_temperature,
                    nominal.inlet_pressure,
                    breathing.map_temperature,
                    breathing.map_pressure,
                )
                for a in air
            )
        ),
        tip_speed=None if demonstrated_rise is None else _tip_speed(states, demonstrated_rise),
        filling=filling,
        filling_default=filling,
        filling_u=filling_u,
        pressure_u=u,
    )


def _tip_speed(states: tuple[ChargeState, ChargeState, ChargeState], demonstrated: float) -> Range:
    return Range(*(sqrt(isentropic_rise(s.inlet_temperature, s.pressure_ratio) / demonstrated) for s in states))
