"""A check of nothing in particular, for the invariants of the core: located causes, symptoms, capacities, ceilings."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from hypothesis import strategies as st

from loadworthy.sdk import (
    Band,
    Capacity,
    Case,
    Cause,
    Ceiling,
    Coverage,
    Demand,
    Field,
    Finding,
    Limit,
    Limits,
    Quantity,
    Requirement,
    Rule,
    Section,
    Symptom,
    SymptomSet,
    Used,
    WorkshopTest,
    hookimpl,
)
from loadworthy.testing import Scenario, case_tables

if TYPE_CHECKING:
    from collections.abc import Iterator

    from loadworthy.sdk import Declaration, Result

PARTS = ("1", "2", "3")
LEVELS = ("none", "mild", "strong", "extreme")
BASE = {"2000 rpm": "280 N m", "4000 rpm": "300 N m", "6000 rpm": "260 N m"}
PLAN = {"2000 rpm": "336 N m", "4000 rpm": "390 N m", "6000 rpm": "325 N m"}


@hookimpl
def declare() -> Iterator[Declaration]:
    level = Field("level", "quantity", kind="pressure_gauge", per="part", u_relative=0.01, possible=(0.0, 5e6))
    yield Section("gauge", "levels of all parts", (level,), tests=("gauging",), half_life_days=60.0)
    yield Section(
        "listen", "noise of the whole", (Field("noise", "number", possible=(0.0, 10.0)),), tests=("listening",)
    )
    yield Limit("watch", 12e5, "pressure_gauge", "below", "level to watch", "for tests", "judgement", "watch")
    yield Limit("fix", 10e5, "pressure_gauge", "below", "least level", "for tests", "judgement", "fix_first")
    yield Limit("stop", 7e5, "pressure_gauge", "below", "level that stops", "for tests", "judgement", "stop")
    yield Limit("noise", 5.0, "number", "above", "noise", "for tests", "judgement", "watch")
    yield Rule(
        "level",
        "gauge",
        "level of one part",
        test="gauging",
        group="gauge",
        bands={"low": {"worn": 6.0, "cracked": 4.0, "loose": 2.0}, "fine": {"worn": 0.2, "cracked": 0.5}},
    )
    yield Rule(
        "noise",
        "listen",
        "noise of the whole",
        test="listening",
        bands={"loud": {"loose": 5.0}, "quiet": {"loose": 0.3}},
    )
    yield Cause("worn", "a part is worn", 0.1, 2, "load", "torque", "part", repair_hours=2.0, retest=("gauging",))
    yield Cause("cracked", "a part is cracked", 0.02, 1, "sudden", "torque", "part", person=True, retest=("listening",))
    yield Cause("loose", "something is loose", 0.05, 3, "heat", "heat", retest=("listening",), events=("shock",))
    yield Cause("too-small", "the whole is too small", 0.05, 2, "load", "torque", capacity=True)
    yield SymptomSet("low-part", "a part is low", (("worn", 0.5), ("cracked", 0.2), ("loose", 0.2)))
    yield WorkshopTest("gauging", "gauge all parts", 20, "any", "mind the parts")
    yield WorkshopTest("listening", "listen to it", 5, "any", "mind the ears", weak=True)
    yield Quantity("rotation", "rotation", "speed", role="speed")
    yield Quantity("torque", "torque", "torque", role="load")
    yield Quantity("heat", "power", "heat")


@hookimpl
def requirements() -> tuple[Requirement, ...]:
    return (
        Requirement("gauge", "levels", {"none": "A", "mild": "R", "strong": "R", "extreme": "R"}, "gauge", "gauging"),
        Requirement(
            "listen", "noise", {"none": "-", "mild": "A", "strong": "R", "extreme": "R"}, "listen", "listening"
        ),
    )


@hookimpl
def subjects(case: Case) -> dict[str, tuple[str, ...]]:
    return {"part": tuple(f"part {n}" for n in PARTS)}


@hookimpl
def demand(case: Case) -> Demand | None:
    planned, known = case.plan.get("torque"), case.base_torque()
    if planned is None or known is None:
        return None
    curve, source = known
    base = tuple(curve.at(n) or 0.0 for n in planned.speeds)
    steps = []
    for plan, own in zip(planned.values, base, strict=True):
        row = sorted({*(plan * s for s in (0.4, 0.6, 0.8, 1.0, 1.1, 1.2)), own})
        steps.append(tuple(row if len(row) == 7 else sorted((*row, plan * 0.5))))
    torque = tuple(steps)

    def band(factor: float) -> tuple[tuple[float, ...], ...]:
        return tuple(tuple(factor * t * t for t in row) for row in torque)

    tables = {"torque": Band(torque, torque, torque), "heat": Band(band(0.9), band(1.0), band(1.1))}
    return Demand(planned.speeds, torque, planned.values, base, None, tables, source)


@hookimpl
def examine(case: Case, demand: Demand | None, limits: Limits) -> Iterator[Result]:
    gauged, heard = [], []
    for sheet in case.of("gauge"):
        readings = sheet.get("level") or {}
        for part in PARTS:
            found = readings.get(part)
            where = f"part {part}"
            if found is None:
                yield Finding("generic.level", sheet.id, where, unknown="not measured")
                continue
            verdicts = tuple(limits[f"generic.{name}"].judge(found.value, found.u) for name in ("watch", "fix", "stop"))
            p = verdicts[0].p_beyond
            yield Finding(
                "generic.level",
                sheet.id,
                where,
                verdicts,
                "level of a part",
                bands={"low": p, "fine": 1.0 - p},
                readings=(Used(f"{sheet.id}.level.{part}", found.value, found.u, "pressure_gauge"),),
            )
            yield Symptom("low-part", "generic.level", sheet.id, p, where)
            yield Ceiling("heat", "heat", 9e4 * found.value / 10e5, "heat that a low part can take", where,
                          until="gauging", finding=("generic.level", where, sheet.id))  # fmt: skip
        if len(readings) == len(PARTS):
            gauged.append(sheet.id)
    for sheet in case.of("listen"):
        noise = sheet.get("noise")
        if noise is None:
            yield Finding("generic.noise", sheet.id, unknown="not listened")
            continue
        verdict = limits["generic.noise"].judge(noise, 0.3)
        p = verdict.p_beyond
        yield Finding("generic.noise", sheet.id, None, (verdict,), "noise", bands={"loud": p, "quiet": 1.0 - p})
        heard.append(sheet.id)
    yield Capacity("too-small", "torque", 420.0, 15.0, text="what the whole can take")
    for row, sheets in (("gauge", gauged), ("listen", heard)):
        yield Coverage(row, "met" if sheets else "absent", "" if sheets else "nothing measured", tuple(sheets))


def _levels(least: float) -> st.SearchStrategy[dict[str, Any]]:
    level = st.floats(least, 16.0).map(lambda v: f"{v:.2f} bar")
    some = st.dictionaries(st.sampled_from(PARTS), level, min_size=1)
    return st.one_of(st.fixed_dictionaries(dict.fromkeys(PARTS, level)), some).map(lambda levels: {"level": levels})


def tables() -> st.SearchStrategy[dict[str, Any]]:
    """Cases of sound vehicles and of others."""

    def of(least: float, loudest: float, **more: Any) -> st.SearchStrategy[dict[str, Any]]:
        sections = {"gauge": _levels(least), "listen": st.fixed_dictionaries({"noise": st.floats(0.0, loudest)})}
        vehicle, plan = {"base_torque_measured": BASE}, {"torque": PLAN}
        return case_tables(sections, vehicle=vehicle, plan=plan, events=("shock", "storm"), **more)

    treats = ("worn", "worn@part 2", "cracked@part 1", "loose", "generic.level")
    return st.one_of(of(13.0, 4.0, least_sheets=1), of(5.0, 10.0, treats=treats), of(11.0, 6.0, treats=treats))


def worsen(data: st.DataObject, given: dict[str, Any]) -> dict[str, Any] | None:
    """Lower one level, or raise one noise."""
    rows = [("gauge", row) for row in given.get("gauge", ())] + [("listen", row) for row in given.get("listen", ())]
    if not rows:
        return None
    section, row = data.draw(st.sampled_from(rows))
    if section == "listen":
        row["noise"] = min(10.0, row["noise"] + data.draw(st.floats(0.0, 4.0)))
        return given
    part = data.draw(st.sampled_from(sorted(row["level"])))
    old = float(row["level"][part].split()[0])
    row["level"][part] = f"{old * data.draw(st.floats(0.4, 1.0)):.3f} bar"
    return given


def scenario() -> Scenario:
    import generic_check

    return Scenario({"generic": generic_check}, tables(), worsen, plan_slack=1e-9)
