"""Rules on the leak index: pressure over viscosity and speed, against the own record or the maker's minimum."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.sdk import NamedTuple, Verdict, normal_cdf
from loadworthy_plugins.oil_system.asked import required_at
from loadworthy_plugins.oil_system.points import HIGH, ID, IDLE_UP_TO, MID
from loadworthy_plugins.oil_system.pressure_model import clearance_ratio, leak_index, leak_ratio, u_leak_ratio
from loadworthy_plugins.oil_system.reference import nearest
from loadworthy_plugins.oil_system.relief import at_relief
from loadworthy_plugins.oil_system.results import at_speed, finding, most
from loadworthy_plugins.shared_results import bands, step, used

if TYPE_CHECKING:
    from collections.abc import Iterator

    from loadworthy.sdk import Finding
    from loadworthy_plugins.oil_system.held import Held
    from loadworthy_plugins.oil_system.points import Point
    from loadworthy_plugins.oil_system.reference import Figure

#: Orifice share at which a clear index must hold too, and the least that it may then be: record, minimum (judgement).
HALF, HALF_RECORD, HALF_MINIMUM = 0.5, 0.80, 1.0


class Ratio(NamedTuple):
    """The leak index of a point over that of its reference, with its standard uncertainty; ``half``: with half of the
    flow through orifices (None: no value).
    """

    point: Point
    figure: Figure
    value: float
    u: float
    half: float | None


def ratios(held: Held) -> tuple[Ratio, ...]:
    """Return the ratio of every point that has a reference: the record if there is one, else the maker's minimum."""
    oil = held.sweep.oil
    if held.regulated or oil is None:
        return ()
    out = []
    for point in held.sweep.points:
        if point.mu is None or at_relief(held, point):
            continue
        figures = nearest(held.record, point) or nearest(held.minimum, point)
        found = [_ratio(point, figure, oil.u_relative) for figure in figures if figure.pressure > 0.0]
        if found:
            out.append(min(found, key=lambda r: (r.value, r.figure)))
    return tuple(out)


def _ratio(point: Point, figure: Figure, u_mu: float) -> Ratio:
    mu, mu_ref = point.mu or 0.0, figure.mu or 0.0
    value = leak_ratio(point.pressure, mu, point.speed, figure.pressure, mu_ref, figure.speed)
    half = leak_ratio(point.pressure, mu, point.speed, figure.pressure, mu_ref, figure.speed, HALF)
    relative = u_leak_ratio(point.pressure, point.u, u_mu, point.u_temperature)
    return Ratio(point, figure, value or 0.0, abs(value or 0.0) * relative, half)


def worst_ratio(held: Held) -> Ratio | None:
    """Return the smallest ratio; None where no point has a reference."""
    return min(ratios(held), key=lambda r: (r.value, r.point.speed), default=None)


def leak_rules(held: Held) -> Iterator[Finding]:
    """Judge one sheet by its leak index."""
    found = ratios(held)
    if held.regulated:
        yield finding(
            "leak_index", held.sheet, unknown="the pump holds a commanded pressure: pressure shows no leakage"
        )
        return
    if not found:
        lacks = "viscosity of the oil in the sump" if held.sweep.oil is None else "a record or a maker's minimum"
        yield finding("leak_index", held.sheet, unknown=f"not known: {lacks}")
        return
    worst = min(found, key=lambda r: (r.value, r.point.speed))
    record = worst.figure.source == "record"
    low, clear, weak = _probabilities(held, found)
    known = held.sweep.known
    verdicts: tuple[Verdict, ...] = ()
    names = ("leak_index_ratio_low_watch", "leak_index_ratio_low_fix")
    if record:
        verdicts = tuple(held.limits[ID + name].judge(worst.value, worst.u) for name in names)
    else:
        # Against a minimum, the maker's own limit judges; here the ratio only weighs.
        verdicts = (
            Verdict("note", normal_cdf((1.0 - worst.value) / worst.u) if worst.u else float(worst.value < 1.0)),
        )
    why = held.why_not_clear()
    cap = held.cap if known else "watch"
    yield finding(
        "leak_index",
        held.sheet,
        verdicts=verdicts,
        text=f"pressure over viscosity and speed is {worst.value:.2f} of "
        f"{'its record' if record else 'what the minimum amounts to'} {at_speed(worst.point.speed)}",
        bands=bands(
            low_measured=low if known else 0.0,
            low_label=0.0 if known else low,
            clear_measured=clear if known else 0.0,
            clear_label=weak if known else clear,
        ),
        max_grade=cap or None,
        clears=not why,
        readings=tuple(used(held.sheet, r.point.key, r.point.pressure, r.point.u, "Pa gauge") for r in found),
        steps=(
            *step("smallest ratio", worst.value, "1", "(p / (mu N)) / (p_ref / (mu_ref N_ref))"),
            *step("engine speed", worst.point.speed, "rev/s"),
            *step("leak index", _index(worst.point), "", "p / (mu N)"),
            *step("viscosity in the sump", worst.point.mu, "Pa s", "density times kinematic viscosity (ASTM D341)"),
            *step("with half of the flow through orifices", worst.half, "1"),
            *step("mean clearance over that of the reference", _clearance(worst.value), "1", "(1 / R)^(1/3)"),
            *step("clears nothing", why or None),
        ),
    )
    yield from _by_viscosity(held, clear, known)
    if record:
        yield from _high(held, found)


def _index(point: Point) -> float | None:
    return None if point.mu is None else leak_index(point.pressure, point.mu, point.speed)


def _clearance(ratio: float) -> float | None:
    return clearance_ratio(ratio) if ratio > 0.0 else None


def _above(ratio: Ratio, least: float) -> float:
    if ratio.u <= 0.0:
        return float(ratio.value >= least)
    return normal_cdf((ratio.value - least) / ratio.u)


def _probabilities(held: Held, found: tuple[Ratio, ...]) -> tuple[float, float, float]:
    """Return P(low), P(clear) and P(only nearly clear, against a minimum).

    All points share the oil: their probabilities are not multiplied, the worst one counts.
    """
    speaks = held.limits[ID + "leak_index_ratio_speaks"].number
    idle = [r for r in found if r.point.speed <= IDLE_UP_TO]
    mid = [r for r in found if MID[0] <= r.point.speed <= HIGH[1]]
    low = 0.0
    if idle and mid:
        low = min(1.0 - min(_above(r, speaks) for r in idle), 1.0 - min(_above(r, speaks) for r in mid))
    if held.why_not_clear() or not idle or _short_elsewhere(held, found):
        return low, 0.0, 0.0
    clear, nearly = 1.0, 1.0
    for ratio in found:
        least, half = _thresholds(held, ratio)
        if ratio.half is None or ratio.half < half:
            return low, 0.0, 0.0
        p = _above(ratio, least)
        if ratio.figure.source == "record":
            p = max(0.0, p - _above(ratio, held.limits[ID + "leak_index_ratio_high"].number))
            nearly = min(nearly, p)
        else:
            nearly = min(nearly, _above(ratio, 1.0))
        clear = min(clear, p)
    weak = max(0.0, min(nearly, 1.0 - low) - clear)
    return low, min(clear, 1.0 - low), weak


def _thresholds(held: Held, ratio: Ratio) -> tuple[float, float]:
    record = ratio.figure.source == "record"
    name = "leak_index_ratio_clear_record" if record else "leak_index_ratio_clear_minimum"
    return held.limits[ID + name].number, HALF_RECORD if record else HALF_MINIMUM


def _short_elsewhere(held: Held, found: tuple[Ratio, ...]) -> bool:
    """Tell whether a point without a reference lies below what is asked for there."""
    judged = {r.point for r in found}
    for point in held.sweep.points:
        if point not in judged:
            asked = required_at(held, point.speed)
            if asked is not None and point.pressure < asked.pressure:
                return True
    return False


def _by_viscosity(held: Held, clear: float, known: bool) -> Iterator[Finding]:
    """Pressure low as read, but clear once corrected: the oil is thin for its temperature."""
    low = [p for p in held.sweep.points if (r := required_at(held, p.speed)) is not None and p.pressure < r.pressure]
    idle = held.sweep.idle
    if idle is not None and idle.pressure < held.limits[ID + "oil_p_hot_idle_low_watch"].number:
        low.append(idle)
    if not low or clear <= 0.0:
        return
    yield finding(
        "low_by_viscosity",
        held.sheet,
        verdicts=(Verdict("watch", clear),),
        text="pressure low as read, but clear once corrected for viscosity: the oil is thin for its temperature",
        bands=bands(**{"measured" if known else "label": clear}),
        clears=False,
    )


def _high(held: Held, found: tuple[Ratio, ...]) -> Iterator[Finding]:
    limit = held.limits[ID + "leak_index_ratio_high"]
    most_of = max(found, key=lambda r: (r.value, -r.point.speed))
    verdict = limit.judge(most_of.value, most_of.u)
    noisy = any(
        sheet.get("top_end_noise") is True
        for sheet in held.case.of("oil_look")
        if abs((sheet.date - held.sheet.date).days) <= 90
    )
    yield finding(
        "leak_index_high",
        held.sheet,
        verdicts=(verdict,),
        text=f"pressure over viscosity and speed is {most_of.value:.2f} of its record"
        + (": blockage after the tap, or wrong viscosity data" if verdict.p_beyond >= 0.5 else "")
        + (", with a noisy top end" if noisy else ""),
        bands=bands(noisy_top_end=verdict.p_beyond if noisy else 0.0),
        clears=not held.why_not_clear(),
    )


def low_ratio(held: Held) -> float:
    """Return the probability that the smallest ratio lies below the watch limit, 0 without a reference."""
    worst = worst_ratio(held)
    if worst is None:
        return 0.0
    return most((held.limits[ID + "leak_index_ratio_low_watch"].judge(worst.value, worst.u),))
