"""From ambient air to the intake manifold: filter, compressor, charge cooler. Floats in SI, pressures absolute."""

from __future__ import annotations

from loadworthy.sdk import NamedTuple
from loadworthy_plugins.physics.atmosphere import R_AIR
from loadworthy_plugins.physics.compressor import outlet_temperature

# The fixed point contracts to about a third per round; 60 rounds are beyond any engine.
_ROUNDS = 60
_CLOSE = 1e-10


class Chain(NamedTuple):
    """The charging system and the air it breathes, at one flow.

    ``effectiveness`` 0 means no charge cooler. ``charge_temperature`` replaces the computed one if stated;
    ``shift`` (K) is what this car's own log showed above the computed one.
    """

    ambient_pressure: float
    ambient_temperature: float
    inlet_temperature: float
    efficiency: float
    effectiveness: float
    cooling_temperature: float
    filter_drop: float
    cooler_drop: float
    charge_temperature: float | None = None
    shift: float = 0.0


class ChargeState(NamedTuple):
    """State along the intake: manifold pressure and temperature, compressor ratio (absolute over absolute), inlet and
    outlet. A throttled engine asks nothing of its compressor: the ratio is never below 1.
    """

    manifold_pressure: float
    charge_temperature: float
    pressure_ratio: float
    inlet_pressure: float
    inlet_temperature: float
    outlet_temperature: float


def state_at(manifold_pressure: float, chain: Chain) -> ChargeState:
    """State of the charge at a manifold pressure (Pa).

    p1 = p_a - dp_filter; p2 = p_m + dp_cooler; PR = p2/p1; T2 = T1 (1 + (PR^(2/7) - 1)/eta);
    T_m = T2 - eps (T2 - T_cool).

    >>> chain = Chain(101_325.0, 298.15, 303.15, 0.72, 0.75, 303.15, 3e3, 10e3)
    >>> state = state_at(222_970.0, chain)
    >>> round(state.pressure_ratio, 3), round(state.outlet_temperature - 273.15, 1)
    (2.369, 147.7)
    """
    inlet = chain.ambient_pressure - chain.filter_drop
    ratio = max(1.0, (manifold_pressure + chain.cooler_drop) / inlet)
    outlet = outlet_temperature(chain.inlet_temperature, ratio, chain.efficiency)
    charge = chain.charge_temperature
    if charge is None:
        charge = outlet - chain.effectiveness * (outlet - chain.cooling_temperature) + chain.shift
    return ChargeState(manifold_pressure, charge, ratio, inlet, chain.inlet_temperature, outlet)


def settle(density: float, chain: Chain) -> ChargeState:
    """State in which the manifold holds the needed density (kg/m3): p_m = rho R T_m(p_m), found by secants.

    >>> chain = Chain(101_325.0, 298.15, 303.15, 0.72, 0.75, 303.15, 3e3, 10e3)
    >>> round(settle(2.33567, chain).manifold_pressure)
    222973
    """
    pressure = 1.5 * chain.ambient_pressure
    before = excess_before = 0.0
    for _ in range(_ROUNDS):
        state = state_at(pressure, chain)
        excess = density * R_AIR * state.charge_temperature - pressure
        if abs(excess) <= _CLOSE * chain.ambient_pressure:
            return state
        # The first step is the plain iteration; it is nearly linear, so secants reach the end in a few.
        slope = (excess - excess_before) / (pressure - before) if before else -1.0
        before, excess_before = pressure, excess
        pressure -= excess / slope if slope < 0.0 else -excess
    return state_at(pressure, chain)
