"""A small plugin for tests of what is shown: two posts whose level is measured; everything a register can hold occurs.

Its figures mean nothing; it is used as a single file too.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.sdk import (
    Advice,
    Assumption,
    Band,
    Capacity,
    Case,
    Cause,
    Ceiling,
    Coverage,
    Demand,
    Field,
    Finding,
    Gap,
    Gate,
    Limit,
    Quantity,
    Requirement,
    Rule,
    Section,
    Step,
    Symptom,
    SymptomSet,
    Used,
    Verdict,
    WorkshopTest,
    hookimpl,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from loadworthy.sdk import Declaration, Limits, Result

CLASSES = ("none", "mild", "strong", "extreme")


@hookimpl
def declare() -> Iterator[Declaration]:
    yield Section(
        "bench",
        "level of the posts",
        (
            Field("level", "quantity", "level", kind="pressure_gauge", per="post", u=20e3),
            Field("warmth", "quantity", "warmth of the bench", kind="temperature", u=1.0),
        ),
        tests=("post-test",),
    )
    yield Limit("least", 2e5, "pressure_gauge", "below", "least level", "bench book, table 3", "published", "fix_first")
    yield Limit("warm", 313.15, "temperature", "above", "warmth", "judgement", "judgement", "watch")
    yield Rule("level", "bench", "level against the least", test="post-test", group="level", source="bench book",
               bands={"fired": {"loose-post": 6.0, "worn-post": 2.0},
                      "clean": {"loose-post": 0.15, "worn-post": 0.5}})  # fmt: skip
    yield Rule("warmth", "bench", "warmth of the bench", test="heat-run")
    yield Rule("tilt", "bench", "tilt of the bench")
    yield Cause("loose-post", "post loose", 0.10, 1, "load", "pull", located="post", person=True,
                remedy="tighten it in sequence", retest=("post-test",))  # fmt: skip
    yield Cause("worn-post", "post worn", 0.05, 2, "heat", "warming", located="post", remedy="replace it",
                retest=("post-test", "heat-run"))  # fmt: skip
    yield Cause("gauge-wrong", "gauge wrong", 0.05, 4, "none", remedy="swap it")
    yield Cause("strap-small", "strap too small", 0.02, 3, "load", "pull", capacity=True, retest=("heat-run",))
    yield Cause("never-seen", "never looked at", 0.30, 3, "slow", remedy="look at it")
    yield SymptomSet("low-level", "level low", (("loose-post", 0.5), ("worn-post", 0.2), ("gauge-wrong", 0.1)))
    yield WorkshopTest("post-test", "level of all posts", 25, "cold", "Stand clear of the posts.")
    yield WorkshopTest("heat-run", "run until warm", 45, "warm", "Hot surfaces.", weak=True)
    yield Quantity("turning", "rotation", "speed", role="speed")
    yield Quantity("pull", "torque", "torque", role="load")
    yield Quantity("warming", "power", "heat to be carried off")


@hookimpl
def requirements() -> Iterable[Requirement]:
    return (
        Requirement("bench", "level of the posts", dict.fromkeys(CLASSES, "R"), "bench", "post-test"),
        Requirement("look", "a look at the straps", dict.fromkeys(CLASSES, "R"), "look", ceiling=""),
    )


@hookimpl
def subjects(case: Case) -> Mapping[str, Sequence[str]]:
    return {"post": ("post 1", "post 2")}


@hookimpl
def demand(case: Case) -> Demand | None:
    plan, base = case.plan.get("torque"), case.base_torque()
    if plan is None:
        return None
    today = [base[0].at(speed) for speed in plan.speeds] if base is not None else None
    steps = tuple(
        tuple(sorted({planned * share for share in (0.4, 0.7, 1.0, 1.2)} | ({today[i]} if today else set())))
        for i, planned in enumerate(plan.values)
    )
    heat = [tuple(tuple(share * 500.0 * torque for torque in row) for row in steps) for share in (0.9, 1.0, 1.1)]
    return Demand(
        speeds=plan.speeds,
        torque=steps,
        plan=plan.values,
        base=tuple(today) if today else None,
        quantities={"warming": Band(*heat)},
        base_source=base[1] if base else "",
        assumptions=(Assumption("air around it", 293.15, "K", "usual day (judgement)", 5.0),),
    )


@hookimpl
def examine(case: Case, demand: Demand | None, limits: Limits) -> Iterator[Result]:
    yield Gap("tilt_plate", "tilt plate not stated", write='vehicle.tilt_plate = "..."')
    yield Gate("supply", "go", "supply for writing holds", "13.1 V over ten minutes")
    yield Capacity("strap-small", "pull", 400.0, 20.0, until="heat-run", finding="posts.warmth#", text="strap")
    for sheet in case.of("bench"):
        yield Coverage("bench", "met", sheets=(sheet.id,))
        yield from _levels(sheet, limits)
        warmth = sheet.reading("warmth")
        if warmth is None:
            yield Finding("posts.warmth", sheet.id, unknown="no warmth was written")
        else:
            verdict = limits["posts.warm"].judge(warmth.value, warmth.u or 0.0)
            used = (Used(f"{sheet.id}.warmth", warmth.value, warmth.u, "K"),)
            yield Finding("posts.warmth", sheet.id, verdicts=(verdict,), text="bench at 42.5 degC", readings=used)
            key = ("posts.warmth", None, sheet.id)
            steps = (Step("heat", 170e3, "W", "bench book"),)
            why = "more heat than a warm bench carries off"
            yield Ceiling("heat", "warming", 170e3, why, until="heat-run", finding=key, steps=steps)
            yield Ceiling("heat_drawn", "warming", 160e3, "comfortable heat", kind="advisory")
        yield Finding("posts.tilt", sheet.id, unknown="the tilt was not looked at")
        yield Advice("look at the posts again when they are warm", subject="post 2", test="post-test", sheet=sheet.id)


def _levels(sheet: object, limits: Limits) -> Iterator[Result]:
    for key, level in (sheet.get("level") or {}).items():
        verdict: Verdict = limits["posts.least"].judge(level.value, level.u or 0.0)
        p = verdict.p_beyond
        post = f"post {key}"
        yield Finding(
            "posts.level",
            sheet.id,
            post,
            verdicts=(verdict,),
            text=f"level {level.value / 1e5:.2f} bar gauge",
            bands={"fired": p, "clean": 1.0 - p},
            readings=(Used(f"{sheet.id}.level[{key}]", level.value, level.u, "Pa gauge"),),
            steps=(Step("level", level.value, "Pa gauge", "as read", "bench book"),),
        )
        yield Symptom("low-level", "posts.level", sheet.id, p, post)
