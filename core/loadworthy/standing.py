"""Which sheet governs, what an older fault still means, and how severe a finding is.

A finding is judged from its verdicts; per rule and subject the latest sheet on which the rule ran governs. A fault
does not heal by being measured again (method, section 2).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.beliefs import Standing
from loadworthy.findings import GRADES, Finding
from loadworthy.moments import later, side_of_repair
from loadworthy.record import evolve

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence

    from loadworthy.case import Repair, Sheet
    from loadworthy.findings import Grade, Verdict

CLEAN_BELOW = 0.05
FIRED_FROM = 0.5
_RANK = {grade: rank for rank, grade in enumerate(GRADES)}
#: Probabilities nearer to each other than this differ by rounding, by another unit say.
_ROUNDING = 1e-9
_MILDER: Mapping[str, Grade] = {"stop": "fix_first", "fix_first": "watch"}


def severity(grade: Grade | None) -> int:
    """Return the rank of a grade: 0 for clean, 4 for stop, -1 for none."""
    return _RANK[grade] if grade is not None else -1


def grade_of(verdict: Verdict, p: float | None = None) -> tuple[Grade, bool, bool]:
    """Return (grade, accept, borderline) of one verdict by the probability that its limit is exceeded.

    Clean below 0.05; borderline up to 0.5: ``watch``, never above the limit's own grade, with ``accept`` where that is
    ``fix_first`` or ``stop``; from 0.5 the limit's grade (simple acceptance, JCGM 106:2012).
    """
    p = verdict.p_beyond if p is None else p
    if p < CLEAN_BELOW:
        return "clean", False, False
    if p < FIRED_FROM:
        grade: Grade = "watch" if _RANK[verdict.grade] > _RANK["watch"] else verdict.grade
        return grade, verdict.grade in ("fix_first", "stop"), True
    return verdict.grade, False, False


def finding_id(finding: Finding) -> str:
    """Return ``plugin.rule[@subject]#sheet``."""
    at = f"@{finding.subject}" if finding.subject else ""
    return f"{finding.rule}{at}#{finding.sheet}"


def judge(plugin: str, finding: Finding) -> Standing:
    """Return the finding as its own verdicts make it, before other sheets are looked at: the worst verdict decides.

    A clean result that may not clear anything (wrong conditions, a refused reading) counts as not run.
    """
    id = finding_id(finding)
    if finding.unknown or not finding.verdicts:
        why = finding.unknown or "no verdict was given"
        return Standing(id=id, plugin=plugin, finding=finding, state="unknown", grade=None, why=why)

    def weight(verdict: Verdict) -> tuple[int, bool, float, str]:
        grade, accept, _ = grade_of(verdict)
        return _RANK[grade], accept, verdict.p_beyond, verdict.limit

    worst = max(finding.verdicts, key=weight)
    grade, accept, borderline = grade_of(worst)
    if grade == "clean" and not finding.clears:
        why = finding.text or "its conditions do not allow it to clear"
        return Standing(id=id, plugin=plugin, finding=finding, state="unknown", grade=None, why=why)
    if finding.max_grade is not None and _RANK[grade] > _RANK[finding.max_grade]:
        accept = accept or grade in ("fix_first", "stop")
        grade = finding.max_grade
    by_default = max(_RANK[grade_of(v, v.default_p)[0]] for v in finding.verdicts)
    loosened = any(v.default_p is not None for v in finding.verdicts) and by_default > _RANK[grade]
    return Standing(
        id=id,
        plugin=plugin,
        finding=finding,
        state="governs",
        grade=grade,
        own_grade=grade,
        p_beyond=worst.p_beyond,
        borderline=borderline,
        fired=any(v.p_beyond >= FIRED_FROM for v in finding.verdicts),
        accept=accept or (finding.accept and grade != "clean"),
        verdict=worst,
        loosened=loosened,
    )


def is_clean(standing: Standing) -> bool:
    """Return whether the rule ran and found nothing."""
    return standing.grade == "clean"


def _worst(runs: Sequence[Standing]) -> Standing:
    """Return the worst run; of equal ones the last id."""
    worst = max((severity(run.grade), run.accept, run.p_beyond or 0.0) for run in runs)
    equal = (
        r for r in runs if (severity(r.grade), r.accept) == worst[:2] and (r.p_beyond or 0.0) > worst[2] - _ROUNDING
    )
    return max(equal, key=lambda run: run.id)


class History:
    """Orders findings by their sheets. ``sheets`` by id, ``repairs`` of the case, ``treats`` the matching function."""

    def __init__(
        self,
        sheets: Mapping[str, Sheet],
        repairs: Sequence[Repair],
        treats: Callable[[Repair, Finding], bool],
    ) -> None:
        self._sheets = sheets
        self._repairs = repairs
        self._treats = treats
        self._proofs = {
            repair.id: tuple(s for s in sheets.values() if s.retest_of == repair.id and s.date == repair.date)
            for repair in repairs
        }

    def side(self, sheet_id: str, repair: Repair) -> int:
        """Return -1, 0 or 1 for a sheet before, unordered to or after a repair (0 for facts without a sheet)."""
        sheet = self._sheets.get(sheet_id)
        return 0 if sheet is None else side_of_repair(sheet, repair, self._proofs.get(repair.id, ()))

    def later(self, a: Standing, b: Standing) -> bool:
        """Return whether ``a`` rests on a sheet certainly later than that of ``b``: by date, time or a repair."""
        one, other = self._sheets.get(a.finding.sheet), self._sheets.get(b.finding.sheet)
        if one is None or other is None or one.date < other.date:
            return False
        if later(one, other):
            return True
        return not later(other, one) and self._between(one, other) and not self._between(other, one)

    def _between(self, a: Sheet, b: Sheet) -> bool:
        """Return whether ``a`` comes after some repair of its day that ``b`` comes before."""
        return any(r.date == a.date and self.side(a.id, r) > 0 > self.side(b.id, r) for r in self._repairs)

    def _latest(self, runs: Sequence[Standing]) -> list[Standing]:
        """Return the runs that no other one is certainly later than; only those of the last day need a closer look."""
        dates = {run.finding.sheet: sheet.date for run in runs if (sheet := self._sheets.get(run.finding.sheet))}
        last = max(dates.values(), default=None)
        candidates = [run for run in runs if dates.get(run.finding.sheet, last) == last]
        return [run for run in candidates if not any(self.later(other, run) for other in candidates)]

    def _healed(self, old: Standing, clean_runs: Sequence[Standing]) -> bool:
        """Say whether a fault is gone: repaired and then clean, or clean on two later days."""
        clean = [run for run in clean_runs if self.later(run, old)]
        if len({self._sheets[run.finding.sheet].date for run in clean}) >= 2:
            return True
        return any(
            self._treats(repair, old.finding)
            and self.side(old.finding.sheet, repair) < 0
            and any(self.side(run.finding.sheet, repair) > 0 for run in clean)
            for repair in self._repairs
        )

    def settle(self, judged: Iterable[Standing]) -> tuple[Standing, ...]:
        """Return all standings with their state: governing, carried, history or unknown, sorted by id."""
        groups: dict[tuple[str, str | None], list[Standing]] = {}
        out: list[Standing] = []
        for standing in judged:
            if standing.state == "unknown":
                out.append(standing)
            else:
                groups.setdefault((standing.finding.rule, standing.finding.subject), []).append(standing)
        for runs in groups.values():
            out.extend(self._settle_runs(runs) if len(runs) > 1 else runs)
        out.sort(key=lambda s: s.id)
        return tuple(out)

    def _settle_runs(self, runs: list[Standing]) -> Iterable[Standing]:
        governing = _worst(self._latest(runs))
        clean = [run for run in runs if is_clean(run)]
        for run in runs:
            if run is governing:
                yield run
            elif run.fired and not self._healed(run, clean):
                yield _carried(run, governing)
            else:
                yield evolve(run, state="history", why=f"superseded by {governing.id}")


def _carried(run: Standing, governing: Standing) -> Standing:
    grade = run.grade
    if grade in ("fix_first", "stop"):
        milder: Grade = _MILDER[grade]
        why = f"measured again ({governing.id}) but not repaired and proven: one step milder, not gone"
        return evolve(run, state="carried", grade=milder, accept=True, why=why)
    why = f"measured again ({governing.id}) but not repaired and proven: its weight stays"
    return evolve(run, state="carried", grade="note", accept=False, why=why)
