"""The worked case of the method (section 13, row 27) as a plugin: three causes, two symptoms, two ceilings.

Every figure was computed by hand for the method from its formulas; the tests hold the core to each printed digit.
"""

from __future__ import annotations

import datetime
from typing import TYPE_CHECKING

from loadworthy.sdk import (
    Band,
    Case,
    Cause,
    Ceiling,
    Coverage,
    Curve,
    Demand,
    Finding,
    Limit,
    Quantity,
    Reading,
    Repair,
    Requirement,
    Rule,
    Section,
    Sheet,
    Symptom,
    SymptomSet,
    Treated,
    Verdict,
    Weight,
    WorkshopTest,
    hookimpl,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from loadworthy.sdk import Declaration, Limits, Result

DAY = datetime.date(2026, 5, 10)
SPEEDS = tuple(rpm / 60.0 for rpm in (2000, 4000, 6000))
BASE = (280.0, 300.0, 260.0)
PLAN = (336.0, 390.0, 325.0)


@hookimpl
def declare() -> Iterator[Declaration]:
    yield Section(id="bench", text="bench test", fields=())
    yield Section(id="run", text="logged run", fields=())
    yield Section(id="old", text="another test", fields=())
    yield Limit("least", 9.0, "number", "below", "least reading", "method, row 2", "judgement", grade="fix_first")
    yield Rule("level", "bench", "reading against its least", test="retest-a", group="g1",
               bands={"fired": {"a": 6.0}, "clean": {"a": 0.15}})  # fmt: skip
    yield Rule("log", "run", "what the log shows", group="log")
    yield Rule("log_two", "run", "what else the log shows", group="log 2")
    yield Rule("other", "old", "another test", group="g3")
    yield Rule("warm", "run", "an auxiliary quantity runs high", test="e", group="g4")
    yield Cause("a", "cause a", 0.10, 3, "load", "torque", retest=("retest-a",))
    yield Cause("b", "cause b", 0.05, 2, "heat", "heat")
    yield Cause("c", "cause c", 0.02, 3, "sudden")
    yield SymptomSet("s1", "first symptom", (("a", 0.40), ("b", 0.25)))
    yield SymptomSet("s2", "second symptom", (("b", 0.30), ("c", 0.10)))
    for test in ("retest-a", "e"):
        yield WorkshopTest(test, f"test {test}", 30, "any", "none")
    yield Quantity("rotation", "rotation", "speed", role="speed")
    yield Quantity("torque", "torque", "torque", role="load")
    yield Quantity("heat", "power", "heat")
    yield Quantity("q", "ratio", "an auxiliary quantity")


@hookimpl
def requirements() -> Iterable[Requirement]:
    return (Requirement("bench", "bench test", dict.fromkeys(("none", "mild", "strong", "extreme"), "R"), "bench"),)


@hookimpl
def demand(case: Case) -> Demand:
    steps = tuple(
        tuple(sorted({*(plan * s for s in (0.4, 0.6, 0.7, 1.0, 1.1, 1.2)), base}))
        for plan, base in zip(PLAN, BASE, strict=True)
    )

    def band(low: float, high: float, shift: float, gain: tuple[float, ...] = (1.0, 1.0, 1.0)) -> Band:
        rows = [
            tuple(tuple(f * gain[i] * t + s for t in row) for i, row in enumerate(steps))
            for f, s in ((low, shift), ((low + high) / 2, shift), (high, shift))
        ]
        return Band(*rows)

    # Heat rises by 1.4 from base to plan at 4000 rpm and less elsewhere: (390/300) x h = 1.4 at the plan.
    heat = tuple(
        tuple(t if t <= base else base + (t - base) * (1.4 - 1.0) / (1.3 - 1.0) for t in row)
        for row, base in zip(steps, BASE, strict=True)
    )
    return Demand(
        speeds=SPEEDS,
        torque=steps,
        plan=PLAN,
        base=BASE,
        quantities={"torque": Band(steps, steps, steps), "heat": Band(heat, heat, heat), "q": band(0.45, 0.55, 10.0)},
        base_source="measured",
    )


def reading(case: Case, sheet: Sheet) -> Reading:
    value = sheet.reading("y")
    assert value is not None
    return value


@hookimpl
def examine(case: Case, demand: Demand | None, limits: Limits) -> Iterator[Result]:
    for sheet in case.of("bench"):
        y = reading(case, sheet)
        verdict = limits["worked.least"].judge(y.value, y.u or 0.0)
        p = verdict.p_beyond
        yield Finding("worked.level", sheet.id, verdicts=(verdict,), text="reading against its least",
                      bands={"fired": p, "clean": 1.0 - p})  # fmt: skip
        yield Ceiling("c1", "torque", "as_received", "the reading is short", until="retest-a",
                      finding=("worked.level", None, sheet.id))  # fmt: skip
        yield Coverage("bench", "met", sheets=(sheet.id,))
    for sheet in case.of("run"):
        yield Finding("worked.log", sheet.id, verdicts=(Verdict("note", 1.0),), text="the log speaks for a",
                      weights=(Weight("a", None, 4.771),))  # fmt: skip
        yield Symptom("s1", "worked.log", sheet.id, 0.95)
        yield Finding("worked.log_two", sheet.id, verdicts=(Verdict("note", 0.6),), text="and more")
        yield Symptom("s2", "worked.log_two", sheet.id, 0.60)
        yield Finding("worked.warm", sheet.id, verdicts=(Verdict("watch", 1.0),), text="q runs high")
        yield Ceiling("c2", "q", 210.0, "q runs high", until="e", finding=("worked.warm", None, sheet.id))
    for sheet in case.of("old"):
        yield Finding("worked.other", sheet.id, verdicts=(Verdict("watch", 0.0),), text="b was not seen",
                      weights=(Weight("b", None, -10.0),))  # fmt: skip


def bench(y: float, date: datetime.date, **more: object) -> Sheet:
    value = Reading(y, 0.25, "number", "", f"{y}")
    return Sheet("bench", f"bench:{date}", date, {"y": value}, odometer=84_000e3, **more)


def case(*sheets: Sheet, repairs: tuple[Repair, ...] = ()) -> Case:
    old = DAY - datetime.timedelta(days=180)
    given = sheets or (bench(8.8, DAY),)
    return Case(
        name="worked case",
        vehicle={"base_torque_measured": Curve(SPEEDS, BASE)},
        plan={"torque": Curve(SPEEDS, PLAN)},
        sheets=(
            *given,
            Sheet("run", "run:1", given[0].date, odometer=84_000e3),
            Sheet("old", "old:1", old, odometer=83_000e3),
        ),
        repairs=repairs,
        as_of=DAY,
    )


def repaired() -> Case:
    """The case after cause a was repaired and its retest read 9.6."""
    later = DAY + datetime.timedelta(days=2)
    repair = Repair("repair-1", DAY + datetime.timedelta(days=1), "cause a mended", (Treated("a"),))
    return case(bench(8.8, DAY), bench(9.6, later), repairs=(repair,))
