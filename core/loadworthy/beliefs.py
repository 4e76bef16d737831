"""What weighing the evidence yields: findings as they stand, weights as they count, probabilities of causes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.record import NamedTuple, Record, frozen

if TYPE_CHECKING:
    from loadworthy.findings import Finding, Grade, Verdict


class WeightUse(NamedTuple):
    """One weight as it counts: decibans as mixed, after fading, and whether it is the largest of its group.

    ``finding`` is the id of the finding that carries it, ``note`` says what changed it (faded, ended by an event, set
    aside).
    """

    cause: str
    subject: str | None
    group: str
    finding: str
    raw_db: float
    fade: float
    db: float
    counts: bool
    note: str = ""


@frozen(eq=False, repr=False, slots=False)
class Standing(Record):
    """A finding as it stands after sheets, repairs and later results have been taken into account.

    ``state``: ``governs`` (latest sheet on which the rule ran), ``carried`` (an earlier fault that has not healed),
    ``history`` (superseded), ``unknown`` (could not run). ``grade`` is None for an unknown one, ``own_grade`` the
    grade before a carried finding became one step milder. ``fired``: some limit was more likely than not exceeded.
    ``set_aside`` lists (cause, subject, repair) where a repair sets it aside.
    """

    id: str
    plugin: str
    finding: Finding
    state: str
    grade: Grade | None
    own_grade: Grade | None = None
    p_beyond: float | None = None
    borderline: bool = False
    fired: bool = False
    accept: bool = False
    verdict: Verdict | None = None
    why: str = ""
    set_aside: tuple[tuple[str, str | None, str], ...] = ()
    loosened: bool = False

    @property
    def stands(self) -> bool:
        """Whether the finding still has a say: it governs, or is carried."""
        return self.state in ("governs", "carried")


class SymptomShare(NamedTuple):
    """One candidate of a symptom: prior weight, likelihood factor and order of suspicion."""

    cause: str
    subject: str | None
    weight: float
    likelihood: float
    share: float


@frozen(eq=False, repr=False, slots=False)
class SymptomView(Record):
    """A symptom as it stands: its candidates with their shares; ``unexplained`` where none leads."""

    id: str
    set_id: str
    text: str
    plugin: str
    rule: str
    sheet: str
    subject: str | None
    group: str
    p_beyond: float
    strength: float
    shares: tuple[SymptomShare, ...]
    none_share: float
    unexplained: bool
    grade: Grade | None = None


@frozen(eq=False, repr=False, slots=False)
class Belief(Record):
    """P(cause at subject) with every number that led to it.

    ``net`` in decibans from ``positive`` and ``negative`` sums over groups; ``own`` is the probability from evidence
    on the cause itself; ``by_symptom`` lists (id, weight, net without the symptom's group, probability, p_beyond of
    the symptom); ``unfloored`` is the highest of these before ``floor``, the least that a finding by state allows.
    ``excluded_share`` is set where causes that exclude each other are both likely. ``eve`` is P on the eve of the
    last repair.
    """

    cause: str
    subject: str | None
    prior: float
    prior_why: str
    positive: float
    negative: float
    net: float
    own: float
    unfloored: float
    p: float
    active: bool
    conflicting: bool = False
    floor: float = 0.0
    named_by: tuple[str, ...] = ()
    by_symptom: tuple[tuple[str, float, float, float, float], ...] = ()
    weights: tuple[WeightUse, ...] = ()
    eve: float | None = None
    repair: str = ""
    repair_proven: bool = False
    excluded_share: float | None = None
    declared: bool = True


@frozen(eq=False, repr=False, slots=False)
class Weighed(Record):
    """Everything that weighing yields, in a fixed order."""

    standings: tuple[Standing, ...]
    beliefs: tuple[Belief, ...]
    symptoms: tuple[SymptomView, ...]
    advice: tuple[str, ...] = ()
    unproven_repairs: tuple[tuple[str, str], ...] = ()
