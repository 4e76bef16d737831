"""The one function that runs it all: a case, the plugins, the house and a day give a register."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from loadworthy.ceilings import allow, draw, lift_steps
from loadworthy.core_fields import PURPOSE
from loadworthy.decide import (
    Situation,
    apply_waivers,
    decide,
    required_evidence,
    waived_gaps,
    without_waived,
)
from loadworthy.findings import (
    Advice,
    AtLeast,
    Capacity,
    Ceiling,
    Coverage,
    Gap,
    Gate,
)
from loadworthy.moments import is_stale
from loadworthy.prepare import as_known_on, as_of_day, distorted
from loadworthy.record import NamedTuple, evolve
from loadworthy.register import LimitChange, Register
from loadworthy.restraints import by_grade, in_force, of_unknown_capacities
from loadworthy.risk import LOSSES, build, own_floors, plan_class, plan_ratio
from loadworthy.weigh import weigh

if TYPE_CHECKING:
    import datetime
    from collections.abc import Iterable, Mapping, Sequence

    from loadworthy.beliefs import Standing, Weighed
    from loadworthy.case import Case
    from loadworthy.conclusions import CeilingView, Risk
    from loadworthy.decide import RowState
    from loadworthy.declarations import Catalogue, PlanClass
    from loadworthy.findings import Demand, Result
    from loadworthy.host import Host
    from loadworthy.host.results import HookRun
    from loadworthy.house import House
    from loadworthy.limits import Limits


def assess(case: Case, *, host: Host, house: House | None = None, as_of: datetime.date | None = None) -> Register:
    """Return the register of a case as known on a day (``as_of``, else the case's own, else today).

    A pure function of its arguments: no file is opened, nothing is printed, nothing is kept. Safe to call from many
    threads with one host. Raises DeclarationError where the plugins contradict each other, HouseError where the house
    names what no plugin declares.
    """
    if house is None:
        from loadworthy.house import House

        house = House()
    day = as_of_day(case, as_of)
    asked = _Asked(case, day, host, house)
    return asked.register()


class _Ceilings(NamedTuple):
    views: tuple[CeilingView, ...]
    gaps: tuple[Gap, ...]


class _Asked:
    """What the plugins answered about one case on one day."""

    def __init__(self, case: Case, day: datetime.date, host: Host, house: House) -> None:
        self.day, self.host, self.house = day, host, house
        self.given = case
        self.catalogue: Catalogue = host.catalogue
        self.limits: Limits = house.resolve(self.catalogue)
        self.runs: list[HookRun] = []
        known = as_known_on(case, day)
        self.default_rows = {row.id: row for _, row in self._run(host.requirements()).values}
        self.rows = house.requirements(self.default_rows.values())
        self.case, self.distortions = distorted(known, self._run(host.distort(known)).values, self.catalogue)
        self.subjects = _subjects(self._run(host.subjects(self.case)).values)
        supplied = self._run(host.demand(self.case, house.demand_supplier))
        extended = (
            self._run(host.extend_demand(self.case, supplied.demand)) if supplied.demand is not None else supplied
        )
        self.demand: Demand | None = extended.demand
        self.supplier = supplied.values[0][0] if supplied.values else ""
        self.unused = supplied.unused
        results = self._run(host.examine(self.case, self.demand, self.limits)).values
        reviewed = self._run(host.review(self.case, tuple(result for _, result in results))).values
        self.results: tuple[tuple[str, Result], ...] = (*results, *reviewed)
        self.failures = tuple(sorted({*host.failures, *(failure for run in self.runs for failure in run.failures)}))

    def _run(self, run: HookRun) -> HookRun:
        self.runs.append(run)
        return run

    def _of(self, kind: type[Any]) -> list[tuple[str, Any]]:
        return [(plugin, result) for plugin, result in self.results if isinstance(result, kind)]

    def register(self) -> Register:
        """Weigh, rank, limit and decide."""
        weighed = weigh(self.results, case=self.case, day=self.day, catalogue=self.catalogue, subjects=self.subjects)
        capacities: list[tuple[str, Capacity]] = self._of(Capacity)
        risks = build(
            weighed.beliefs,
            catalogue=self.catalogue,
            demand=self.demand,
            standings=weighed.standings,
            symptoms=weighed.symptoms,
            capacities=[capacity for _, capacity in capacities],
            losses={**LOSSES, **self.house.losses},
        )
        floors = (*own_floors(self.demand), *(floor for _, floor in self._of(AtLeast)))
        classed = plan_class(plan_ratio(self.demand), floors)
        failed = sorted({failure.plugin for failure in self.failures})
        own: list[tuple[str, Ceiling]] = self._of(Ceiling)
        standing = in_force(own, weighed.standings)
        evidence = required_evidence(
            self.rows,
            self._of(Coverage),
            classed.plan_class,
            stale=self._stale(),
            failed=failed,
            owners={id: self.catalogue.owner("section", id) for id in self.catalogue.sections},
            ceilings=standing,
        )
        unproven = {row.id for row in evidence.rows if row.level == "R" and not row.satisfied}
        ceilings = self._drawn(
            (
                *((plugin, c) for plugin, c in standing if not c.row or c.row in unproven),
                *by_grade(weighed.standings, standing, self.catalogue),
                *of_unknown_capacities(capacities, self.catalogue),
                *evidence.ceilings,
            )
        )
        proofs = tuple(_proof_gap(repair, treated) for repair, treated in weighed.unproven_repairs)
        gaps = _merged((*evidence.gaps, *ceilings.gaps, *proofs, *(gap for _, gap in self._of(Gap))))
        waivers = apply_waivers(
            self.case.waivers,
            self.day,
            gaps=gaps,
            standings=weighed.standings,
            risks=risks,
            catalogue=self.catalogue,
            roles=self.house.may_waive,
            never=self._never(evidence.rows, proofs, failed),
        )
        views = without_waived(ceilings.views, waived_gaps(waivers))
        allowed = allow(views, self.demand)
        ladder = lift_steps(views, self.demand, self.catalogue.tests, {row.id: row for row in self.rows})
        decision = decide(
            Situation(
                standings=weighed.standings,
                risks=risks,
                views=views,
                allowed=allowed,
                ladder=ladder,
                demand=self.demand,
                gaps=gaps,
                waivers=waivers,
                failures=[str(failure) for failure in self.failures],
                changed=self._changed(weighed, evidence.rows, classed.plan_class),
                maintenance=frozenset(s.id for s in weighed.standings if s.finding.maintenance),
                required=frozenset(row.id for row in evidence.rows if row.level == "R"),
                planned=bool(self.case.plan.keys() - PURPOSE),
            )
        )
        active = tuple(risk for risk in risks if risk.active)
        unlooked = tuple(risk for risk in risks if risk.listed and not risk.active)
        return Register(
            case=self.case,
            case_digest=self.given.digest,
            as_of=self.day,
            decision=decision,
            plan_class=classed.plan_class,
            plan_class_why=classed.why,
            plan_ratio=classed.ratio,
            demand=self.demand,
            demand_by=self.supplier,
            risks=active,
            unlooked=unlooked,
            unlisted=len(risks) - len(active) - len(unlooked),
            ceilings=views,
            allowed=allowed,
            ladder=ladder,
            rows=evidence.rows,
            gaps=gaps,
            gates=tuple(sorted((gate for _, gate in self._of(Gate)), key=lambda gate: gate.id)),
            waivers=waivers,
            symptoms=weighed.symptoms,
            standings=weighed.standings,
            beliefs=weighed.beliefs,
            assumptions=self._assumptions(active),
            advice=self._advice(weighed),
            notes=self._notes(),
            limits=self.limits,
            limits_changed=_limit_changes(self.limits),
            failures=self.failures,
            plugins=self.host.plugins,
            house_digest=self.house.digest,
            catalogue=self.catalogue,
            seconds=_seconds(self.runs),
        )

    def _stale(self) -> frozenset[str]:
        """Return the ids of the sheets that are too old to satisfy a requirement."""
        sections = self.catalogue.sections
        return frozenset(
            sheet.id for sheet in self.case.sheets if is_stale(sheet, self.case, self.day, sections.get(sheet.section))
        )

    def _drawn(self, ceilings: Iterable[tuple[str, Ceiling]]) -> _Ceilings:
        """Turn ceilings into torque; of several with one id each gets the sheet that it comes from as a suffix."""
        quantities = self.catalogue.quantities
        views = [draw(plugin, ceiling, self.demand, quantities) for plugin, ceiling in ceilings]
        groups: dict[str, list[CeilingView]] = {}
        for view in views:
            groups.setdefault(view.id, []).append(view)
        out = []
        for id, same in groups.items():
            distinct = [view for i, view in enumerate(same) if view not in same[:i]]
            out += distinct if len(distinct) == 1 else _told_apart(id, distinct)
        out.sort(key=lambda view: view.id)
        return _Ceilings(tuple(out), tuple(view.gap for view in out if view.gap is not None))

    def _never(self, rows: Iterable[RowState], proofs: Iterable[Gap], failed: Sequence[str]) -> dict[str, str]:
        """Return the gaps that nobody may waive, with the reason."""
        never = {gap.id: "a repair without its retest cannot be waived" for gap in proofs}
        for row in rows:
            broken = [plugin for plugin in row.failed if plugin in failed]
            if broken:
                never[row.id] = f"a failed check cannot be waived ({', '.join(broken)})"
        return never

    def _changed(self, weighed: Weighed, rows: Iterable[RowState], plan_class: PlanClass) -> tuple[str, ...]:
        """Return what a looser house changed and which sheets were struck out: each costs the outcome ``clear``."""
        lines = [f"a looser limit changed the verdict of {s.id}" for s in weighed.standings if s.stands and s.loosened]
        lines += [
            f"the house does not require what the default does: {row.text}"
            for row in rows
            if not row.satisfied and row.level != "R" and self.default_rows[row.id].levels.get(plan_class) == "R"
        ]
        lines += [
            f"sheet {void.sheet} was struck out by {void.who} on {void.date.isoformat()}: {void.why}"
            for void in self.case.voids
        ]
        return tuple(lines)

    def _assumptions(self, active: Iterable[Risk]) -> tuple[Any, ...]:
        demand = list(self.demand.assumptions) if self.demand is not None else []
        ratios = {risk.assumption for risk in active if risk.assumption is not None}
        return (*demand, *sorted(ratios, key=lambda a: a.what))

    def _advice(self, weighed: Weighed) -> tuple[Advice, ...]:
        own = {advice for _, advice in self._of(Advice)}
        found = {*own, *(Advice(text) for text in weighed.advice)}
        found |= {Advice(text) for text in _borderline(weighed.standings)}
        found |= {
            Advice(f"unexplained: {view.text}; no candidate leads", subject=view.subject, sheet=view.sheet)
            for view in weighed.symptoms
            if view.unexplained
        }
        found |= {
            Advice(f"which is right about {b.cause}{f' at {b.subject}' if b.subject else ''}? the evidence conflicts")
            for b in weighed.beliefs
            if b.conflicting
        }
        return tuple(sorted(found, key=lambda a: (a.text, a.subject or "", a.test, a.sheet)))

    def _notes(self) -> tuple[str, ...]:
        notes = [*self.distortions, *(str(note) for note in self.given.notes)]
        if self.supplier:
            notes += [f"{plugin} could also supply the demand; {self.supplier} does" for plugin in self.unused]
        return tuple(notes)


def _borderline(standings: Iterable[Standing]) -> Iterable[str]:
    for one in standings:
        verdict = one.verdict
        # Only what was measured: no instrument sharpens a value that is predicted.
        if one.stands and one.borderline and one.finding.readings and verdict is not None and verdict.needed_u:
            yield f"a better instrument would decide {one.id}: standard uncertainty {verdict.needed_u:.3g} (SI) needed"


def _subjects(values: Iterable[tuple[str, Any]]) -> dict[str, tuple[str, ...]]:
    """Merge what plugins list per kind; two that differ give the longer list, which shares a prior more thinly."""
    found: dict[str, tuple[str, ...]] = {}
    for _, listed in values:
        for kind, members in listed.items():
            members = tuple(members)
            if kind not in found or (len(members), members) > (len(found[kind]), found[kind]):
                found[kind] = members
    return dict(sorted(found.items()))


def _told_apart(id: str, views: Sequence[CeilingView]) -> list[CeilingView]:
    out, used = [], set()
    for view in sorted(views, key=_distinguishing):
        sheet = view.ceiling.finding[2] if view.ceiling.finding else ""
        name = f"{id}#{sheet}" if sheet else id
        number = 1
        while name in used:
            number += 1
            name = f"{id}#{sheet}:{number}"
        used.add(name)
        out.append(evolve(view, id=name))
    return out


def _distinguishing(view: CeilingView) -> tuple[str, ...]:
    rule, subject, sheet = view.ceiling.finding or ("", None, "")
    return rule, subject or "", sheet, view.ceiling.until, repr(view.ceiling.value)


def _proof_gap(repair: str, treated: str) -> Gap:
    return Gap(
        f"repair:{repair}",
        f"proof of repair {repair} ({treated}) by its retest is missing",
        required=True,
        section="repair",
        write=f'the retest sheet, with retest_of = "{repair}"',
    )


def _merged(gaps: Iterable[Gap]) -> tuple[Gap, ...]:
    """Return the gaps once each, required ones first, then by id."""
    unique: list[Gap] = []
    for gap in gaps:
        if gap not in unique:
            unique.append(gap)
    return tuple(sorted(unique, key=lambda g: (not g.required, g.id, g.subject or "", g.text)))


def _limit_changes(limits: Limits) -> tuple[LimitChange, ...]:
    return tuple(
        LimitChange(limit.id, limit.default, limit.value, limit.kind, limit.looser, limit.reason)
        for limit in limits
        if limit.origin == "house"
    )


def _seconds(runs: Iterable[HookRun]) -> Mapping[str, float]:
    total: dict[str, float] = {}
    for run in runs:
        for plugin, seconds in run.seconds.items():
            total[plugin] = total.get(plugin, 0.0) + seconds
    return dict(sorted(total.items()))
