"""Leak-down: the effective area of a cylinder's leak from two openings in series.

Air flows from the supply through the tester's jet into the cylinder and out through the leak. Both openings see the
same stagnation temperature, so equal mass flow gives the ratio of their effective areas from three absolute
pressures (ideal nozzle, see ``physics.gas_flow``). Pressures Pa absolute unless named gauge.
"""

from __future__ import annotations

from math import pi, sqrt

from loadworthy_plugins.physics.gas_flow import flow_function

#: Share of the supply lost at and above which the area is not resolved.
UNRESOLVED_LOSS = 0.99
#: Jet where none is stated: 0.040 in and a discharge coefficient (judgement). It convicts mildly and clears nothing.
ASSUMED_JET_DIAMETER = 0.001016
ASSUMED_JET_DISCHARGE = 0.85


def area_ratio(supply: float, cylinder: float, ambient: float) -> float:
    """Return k, the effective area of the leak over that of the jet.

    ``k = p1 phi(p2/p1) / (p2 phi(p0/p2))`` with supply p1, cylinder p2, ambient p0. Infinite where the cylinder holds
    no pressure; zero where it holds all of it. Raises ValueError unless p0 <= p2 <= p1 and p0 < p1.

    60 psi of 80 psi at sea level:

    >>> psi = 6894.757
    >>> round(area_ratio(80 * psi + 101325, 60 * psi + 101325, 101325), 4)
    1.0586
    """
    if not ambient <= cylinder <= supply or ambient >= supply:
        raise ValueError("leak-down pressures must fall from supply to cylinder to ambient")
    outflow = cylinder * flow_function(ambient / cylinder)
    if outflow == 0.0:
        return float("inf")
    return supply * flow_function(cylinder / supply) / outflow


def loss(supply: float, cylinder: float, ambient: float) -> float:
    """Return the share of the gauge supply that is lost, 0 to 1: what a leak-down tester shows as percent."""
    return 1.0 - (cylinder - ambient) / (supply - ambient)


def cylinder_from_loss(supply: float, share: float, ambient: float) -> float:
    """Return the cylinder pressure (absolute) that a one-gauge tester's ``share`` lost (0 to 1) stands for.

    The set supply pressure is taken as held; where it sags, the loss is overstated.
    """
    return ambient + (supply - ambient) * (1.0 - share)


def cylinder_pressure(ratio: float, supply: float, ambient: float) -> float:
    """Return the cylinder pressure (absolute) for an area ratio k >= 0: ``area_ratio`` inverted by bisection.

    A leak as large as the jet at 80 psi reads 425.87 kPa gauge (CoolProp real air: 425.76):

    >>> round((cylinder_pressure(1.0, 80 * 6894.757 + 101325, 101325) - 101325) / 1e3, 2)
    425.87
    """
    if ratio < 0.0:
        raise ValueError("area ratio below zero")
    low, high = ambient, supply
    for _ in range(60):
        middle = (low + high) / 2.0
        if middle in (low, high):
            break
        if area_ratio(supply, middle, ambient) > ratio:
            low = middle
        else:
            high = middle
    return (low + high) / 2.0


def jet_area(diameter: float, discharge: float) -> float:
    """Return the effective area (m2) of a round jet of ``diameter`` (m) with its discharge coefficient.

    >>> round(jet_area(0.001016, 0.85) * 1e6, 4)
    0.6891
    """
    return discharge * pi / 4.0 * diameter**2


def jet_by_known_jet(ratio: float, known_diameter: float = 0.001) -> float:
    """Return a tester's jet diameter (m) from the area ratio k read with a known jet in place of the cylinder.

    Equal discharge coefficients are assumed: ``d = d_known / sqrt(k)``. A 1.016 mm tester at 80 psi, 21.6 % lost on a
    1.00 mm jet:

    >>> psi = 6894.757
    >>> k = area_ratio(80 * psi + 101325, 80 * psi * (1 - 0.216) + 101325, 101325)
    >>> round(jet_by_known_jet(k) * 1e3, 2)
    1.02
    """
    if ratio <= 0.0:
        raise ValueError("the known jet must leak")
    return known_diameter / sqrt(ratio)


def area_uncertainty(
    supply: float, cylinder: float, ambient: float, *, jet: float, u_supply: float, u_cylinder: float, u_jet: float
) -> float:
    """Return the standard uncertainty of the leak's effective area, m2, on the side of the larger leak.

    ``jet`` is the jet's effective area (m2) with the relative uncertainty ``u_jet``; ``u_supply`` and ``u_cylinder``
    (Pa) are carried through by differences of one uncertainty, independent (JCGM 100:2008, 5.1). On the larger side,
    because the area rises steeply from nothing: differences to both sides would make a tight cylinder look worse.
    """
    middle = area_ratio(supply, cylinder, ambient)
    floor = ambient + 1e-3 * (supply - ambient)
    more = area_ratio(supply + u_supply, cylinder, ambient) - middle
    less = area_ratio(supply, min(cylinder, max(cylinder - u_cylinder, floor)), ambient) - middle
    return jet * sqrt(more * more + less * less + (u_jet * middle) ** 2)
