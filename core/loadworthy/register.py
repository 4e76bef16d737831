"""The register: everything that follows from one case on one day, frozen."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from attrs import field, frozen

from loadworthy.record import EMPTY, Record, frozen_mapping

if TYPE_CHECKING:
    import datetime
    from collections.abc import Mapping

    from loadworthy.beliefs import Belief, Standing, SymptomView
    from loadworthy.case import Case, Void
    from loadworthy.ceilings import Allowed, CeilingView, Gain, LiftStep
    from loadworthy.declarations import Catalogue, PlanClass
    from loadworthy.decide import Decision, WaiverView
    from loadworthy.findings import Advice, Assumption, Coverage, Demand, Gap, Gate
    from loadworthy.host import PluginFailure, PluginInfo
    from loadworthy.risk import Risk


class LimitChange(NamedTuple):
    """A limit that the house overrides: the full id, both values and why."""

    id: str
    default: float | str | None
    value: float | str | None
    kind: str
    looser: bool
    reason: str


@frozen(eq=False, repr=False)
class Register(Record):
    """What the core concludes from a case: a pure function of case, plugins, house settings and day.

    ``risks`` are the active ones in rank order; ``unlooked`` inactive ones that deserve a line ("not looked into") and
    ``unlisted`` counts the rest. ``standings``, ``beliefs`` and ``catalogue`` keep every number for ``why``.
    """

    case: Case
    as_of: datetime.date
    decision: Decision
    plan_class: PlanClass
    plan_class_why: tuple[str, ...]
    demand: Demand | None
    demand_by: str
    risks: tuple[Risk, ...]
    unlooked: tuple[Risk, ...]
    unlisted: int
    ceilings: tuple[CeilingView, ...]
    allowed: Allowed
    gain: Gain
    lift_steps: tuple[LiftStep, ...]
    gaps: tuple[Gap, ...]
    gates: tuple[Gate, ...]
    coverage: tuple[Coverage, ...]
    waivers: tuple[WaiverView, ...]
    symptoms: tuple[SymptomView, ...]
    standings: tuple[Standing, ...]
    beliefs: tuple[Belief, ...]
    assumptions: tuple[Assumption, ...]
    advice: tuple[Advice, ...]
    notes: tuple[str, ...]
    voids: tuple[Void, ...]
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
        """Return the register as plain data, ``loadworthy/register/1``: numbers in SI with their units, keys sorted."""
        from loadworthy.outputs.plain import register_to_dict

        return register_to_dict(self)
