"""The arithmetic of evidence: normal law, conformity with a limit, likelihood ratios, changes between two readings.

Floats in, floats out; nothing here knows what was measured. A value exactly on a limit is within it, so that an exact
count (standard uncertainty 0) exceeds an upper limit only when it is greater.
"""

from __future__ import annotations

from itertools import pairwise
from math import erfc, fsum, inf, isfinite, isnan, log10, sqrt
from typing import TYPE_CHECKING

from loadworthy.record import NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

_SQRT2 = sqrt(2.0)
#: Where opposing evidence begins to count half, and from which support for the cause, in decibans (judgement).
OPPOSED_FROM = 6.0
CONFLICT_FROM = 5.0
#: Net evidence never counts for more than this, in decibans (judgement).
NET_LIMIT = 40.0
#: Distance driven a day where no odometer tells (common practice, no source).
KM_PER_DAY = 40.0
#: Standard normal quantiles for a two-sided 5 % test and for 80 % power (any table of the normal law).
Z_TWO_SIDED = 1.96
Z_POWER = 0.84


# Normal law and limits -----------------------------------------------------------------------------------------------


def normal_cdf(z: float) -> float:
    """Return Phi(z), the standard normal distribution function, accurate in both tails.

    Source: Abramowitz and Stegun, Handbook of Mathematical Functions, 26.2.29 (table 26.1: Phi(1.96) = 0.97500 21049).

    >>> round(normal_cdf(1.96), 9)
    0.975002105
    >>> f"{normal_cdf(-10.0):.3e}"
    '7.620e-24'
    """
    return 0.5 * erfc(-z / _SQRT2)


def normal_sf(z: float) -> float:
    """Return 1 - Phi(z), the upper tail of the standard normal law, without losing digits far out.

    Source: Abramowitz and Stegun, 26.2.29; the figure of the example is the mirror of `normal_cdf`.

    >>> f"{normal_sf(10.0):.3e}"
    '7.620e-24'
    """
    return 0.5 * erfc(z / _SQRT2)


def p_above(y: float, u: float, limit: float) -> float:
    """Return the probability that the true value lies above ``limit``, for reading ``y`` with standard u.

    All in one unit; ``u`` 0 means an exact value, which is beyond only when greater than the limit. A limit may be
    infinite. Raises ValueError where y is not finite, u negative or not finite, or the limit is not a number.
    Source: JCGM 106:2012, section 7 (Zener diode example: conformity 0.92 of y -5.47, u 0.05 with upper limit -5.40).

    >>> round(1.0 - p_above(-5.47, 0.05, -5.40), 2)
    0.92
    >>> p_above(3.0, 0.0, 3.0), p_above(4.0, 0.0, 3.0)
    (0.0, 1.0)
    """
    _check(y, u, limit)
    if u == 0.0:
        return 1.0 if y > limit else 0.0
    return normal_sf((limit - y) / u)


def p_below(y: float, u: float, limit: float) -> float:
    """Return the probability that the true value lies below ``limit``; the mirror of `p_above`.

    Source: JCGM 106:2012, section 7. The figure was computed with scipy.stats.norm.

    >>> round(p_below(8.8, 0.25, 9.0), 3)
    0.788
    """
    _check(y, u, limit)
    if u == 0.0:
        return 1.0 if y < limit else 0.0
    return normal_cdf((limit - y) / u)


def bands(y: float, u: float, edges: Sequence[float]) -> tuple[float, ...]:
    """Return the probability of each band that rising ``edges`` cut out, one more than there are edges.

    A value exactly on an edge belongs to the band below it. Raises ValueError as `p_above` does, and for edges that do
    not rise. Source: JCGM 106:2012, section 7; the figures were computed with scipy.stats.norm.

    >>> [round(p, 3) for p in bands(4.6, 0.5, (2.0, 5.0))]
    [0.0, 0.788, 0.212]
    """
    if any(b <= a for a, b in pairwise(edges)):
        raise ValueError("edges must rise")
    _check(y, u, *edges)
    ends = (-inf, *edges, inf)
    if u == 0.0:
        return tuple(1.0 if low < y <= high else 0.0 for low, high in pairwise(ends))
    out = []
    for low, high in pairwise(ends):
        a, b = (low - y) / u, (high - y) / u
        # The difference is taken on the side where both terms are small.
        p = normal_sf(a) - normal_sf(b) if a > 0.0 else normal_cdf(b) - normal_cdf(a)
        out.append(max(0.0, p))
    return tuple(out)


def _check(y: float, u: float, *limits: float) -> None:
    if not isfinite(y):
        raise ValueError(f"a reading must be finite, not {y}")
    if not (isfinite(u) and u >= 0.0):
        raise ValueError(f"a standard uncertainty must be finite and not negative, not {u}")
    if any(isnan(limit) for limit in limits):
        raise ValueError("a limit must be a number")


# Weight of evidence --------------------------------------------------------------------------------------------------


def decibans(ratio: float) -> float:
    """Return the weight of evidence 10 log10 of a likelihood ratio; ValueError unless it is finite and positive.

    Source: Good, Probability and the Weighing of Evidence, 1950.

    >>> decibans(10.0), round(decibans(2.0), 2)
    (10.0, 3.01)
    """
    if not (isfinite(ratio) and ratio > 0.0):
        raise ValueError(f"a likelihood ratio must be finite and positive, not {ratio}")
    return 10.0 * log10(ratio)


def ratio(db: float) -> float:
    """Return the likelihood ratio of a weight in decibans, the inverse of `decibans`.

    >>> ratio(10.0), ratio(-10.0)
    (10.0, 0.1)
    """
    return float(10.0 ** (db / 10.0))


def mix(probabilities: Sequence[float], ratios: Sequence[float]) -> float:
    """Return the likelihood ratio of a result known only by the probability of each band.

    Sum of P(band) LR(band); what the probabilities leave over says nothing and has ratio 1. Raises ValueError for
    probabilities below 0 or summing above 1, for a ratio not finite and positive, or for unequal lengths.
    Source: method, section 2 (law of total probability); the example was computed independently.

    >>> round(mix((0.788, 0.212), (6.0, 0.15)), 2)
    4.76
    """
    if any(not (isfinite(r) and r > 0.0) for r in ratios):
        raise ValueError("a likelihood ratio must be finite and positive")
    if any(not p >= 0.0 for p in probabilities):
        raise ValueError("a probability must not be negative")
    total = fsum(probabilities)
    if total > 1.0 + 1e-9:
        raise ValueError(f"probabilities of bands sum to {total}")
    mixed = fsum(p * r for p, r in zip(probabilities, ratios, strict=True))
    return mixed + max(0.0, 1.0 - total)


def odds(p: float) -> float:
    """Return p / (1 - p); infinite at 1. Raises ValueError outside 0 to 1.

    >>> odds(0.75)
    3.0
    """
    if not 0.0 <= p <= 1.0:
        raise ValueError(f"a probability lies between 0 and 1, not at {p}")
    return inf if p == 1.0 else p / (1.0 - p)


def posterior(prior: float, db: float) -> float:
    """Return the probability after evidence of ``db`` decibans: odds = prior odds x 10^(db/10).

    A prior of 0 or 1 stays. Raises ValueError for a prior outside 0 to 1. Source: Bayes' rule in odds form (Good 1950);
    the example is the screening test of Gigerenzer and Hoffrage, Psychological Review 102, 1995 (from memory):
    prevalence 1 %, detection 80 %, false alarms 9.6 %, printed 7.8 %.

    >>> round(posterior(0.01, decibans(0.80 / 0.096)), 3)
    0.078
    """
    if not 0.0 <= prior <= 1.0:
        raise ValueError(f"a probability lies between 0 and 1, not at {prior}")
    weight = ratio(db)
    return prior * weight / (prior * weight + (1.0 - prior))


class Net(NamedTuple):
    """Net evidence in decibans, and whether strong evidence stands on both sides."""

    db: float
    conflicting: bool


def group_net(positive: float, negative: float) -> Net:
    """Return net evidence of groups that speak for (``positive``) and against (``negative``), sums in decibans.

    k = clip(p - 5, 0, 1); of n only n - k max(0, n - 6)/2 counts: against evidence for a cause, evidence against it
    beyond 6 dB counts half. Never falls with p, never rises with n, has no step; clipped to +-40. Raises ValueError for
    sums that are negative or not finite. Source: method, section 3 (judgement).

    >>> group_net(10.0, 12.0), group_net(5.0, 12.0).db, group_net(5.5, 12.0).db
    (Net(db=1.0, conflicting=True), -7.0, -5.0)
    """
    if not (isfinite(positive) and isfinite(negative) and positive >= 0.0 and negative >= 0.0):
        raise ValueError("sums of evidence must be finite and not negative")
    k = min(1.0, max(0.0, positive - CONFLICT_FROM))
    excess = max(0.0, negative - OPPOSED_FROM)
    net = positive - (negative - 0.5 * k * excess)
    return Net(min(NET_LIMIT, max(-NET_LIMIT, net)), k > 0.0 and excess > 0.0)


def group_totals(groups: Iterable[Iterable[float]], cap: float = 20.0) -> tuple[float, float]:
    """Return (p, n): sums over groups of the largest positive and the most negative weight of each, in decibans.

    Results that share a measurement are one piece of evidence: only the largest of each sign counts, within ``cap``.
    Source: method, section 3.

    >>> group_totals(((7.0, 4.0, -3.0), (10.0, -12.0)))
    (17.0, 15.0)
    """
    highs, lows = [], []
    for group in groups:
        weights = [min(cap, max(-cap, db)) for db in group]
        highs.append(max(0.0, *weights, 0.0))
        lows.append(max(0.0, *(-db for db in weights), 0.0))
    return fsum(highs), fsum(lows)


def half_lives(days: float, km: float | None, half_days: float, half_km: float) -> float:
    """Return the age of evidence in half-lives: the greater of age and distance (km). Distance missing: 40 km a day.

    An odometer that runs backwards says nothing and counts as missing; negative days count as 0. Raises ValueError
    unless both half-lives are positive (infinite: never fades). Source: method, section 3 (judgement).

    >>> half_lives(90.0, 7500.0, 180.0, 5000.0)
    1.5
    """
    if not (half_days > 0.0 and half_km > 0.0):
        raise ValueError("half-lives must be positive")
    days = max(0.0, days)
    if km is None or not km >= 0.0:
        km = KM_PER_DAY * days
    return max(days / half_days, km / half_km)


def fade(db: float, days: float, km: float | None = None, half_days: float = 180.0, half_km: float = 5000.0) -> float:
    """Return what a weight is worth after ``days`` and ``km``: exonerating weight halves, incriminating weight stays.

    Source: method, section 3 (judgement: faults do not heal by waiting).

    >>> fade(-10.0, 180.0, 2000.0), fade(-10.0, 540.0, 2000.0), fade(10.0, 540.0)
    (-5.0, -1.25, 10.0)
    """
    return db if db >= 0.0 else db * 0.5 ** half_lives(days, km, half_days, half_km)


# Symptoms ------------------------------------------------------------------------------------------------------------


def shares(weights: Sequence[float], ratios: Sequence[float], none: float) -> tuple[tuple[float, ...], float]:
    """Return who explains a symptom: w_i L_i over (sum of w_j L_j + w_none), and the share of none of them.

    One reason at a time is assumed. Raises ValueError for unequal lengths. Source: Bayes' rule; method, section 4.

    >>> shares((0.5, 0.25), (2.0, 1.0), 0.25)
    ((0.6666666666666666, 0.16666666666666666), 0.16666666666666666)
    """
    parts = [w * r for w, r in zip(weights, ratios, strict=True)]
    total = fsum((*parts, none))
    return tuple(part / total for part in parts), none / total


def raised(own: float, by_symptom: float, p_beyond: float) -> float:
    """Return P of a cause that a symptom points at: own + s max(0, by_symptom - own).

    s = max(0, (p_beyond - 0.05)/0.95). A symptom only raises, and not at all where its reading is clean.
    Source: method, section 4 (judgement).

    >>> round(raised(0.0164, 0.1194, 0.8), 4)
    0.0977
    """
    strength = max(0.0, (p_beyond - 0.05) / 0.95)
    return own + strength * max(0.0, by_symptom - own)


# Readings and changes ------------------------------------------------------------------------------------------------


class Mean(NamedTuple):
    """A mean of repeats with its combined standard uncertainty; ``scatter`` is the part that the repeats show."""

    value: float
    u: float
    scatter: float


def mean_with_u(values: Sequence[float], u_class: float, resolution: float = 0.0) -> Mean:
    """Return mean and standard uncertainty of n repeats: u^2 = u_class^2 + max(s^2/n, resolution^2/12).

    Repeating does not average the instrument's own error (``u_class``) away. Raises ValueError without values, or where
    the result would be 0 or not finite, which is an input error. Source: JCGM 100:2008, 4.2 and 4.3; the figures were
    computed with the standard library's statistics module.

    >>> m = mean_with_u((12.1, 12.3, 11.8), u_class=0.016 * 25.0 / 3**0.5, resolution=0.1)
    >>> round(m.value, 3), round(m.scatter, 4), round(m.u, 4)
    (12.067, 0.1453, 0.2728)
    """
    n = len(values)
    if n == 0:
        raise ValueError("no values")
    mean = fsum(values) / n
    of_mean = fsum((v - mean) ** 2 for v in values) / (n - 1) / n if n > 1 else 0.0
    u = sqrt(u_class * u_class + max(of_mean, resolution * resolution / 12.0))
    if not (isfinite(mean) and isfinite(u) and u > 0.0):
        raise ValueError("a mean needs finite values and an uncertainty above 0")
    return Mean(mean, u, sqrt(of_mean))


class Difference(NamedTuple):
    """A change between two readings: its size and standard uncertainty, z, two-sided p, and what it could have shown.

    ``shown`` False means "no change shown", never "no change": ``smallest`` is the least change that would have been
    found four times in five.
    """

    d: float
    u: float
    z: float
    p: float
    shown: bool
    smallest: float


def smallest_change(u_d: float) -> float:
    """Return the smallest change that two readings can show: (1.96 + 0.84) u_d, found with 80 % power at 5 %.

    Source: the usual sample-size formula, e.g. Cohen, Statistical Power Analysis, 1988 (from memory).

    >>> round(smallest_change(8.63), 1)
    24.2
    """
    return (Z_TWO_SIDED + Z_POWER) * u_d


def difference(y1: float, u1: float, y2: float, u2: float, shared: float = 0.0) -> Difference:
    """Return the change from reading 1 to reading 2 with its significance.

    ``shared`` is the standard uncertainty of the part that both readings have in common (the same instrument's
    systematic error): it cancels, so u_d^2 = u1^2 + u2^2 - 2 shared^2. The resolution of each reading is not shared.
    Raises ValueError for an uncertainty that is negative or not finite, a shared part larger than one of them, or a
    change left with no uncertainty. Source: JCGM 100:2008, 5.2.2; p by the normal law.

    >>> change = difference(298.0, 0.02 * 298.0, 312.0, 0.02 * 312.0)
    >>> change.d, round(change.u, 2), round(change.z, 2), round(change.p, 3), change.shown
    (14.0, 8.63, 1.62, 0.105, False)
    """
    _check(y1, u1)
    _check(y2, u2)
    if not 0.0 <= shared <= min(u1, u2):
        raise ValueError("the shared part of two uncertainties is at most the smaller of them")
    square = u1 * u1 + u2 * u2 - 2.0 * shared * shared
    if square <= 0.0:
        raise ValueError("a change needs an uncertainty above 0")
    u = sqrt(square)
    z = (y2 - y1) / u
    return Difference(y2 - y1, u, z, 2.0 * normal_sf(abs(z)), abs(z) >= Z_TWO_SIDED, smallest_change(u))


def holm(ps: Sequence[float]) -> tuple[float, ...]:
    """Return Holm's adjusted p values, in the order given: below 0.05 the whole table errs 5 % of the time.

    Raises ValueError outside 0 to 1. Source: Holm, Scandinavian Journal of Statistics 6, 1979; the figures agree with
    statsmodels.stats.multitest.

    >>> holm((0.01, 0.04, 0.03))
    (0.03, 0.06, 0.06)
    """
    if any(not 0.0 <= p <= 1.0 for p in ps):
        raise ValueError("a probability lies between 0 and 1")
    m = len(ps)
    adjusted = [0.0] * m
    highest = 0.0
    for rank, i in enumerate(sorted(range(m), key=ps.__getitem__)):
        highest = max(highest, min(1.0, (m - rank) * ps[i]))
        adjusted[i] = highest
    return tuple(adjusted)
