"""Required evidence: the rows of the house's table against what the checks answered (method, section 8)."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.findings import Ceiling, Gap
from loadworthy.record import NamedTuple

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping

    from loadworthy.declarations import PlanClass, Requirement
    from loadworthy.findings import Coverage

#: How far a row is from being met, from best to worst; the first two satisfy it.
STATES = ("not_applicable", "met", "stale", "refused", "unknown", "absent")
#: Owner of the ceilings that rows set.
OWNER = "required"
#: The gap of a case for which nothing at all is required: nobody has said what evidence is enough.
NO_ROWS = "required_evidence"

_WORDS = {
    "stale": "is out of date",
    "refused": "cannot be used",
    "unknown": "could not be judged",
    "absent": "is missing",
}


class RowState(NamedTuple):
    """A row of required evidence as it stands. ``level`` is R, A or - for this plan, ``failed`` names checks."""

    id: str
    text: str
    level: str
    state: str
    why: str
    sheets: tuple[str, ...] = ()
    gate: bool = False
    failed: tuple[str, ...] = ()

    @property
    def satisfied(self) -> bool:
        """Whether the evidence is there and fresh, or not applicable."""
        return self.state in STATES[:2]


class Evidence(NamedTuple):
    """All rows, the gaps that they leave, and the ceilings that hold while a required row is unproven."""

    rows: tuple[RowState, ...]
    gaps: tuple[Gap, ...]
    ceilings: tuple[tuple[str, Ceiling], ...]


def required_evidence(
    requirements: Iterable[Requirement],
    coverages: Iterable[tuple[str, Coverage]],
    plan_class: PlanClass,
    *,
    stale: Collection[str] = (),
    failed: Collection[str] = (),
    owners: Mapping[str, str] | None = None,
    ceilings: Iterable[tuple[str, Ceiling]] = (),
) -> Evidence:
    """Hold the answers against the table for this class of plan.

    ``coverages`` are (plugin, answer) pairs; several answers for one row count as the worst of them. ``stale`` are ids
    of sheets too old to satisfy anything; a row is stale where all its sheets are. What a plugin in ``failed`` answered
    is missing, and so is every row whose section it owns (``owners``: section to plugin). A row that nobody answers is
    missing. ``ceilings`` are those that plugins set; one that names a row stands in for the row's own.
    """
    answers: dict[str, list[tuple[str, Coverage]]] = {}
    for plugin, coverage in coverages:
        answers.setdefault(coverage.row, []).append((plugin, coverage))
    table = sorted({row.id: row for row in requirements}.values(), key=lambda row: row.id)
    given = {ceiling.row for plugin, ceiling in ceilings if plugin not in failed and ceiling.kind == "hard"}
    rows, gaps, held = [], [], []
    for row in table:
        owner = (owners or {}).get(row.section, "")
        state = _state(row, plan_class, answers.get(row.id, ()), stale, failed, owner)
        rows.append(state)
        if state.satisfied or state.level == "-":
            continue
        required = state.level == "R"
        gaps.append(
            Gap(
                row.id,
                f"{row.text} {state.why}",
                required,
                section=row.section,
                test=row.test,
                write=_write(row, state),
            )
        )
        if required and row.ceiling and row.id not in given:
            reason = f"{row.text} {state.why}"
            held.append(
                (
                    OWNER,
                    Ceiling(row.id, "", row.ceiling, reason, origin="gap", until=row.id, row=row.id),
                )
            )
    if not table:
        text = "no table of required evidence: nobody has said what is enough"
        gaps.append(Gap(NO_ROWS, text, required=True, write="install or write a table of required evidence"))
    return Evidence(tuple(rows), tuple(gaps), tuple(held))


def _state(
    row: Requirement,
    plan_class: PlanClass,
    answers: Iterable[tuple[str, Coverage]],
    stale: Collection[str],
    failed: Collection[str],
    owner: str,
) -> RowState:
    found: list[tuple[int, str, tuple[str, ...]]] = []
    broken = {owner} & set(failed)
    for plugin, answer in answers:
        state, why = str(answer.state), answer.why
        if plugin in failed:
            broken.add(plugin)
            continue
        if state == "met" and answer.sheets and all(sheet in stale for sheet in answer.sheets):
            state = "stale"
        found.append((STATES.index(state) if state in STATES else len(STATES) - 1, why, answer.sheets))
    for plugin in sorted(broken):
        found.append((STATES.index("unknown"), f"the check {plugin} failed", ()))
    if not found:
        found.append((len(STATES) - 1, "no installed check answers for it", ()))
    worst, why, sheets = max(found, key=lambda f: (f[0], f[1], f[2]))
    state = STATES[worst]
    words = _WORDS.get(state, "")
    # A class that the table does not name is held to the full.
    level = row.levels.get(plan_class, "R")
    text = f"{words}: {why}" if words and why else words or why
    return RowState(row.id, row.text, level, state, text, sheets, row.gate, tuple(sorted(broken)))


def _write(row: Requirement, state: RowState) -> str:
    if state.failed:
        return f"mend or remove the check {', '.join(state.failed)}"
    return f"enter a new sheet [[{row.section}]]" if row.section else ""
