"""Film index: high-shear viscosity times speed over torque, relative to the least of the standard engine. SI.

F is the Sommerfeld number of a bearing without its constants: it compares one engine with itself.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

#: Temperature of the high-shear test, K (ASTM D4683).
T150 = 423.15


def high_shear_viscosity(hths150: float, viscosity: float, viscosity150: float, thinned: float = 1.0) -> float:
    """Return the high-shear viscosity at a temperature, Pa s: that at 150 degC scaled like the low-shear one.

    mu_hs = hths150 mu(T)/mu(150) (judgement), times ``thinned`` = used over fresh viscosity at 100 degC.
    """
    return hths150 * viscosity / viscosity150 * thinned


def film_index(viscosity: float, speed: float, torque: float) -> float:
    """Return F = mu N / T, of a high-shear viscosity (Pa s), speed (rev/s) and torque (N m, above 0)."""
    return viscosity * speed / torque


def least_index(viscosity: Callable[[float, float], float], curve: Iterable[tuple[float, float]]) -> float:
    """Return the least film index over a torque curve of (speed, torque); ``viscosity`` may depend on both.

    It mostly stands at the lowest speed of peak torque, not at the greatest power. Raises ValueError for an empty
    curve.

    >>> f"{least_index(lambda n, t: 2.9e-3, [(1750 / 60, 250.0), (5000 / 60, 220.0)]):.4e}"
    '3.3833e-04'
    """
    return min(film_index(viscosity(n, t), n, t) for n, t in curve if t > 0.0 and n > 0.0)
