"""The register: everything that follows from one case on one day, frozen."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from loadworthy.record import EMPTY, NamedTuple, Record, field, frozen, frozen_mapping

if TYPE_CHECKING:
    import datetime
    from collections.abc import Mapping

    from loadworthy.beliefs import Belief, Standing, SymptomView
    from loadworthy.case import Case
    from loadworthy.conclusions import Allowed, CeilingView, Ladder, Risk
    from loadworthy.decide import Decision, RowState, WaiverView
    from loadworthy.declarations import Catalogue, PlanClass
    from loadworthy.findings import Advice, Assumption, Demand, Gap, Gate
    from loadworthy.host.results import PluginFailure, PluginInfo
    from loadworthy.limits import Limits


class LimitChange(NamedTuple):
    """A limit that the house overrides: the full id, both values (SI of ``kind``) and why."""

    id: str
    default: float | str | None
    value: float | str | None
    kind: str
    looser: bool
    reason: str


@frozen(eq=False, repr=False, slots=False)
class Register(Record):
    """What the core concludes from a case: a pure function of case, plugins, house settings and day.

    ``case`` is the case as known on the day, without struck out sheets; ``case_digest`` is that of the case as given.
    ``risks`` are the active ones in rank order; ``unlooked`` inactive ones that deserve a line ("not looked into") and
    ``unlisted`` counts the rest. ``standings``, ``beliefs``, ``limits`` and ``catalogue`` keep all numbers for ``why``.
    """

    case: Case
    case_digest: str
    as_of: datetime.date
    decision: Decision
    plan_class: PlanClass
    plan_class_why: tuple[str, ...]
    plan_ratio: float | None
    demand: Demand | None
    demand_by: str
    risks: tuple[Risk, ...]
    unlooked: tuple[Risk, ...]
    unlisted: int
    ceilings: tuple[CeilingView, ...]
    allowed: Allowed
    ladder: Ladder
    rows: tuple[RowState, ...]
    gaps: tuple[Gap, ...]
    gates: tuple[Gate, ...]
    waivers: tuple[WaiverView, ...]
    symptoms: tuple[SymptomView, ...]
    standings: tuple[Standing, ...]
    beliefs: tuple[Belief, ...]
    assumptions: tuple[Assumption, ...]
    advice: tuple[Advice, ...]
    notes: tuple[str, ...]
    limits: Limits
    limits_changed: tuple[LimitChange, ...]
    failures: tuple[PluginFailure, ...]
    plugins: tuple[PluginInfo, ...]
    house_digest: str
    catalogue: Catalogue
    seconds: Mapping[str, float] = field(default=EMPTY, converter=frozen_mapping)

    @property
    def outcome(self) -> str:
        """``clear``, ``limited``, ``incomplete`` or ``hold``."""
        return self.decision.outcome

    def to_dict(self) -> dict[str, Any]:
        """Return the register as plain data, ``loadworthy/register/1``: SI numbers with their units, keys sorted."""
        from loadworthy.outputs.plain import register_to_dict

        return register_to_dict(self)
