"""A check whose declarations are drawn: number of parts, limits, tables of ratios, causes, symptoms, ceilings."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from generic_check import BASE, PLAN
from generic_check import demand as generic_demand
from hypothesis import strategies as st

from loadworthy.sdk import (
    AtLeast,
    Broader,
    Candidate,
    Capacity,
    Case,
    Cause,
    Ceiling,
    Coverage,
    Demand,
    Field,
    Finding,
    Group,
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
from loadworthy.stats import bands
from loadworthy.testing import Scenario, case_tables

if TYPE_CHECKING:
    from collections.abc import Iterator

    from loadworthy.sdk import Declaration, Result

LEVELS = ("none", "mild", "strong", "extreme")
HAZARDS = ("none", "rare", "slow", "load", "heat", "speed", "sudden", "already failing")
GRADES = ("note", "watch", "fix_first", "stop")
BANDS = ("low", "middle", "high")
MOST_PARTS = 4


class Drawn(NamedTuple):
    """What is drawn. Readings are worse when higher; ratios rise from band to band."""

    parts: int
    limits: tuple[tuple[float, str], ...]
    edges: tuple[float, float]
    wear_ratios: tuple[float, float, float]
    loose_ratios: tuple[float, float, float]
    noise_ratios: tuple[float, float, float]
    priors: tuple[float, float, float]
    hazards: tuple[str, str, str]
    severities: tuple[int, int, int]
    person: bool
    candidates: tuple[float, float, float]
    group: str
    capacity: tuple[float, float] | None
    ceiling: float
    ceiling_quantity: str
    weak: bool
    half_life: float
    ended_by_any_event: bool
    overdue_grade: str
    overdue_names: str
    floor: str
    required: tuple[str, str, str, str]
    retest: tuple[str, ...]


class DrawnCheck:
    """A plugin object that declares what was drawn."""

    def __init__(self, drawn: Drawn) -> None:
        self.drawn = drawn

    def __repr__(self) -> str:
        return f"DrawnCheck({self.drawn})"

    @property
    def _parts(self) -> tuple[str, ...]:
        return tuple(str(n + 1) for n in range(self.drawn.parts or MOST_PARTS))

    @hookimpl
    def declare(self) -> Iterator[Declaration]:
        d = self.drawn
        wear = Field("wear", "quantity", kind="length", per="part", u_relative=0.05, possible=(0.0, 1.0))
        hours = Field("hours", "number", possible=(0.0, 1e6))
        yield Section("gauge", "wear of all parts", (wear,), ("gauging",), d.half_life, 100 * d.half_life)
        yield Section(
            "listen",
            "noise and hours of the whole",
            (Field("noise", "number", possible=(0.0, 20.0)), hours),
            ("listening",),
            ended_by_any_event=d.ended_by_any_event,
        )
        for n, (value, grade) in enumerate(d.limits):
            yield Limit(f"wear_{n}", value * 1e-3, "length", "above", "wear", "drawn", "judgement", grade)
        yield Limit("noise", 5.0, "number", "above", "noise", "drawn", "judgement", "watch")
        yield Limit("hours", 1000.0, "number", "above", "hours", "drawn", "judgement", d.overdue_grade)
        yield Group("shared", "a shared measurement")
        yield Group("each", "one of each sheet", per_sheet=True)
        ratios = zip(BANDS, d.wear_ratios, d.loose_ratios, strict=True)
        table = {band: {"worn": a, "loose": b} for band, a, b in ratios}
        yield Rule("wear", "gauge", "wear of a part", "gauging", d.group, table)
        noise = {band: {"loose": a, "slack": a} for band, a in zip(BANDS, d.noise_ratios, strict=True)}
        yield Rule("noise", "listen", "noise", "listening", d.group, noise)
        yield Rule("hours", "listen", "hours since it was looked after")
        yield Cause("worn", "worn", d.priors[0], d.severities[0], d.hazards[0], "torque", "part", retest=d.retest)
        yield Cause(
            "loose", "loose", d.priors[1], d.severities[1], d.hazards[1], "heat",
            person=d.person, retest=("listening",), excludes=("tight",), events=("shock",),
        )  # fmt: skip
        yield Cause("tight", "tight", d.priors[2], d.severities[2], d.hazards[2], excludes=("loose",))
        yield Cause("too-small", "too small", 0.05, 2, "load", "torque", capacity=True)
        yield Broader("slack", "worn or loose", ("worn", "loose"))
        names = ("worn", "loose", "tight")
        yield SymptomSet("rough", "runs rough", tuple(zip(names, d.candidates, strict=True)))
        yield WorkshopTest("gauging", "gauge", 20, "any", "none")
        yield WorkshopTest("listening", "listen", 5, "any", "none", weak=d.weak)
        yield Quantity("rotation", "rotation", "speed", role="speed")
        yield Quantity("torque", "torque", "torque", role="load")
        yield Quantity("heat", "power", "heat")

    @hookimpl
    def requirements(self) -> tuple[Requirement, ...]:
        levels = dict(zip(LEVELS, self.drawn.required, strict=True))
        return (
            Requirement("gauge", "wear", levels, "gauge", "gauging"),
            Requirement("listen", "noise", dict.fromkeys(LEVELS, "R"), "listen", "listening"),
        )

    @hookimpl
    def subjects(self, case: Case) -> dict[str, tuple[str, ...]]:
        return {"part": tuple(f"part {n}" for n in self._parts)} if self.drawn.parts else {}

    @hookimpl
    def demand(self, case: Case) -> Demand | None:
        found: Demand | None = generic_demand(case)
        return found

    @hookimpl
    def examine(self, case: Case, demand: Demand | None, limits: Limits) -> Iterator[Result]:
        d = self.drawn
        gauged, heard = [], []
        for sheet in case.of("gauge"):
            readings = sheet.get("wear") or {}
            for part in self._parts:
                yield from self._wear(sheet.id, f"part {part}", readings.get(part), limits)
            if set(self._parts) <= set(readings):
                gauged.append(sheet.id)
        for sheet in case.of("listen"):
            noise, hours = sheet.get("noise"), sheet.get("hours")
            if noise is None:
                yield Finding("drawn.noise", sheet.id, unknown="not listened")
            else:
                verdict = limits["drawn.noise"].judge(noise, 0.5)
                mixed = dict(zip(BANDS, bands(noise, 0.5, (3.0, 6.0)), strict=True))
                yield Finding("drawn.noise", sheet.id, None, (verdict,), "noise", bands=mixed)
                yield Symptom("rough", "drawn.noise", sheet.id, verdict.p_beyond)
                heard.append(sheet.id)
            if hours is not None:
                due = limits["drawn.hours"].judge(hours, 0.0)
                yield Finding("drawn.hours", sheet.id, None, (due,), "overdue", names=((d.overdue_names, None),))
        if d.capacity is None:
            yield Capacity("too-small", "torque", None, until="gauging", text="nobody knows")
        else:
            yield Capacity("too-small", "torque", *d.capacity)
        if d.floor:
            yield AtLeast(d.floor, "drawn")
        for row, sheets in (("gauge", gauged), ("listen", heard)):
            yield Coverage(row, "met" if sheets else "absent", "", tuple(sheets))

    def _wear(self, sheet: str, where: str, found: Any, limits: Limits) -> Iterator[Result]:
        d = self.drawn
        if found is None:
            yield Finding("drawn.wear", sheet, where, unknown="not measured")
            return
        verdicts = tuple(limits[f"drawn.wear_{n}"].judge(found.value, found.u) for n in range(len(d.limits)))
        mixed = dict(zip(BANDS, bands(found.value, found.u, tuple(e * 1e-3 for e in d.edges)), strict=True))
        used = (Used(f"{sheet}.wear.{where}", found.value, found.u, "length"),)
        yield Finding("drawn.wear", sheet, where, verdicts, "wear", bands=mixed, readings=used)
        own = (Candidate("worn", where, d.candidates[0]), Candidate("tight", None, d.candidates[2]))
        yield Symptom("rough", "drawn.wear", sheet, verdicts[-1].p_beyond, where, candidates=own)
        yield Ceiling("worn", d.ceiling_quantity, d.ceiling / found.value, "what a worn part takes", where,
                      until="gauging", finding=("drawn.wear", where, sheet))  # fmt: skip


def _ratios() -> st.SearchStrategy[tuple[float, float, float]]:
    """Three ratios that rise from band to band, from a part of 1 to a multiple of it."""
    return st.tuples(st.floats(0.02, 1.0), st.floats(0.3, 3.0), st.floats(1.0, 60.0)).map(
        lambda three: tuple(sorted(three))
    )


def _three(one: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    return st.tuples(one, one, one)


def drawn() -> st.SearchStrategy[Drawn]:
    limit = st.floats(1.0, 8.0).map(lambda v: round(v, 1))
    return st.builds(
        Drawn,
        parts=st.integers(0, MOST_PARTS),
        limits=st.lists(st.tuples(limit, st.sampled_from(GRADES)), min_size=1, max_size=4).map(tuple),
        edges=st.tuples(st.floats(0.5, 3.0), st.floats(3.5, 8.0)),
        wear_ratios=_ratios(),
        loose_ratios=_ratios(),
        noise_ratios=_ratios(),
        priors=_three(st.floats(0.005, 0.4)),
        hazards=_three(st.sampled_from(HAZARDS)),
        severities=_three(st.integers(1, 4)),
        person=st.booleans(),
        candidates=_three(st.floats(0.01, 0.32)),
        group=st.sampled_from(["", "shared", "each", "mine"]),
        capacity=st.none() | st.tuples(st.floats(350.0, 800.0), st.floats(0.0, 40.0)),
        ceiling=st.floats(50.0, 1000.0),
        ceiling_quantity=st.sampled_from(["heat", "torque", "rotation", "nobody-knows"]),
        weak=st.booleans(),
        half_life=st.floats(20.0, 400.0),
        ended_by_any_event=st.booleans(),
        overdue_grade=st.sampled_from(GRADES),
        overdue_names=st.sampled_from(["worn", "loose", "tight", "slack"]),
        floor=st.sampled_from(["", *LEVELS]),
        # More torque never asks for less evidence: rows that do would not hold what the method promises.
        required=st.tuples(*[st.sampled_from("RA-")] * 4).map(lambda four: tuple(sorted(four, key="-AR".index))),
        retest=st.sampled_from([(), ("gauging",), ("listening", "gauging")]),
    )


def sheets(most: float) -> dict[str, st.SearchStrategy[dict[str, Any]]]:
    wear = st.floats(0.2, most).map(lambda v: f"{v:.2f} mm")
    parts = [str(n + 1) for n in range(MOST_PARTS)]
    every = st.fixed_dictionaries(dict.fromkeys(parts, wear))
    some = st.dictionaries(st.sampled_from(parts), wear, min_size=1)
    noise = st.floats(0.0, 2.0 * most)
    hours = st.sampled_from([10.0, 999.0, 1000.0, 1001.0]) if most > 1.0 else st.just(10.0)
    return {
        "gauge": (st.one_of(every, some) if most > 1.0 else every).map(lambda levels: {"wear": levels}),
        "listen": st.fixed_dictionaries({"noise": noise}, optional={"hours": hours}),
    }


def _tables() -> st.SearchStrategy[dict[str, Any]]:
    treats = ("worn", "worn@part 2", "loose", "tight", "slack@part 1", "drawn.wear", "drawn.hours", "undeclared")
    known: dict[str, Any] = {"base_torque_measured": BASE}

    def tables(most: float, vehicle: dict[str, Any], **more: Any) -> st.SearchStrategy[dict[str, Any]]:
        return case_tables(sheets(most), vehicle=vehicle, plan={"torque": PLAN}, events=("shock", "storm"), **more)

    return st.one_of(
        tables(0.5, known, least_sheets=1),
        tables(10.0, known, treats=treats),
        tables(1.5, known, treats=treats),
        tables(10.0, {}, treats=treats),
    )


def worsen(data: st.DataObject, given: dict[str, Any]) -> dict[str, Any] | None:
    """Raise the wear of one part, the noise or the hours of one sheet."""
    rows = [("gauge", row) for row in given.get("gauge", ())] + [("listen", row) for row in given.get("listen", ())]
    if not rows:
        return None
    section, row = data.draw(st.sampled_from(rows))
    factor = data.draw(st.floats(1.0, 4.0))
    if section == "listen":
        name = data.draw(st.sampled_from(sorted(row.keys() & {"noise", "hours"})))
        row[name] = min(row[name] * factor, 20.0 if name == "noise" else 1e6)
        return given
    part = data.draw(st.sampled_from(sorted(row["wear"])))
    row["wear"][part] = f"{float(row['wear'][part].split()[0]) * factor:.3f} mm"
    return given


def scenarios() -> st.SearchStrategy[Scenario]:
    """Scenarios of a check with drawn declarations."""
    return drawn().map(lambda d: Scenario({"drawn": DrawnCheck(d)}, _tables(), worsen, plan_slack=1e-9))
