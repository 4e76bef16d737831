"""What information is worth: expected values of acting with and without a test.

Pure functions of floats (Raiffa and Schlaifer, Applied Statistical Decision Theory, 1961; Raiffa, Decision Analysis,
1968). Amounts are in one currency. A cause is either present with probability ``p`` or not; it can be repaired now or
left, which costs the loss where it is present and harms.
"""

from __future__ import annotations

from math import fsum, isfinite
from typing import TYPE_CHECKING

from loadworthy.record import NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence


class Likelihoods(NamedTuple):
    """P(result | cause) and P(result | no cause) of one result of a test."""

    cause: float
    no_cause: float


def best(pay: Sequence[Sequence[float]], probabilities: Sequence[float]) -> float:
    """Return the expected pay of the best act: ``pay[act][state]``, unnormalised weights of the states allowed.

    Source: Raiffa 1968, the drilling problem of pp. 34-36 (pay 0, 120, 270 less 70 for drilling): 20.

    >>> round(best(((0, 0, 0), (-70, 50, 200)), (0.50, 0.30, 0.20)), 9)
    20.0
    """
    return max(fsum(x * p for x, p in zip(act, probabilities, strict=True)) for act in pay)


def value_with_information(pay: Sequence[Sequence[float]], joint: Sequence[Sequence[float]]) -> float:
    """Return the expected pay of acting after a result: ``joint[state][result]`` are joint probabilities.

    The identity matrix with the states' probabilities on its diagonal is perfect information.
    Source: Raiffa 1968, pp. 34-36: 32.5 with the soundings, before their cost.

    >>> joint = ((0.30, 0.15, 0.05), (0.09, 0.12, 0.09), (0.02, 0.08, 0.10))
    >>> round(value_with_information(((0, 0, 0), (-70, 50, 200)), joint), 9)
    32.5
    """
    return fsum(best(pay, column) for column in zip(*joint, strict=True))


def value_of_perfect_information(pay: Sequence[Sequence[float]], probabilities: Sequence[float]) -> float:
    """Return what knowing the state would add to the best expected pay.

    Source: Raiffa 1968, pp. 34-36: 35.

    >>> round(value_of_perfect_information(((0, 0, 0), (-70, 50, 200)), (0.50, 0.30, 0.20)), 9)
    35.0
    """
    knowing = fsum(p * max(column) for p, column in zip(probabilities, zip(*pay, strict=True), strict=True))
    return knowing - best(pay, probabilities)


def value(p: float, repair: float, loss: float) -> float:
    """Return the expected cost of the better act: min(R, P hL). ``loss`` is h times L, the loss to expect if present.

    Raises ValueError for a probability outside 0 to 1, or for amounts that are negative or not finite.
    Source: method, section 10.

    >>> value(0.25, 600.0, 3200.0), value(0.10, 600.0, 3200.0)
    (600.0, 320.0)
    """
    _check(p, repair, loss)
    return min(repair, p * loss)


def evpi(p: float, repair: float, loss: float) -> float:
    """Return the expected value of perfect information, V(P) - P min(R, hL): the most that any test can be worth.

    Source: method, section 10 (Raiffa and Schlaifer 1961); the figure was enumerated by hand.

    >>> evpi(0.25, 600.0, 3200.0)
    450.0
    """
    return max(0.0, value(p, repair, loss) - p * min(repair, loss))


def expected_value_of_test(p: float, repair: float, loss: float, results: Iterable[Likelihoods]) -> float:
    """Return what a test saves on average: V(P) - sum over results of P(k) V(P_k), between 0 and `evpi`.

    ``results`` hold P(k | cause) and P(k | no cause) of every result; each column sums to 1, otherwise ValueError.
    Source: method, section 10 (Raiffa and Schlaifer 1961); the figure was enumerated by hand.

    >>> round(expected_value_of_test(0.25, 600.0, 3200.0, ((0.9, 0.1), (0.1, 0.9))), 6)
    340.0
    """
    listed = [Likelihoods(*result) for result in results]
    for column in zip(*listed, strict=True):
        if any(not 0.0 <= x <= 1.0 for x in column) or abs(fsum(column) - 1.0) > 1e-9:
            raise ValueError("the probabilities of a test's results must sum to 1 with and without the cause")
    # P(k) V(P_k) = min(P(k) R, P(k and cause) hL): no division, so a result that never comes costs nothing.
    after = fsum(min((p * k.cause + (1.0 - p) * k.no_cause) * repair, p * k.cause * loss) for k in listed)
    worth = value(p, repair, loss) - after if listed else 0.0
    return min(max(0.0, worth), evpi(p, repair, loss))


def likelihood_pair(fired: float, not_fired: float) -> tuple[Likelihoods, Likelihoods]:
    """Return the likelihoods of (fired, clean) that a pair of ratios LR_f > 1 > LR_n implies.

    P(f | no cause) = (1 - LR_n)/(LR_f - LR_n), P(f | cause) = LR_f times that. Raises ValueError for another pair: its
    likelihoods must be declared. Source: method, section 10 (both columns must sum to 1); computed by hand.

    >>> fired, clean = likelihood_pair(6.0, 0.15)
    >>> round(fired.no_cause, 4), round(fired.cause, 4)
    (0.1453, 0.8718)
    """
    if not (isfinite(fired) and fired > 1.0 > not_fired > 0.0):
        raise ValueError(f"likelihood ratios {fired} and {not_fired} are not on either side of 1")
    no_cause = (1.0 - not_fired) / (fired - not_fired)
    cause = min(1.0, fired * no_cause)
    return Likelihoods(cause, no_cause), Likelihoods(1.0 - cause, 1.0 - no_cause)


def _check(p: float, *amounts: float) -> None:
    if not 0.0 <= p <= 1.0:
        raise ValueError(f"a probability lies between 0 and 1, not at {p}")
    if any(not (isfinite(x) and x >= 0.0) for x in amounts):
        raise ValueError("amounts must be finite and not negative")
