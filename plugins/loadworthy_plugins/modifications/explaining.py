"""What would explain a uniform trim alone, which explanations survive, and the cheapest test that parts them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from loadworthy.sdk import NamedTuple
from loadworthy_plugins.modifications.fuel import fuel_ratio, stated_ethanol
from loadworthy_plugins.modifications.mixture import single_cause
from loadworthy_plugins.modifications.rule_table import AIR, BENCH, ETHANOL_TEST, FUEL_TEST, LOOK, NUMBERS, READ
from loadworthy_plugins.modifications.run import standard_calibration, within
from loadworthy_plugins.modifications.shapes import Air

if TYPE_CHECKING:
    from loadworthy_plugins.modifications.run import Run

#: Tests by what they cost, cheapest first: 5, 10, 15, 15, 40, 45 and 150 minutes (judgement).
CHEAPEST_FIRST: Final = (READ, NUMBERS, AIR, ETHANOL_TEST, FUEL_TEST, LOOK, BENCH)
#: Evidence within this share of what a candidate needs supports it (judgement).
NEAR: Final = 0.05
#: Below this probability evidence speaks against a candidate.
AGAINST: Final = 0.05


class Candidate(NamedTuple):
    """One explanation: what it would need in words, how its own evidence stands, and the test that would decide it."""

    words: str
    state: str
    test: str


def candidates(run: Run, trim: float, air: Air | str) -> tuple[Candidate, ...]:
    """Return every explanation of a uniform trim with its state: ``supported``, ``open`` or ``out``.

    Likeliest first: those that their own evidence supports, then those whose test is cheapest.
    """
    configured = run.fact("calibration_ethanol")
    expected = configured.value if configured is not None else stated_ethanol(run)
    needed = single_cause(trim, None if run.diesel else expected)
    found = [
        Candidate(f"injectors {needed.injector:.3f} times the stated flow", _marking(run), _size_test(run)),
        Candidate(
            f"fuel pressure {needed.pressure:.3f} times its set point", _pressure(run, needed.pressure), FUEL_TEST
        ),
        _meter(run, needed.meter, air),
    ]
    if expected is not None:
        words = "ethanol " + (f"{100.0 * needed.ethanol:.0f} %" if needed.ethanol is not None else "outside 0 to 100 %")
        found.append(Candidate(words, _ethanol(run, needed.ethanol), ETHANOL_TEST))
    order = ("supported", "open", "out")
    return tuple(sorted(found, key=lambda one: (order.index(one.state), CHEAPEST_FIRST.index(one.test), one.words)))


def separating_test(survivors: tuple[Candidate, ...]) -> str:
    """Return the cheapest test that parts two or more survivors; empty where one is left.

    Every candidate's own test tells it from all others; one that has been made already decides nothing more.
    """
    if len(survivors) < 2:
        return ""
    waiting = {one.test for one in survivors if one.state == "open"} or {BENCH}
    return next(test for test in CHEAPEST_FIRST if test in waiting)


def _marking(run: Run) -> str:
    return {"different": "supported", "as_stated": "out"}.get(str(run.sheet.get("injector_marking")), "open")


def _size_test(run: Run) -> str:
    """Markings are looked at before anything is taken out."""
    return BENCH if run.sheet.get("injector_marking") == "different" else LOOK


def _pressure(run: Run, needed: float) -> str:
    ratio = fuel_ratio(run)
    if ratio is not None and not run.why_scaled():
        return _state(ratio.value, ratio.u, needed)
    told = run.sheet.get("fuel_pressure_on_set")
    return {True: "out", False: "supported"}.get(told, "open")


def _meter(run: Run, needed: float, air: Air | str) -> Candidate:
    """Without an air meter the pressure sensor, or the stored volumetric efficiency, stands in its place."""
    if run.metering == "speed_density":
        if not run.sensors_clean:
            words = f"manifold pressure sensor or stored volumetric efficiency {needed:.3f} times the truth"
            return Candidate(words, "open", READ)
        words = f"stored volumetric efficiency {needed:.3f} times the truth"
        return Candidate(words, "out" if standard_calibration(run) else "open", NUMBERS)
    state = "open" if isinstance(air, str) else _state(air.mean, air.u, needed)
    return Candidate(f"air meter reading {needed:.3f} times the true flow", state, AIR)


def _ethanol(run: Run, needed: float | None) -> str:
    tested = run.read("ethanol_measured")
    if needed is None:
        return "out"
    return "open" if tested is None else _state(tested.value, tested.u, needed)


def _state(value: float, u: float, needed: float) -> str:
    p = within(value, u, needed - NEAR, needed + NEAR)
    if p >= 0.5:
        return "supported"
    return "out" if p < AGAINST else "open"
