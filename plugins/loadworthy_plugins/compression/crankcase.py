"""Blow-by past the rings, as a share of the charge."""

from __future__ import annotations


def blowby_share(flow: float, displacement: float, speed: float) -> float:
    """Return blow-by as a share of the swept charge of a four-stroke engine.

    ``flow`` m3/s at crankcase conditions, ``displacement`` m3 of the whole engine, ``speed`` rev/s: half of the
    displacement is swept per revolution. Order of magnitude only: 0.5 to 2 % is what a secondary source calls
    usual; a limit comes from the maker or from the engine's own record.

    The limit of 225 ft3/h (6.37 m3/h; TM 9-2815-255-24, par. 3-6), here on 12 litres at 2 100 rpm:

    >>> round(100 * blowby_share(225 * 0.3048**3 / 3600, 12e-3, 35.0), 2)
    0.84
    """
    return flow / (displacement / 2.0 * speed)


def same_conditions(one: tuple[float | None, str], other: tuple[float | None, str], within: float = 0.10) -> bool:
    """Tell whether two crankcase readings compare: same load word, speeds within ``within`` of each other.

    Each is (engine speed in rev/s, load). A reading whose speed or load is not known compares with nothing.
    """
    speed, load = one
    other_speed, other_load = other
    if speed is None or other_speed is None or not load or load != other_load:
        return False
    return abs(speed - other_speed) <= within * max(speed, other_speed)
