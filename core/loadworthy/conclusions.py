"""What follows from evidence and demand, frozen: risks, ceilings over speed, allowed torque, the steps that lift it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.findings import Step
from loadworthy.record import EMPTY, NamedTuple, Record, field, frozen, frozen_mapping

if TYPE_CHECKING:
    from collections.abc import Mapping

    from loadworthy.beliefs import Belief, Standing
    from loadworthy.findings import Assumption, Ceiling, Gap


@frozen(eq=False, repr=False, slots=False)
class Risk(Record):
    """A cause at a subject with its probability and consequence at the planned load.

    ``probability`` is P of the cause, ``failure_probability`` = P h_plan the chance of harm within the horizon,
    ``left_alone`` = P h0 the same without the plan, ``added_by_plan`` the difference. ``level`` comes from the matrix
    of ``probability_level`` and ``severity``; ``expected_loss`` = P_fail x ``loss``. ``h0`` and ``exponent`` belong to
    the hazard class in force, ``ratio`` to its driver (at ``ratio_speed``, rev/s). ``findings`` are all that bear on
    it, ``accused_by`` the ids of those that speak for it, ``set_aside`` of those that a repair sets aside.
    ``share`` gives the order of suspicion per symptom id. ``listed``: it deserves a line of the register.
    """

    id: str
    cause: str
    subject: str | None
    text: str
    level: str
    probability_level: str
    severity: int
    person: bool
    probability: float
    active: bool
    failure_probability: float
    left_alone: float
    expected_loss: float
    loss: float
    hazard: str
    h0: float
    exponent: float
    driver: str
    ratio: float
    h_plan: float
    listed: bool
    ratio_speed: float | None = None
    capacity: bool = False
    origin: str = "evidence"
    declared: bool = True
    share: Mapping[str, float] = field(default=EMPTY, converter=frozen_mapping)
    findings: tuple[Standing, ...] = ()
    accused_by: tuple[str, ...] = ()
    set_aside: tuple[str, ...] = ()
    conflicting: bool = False
    excluded_share: float | None = None
    remedy: str = ""
    retest: tuple[str, ...] = ()
    belief: Belief | None = None
    assumption: Assumption | None = None
    capacity_steps: tuple[Step, ...] = ()

    @property
    def added_by_plan(self) -> float:
        """What the plan adds to the chance of harm."""
        return self.failure_probability - self.left_alone

    @property
    def steps(self) -> tuple[Step, ...]:
        """Every intermediate number from P to rank."""
        if self.capacity:
            middle: tuple[Step, ...] = self.capacity_steps
        else:
            middle = (
                Step("h0", self.h0, "1", f"class {self.hazard}", "method, section 5 (judgement)"),
                Step("m", self.exponent, "1", f"class {self.hazard}", "method, section 5 (judgement)"),
                Step("r", self.ratio, "1", f"{self.driver}, plan to today, largest over speed", "method, section 5"),
                Step("h_plan", self.h_plan, "1", "1 - (1 - h0)^(r^m)", "method, section 5"),
            )
        return (
            Step("P", self.probability, "1", "P of the cause", "method, section 4"),
            *middle,
            Step("P_fail", self.failure_probability, "1", "P h_plan", "method, section 5"),
            Step("P h0", self.left_alone, "1", "what it risks if left alone", "method, section 5"),
            Step("added by plan", self.added_by_plan, "1", "P_fail - P h0", "method, section 5"),
            Step("probability level", self.probability_level, "", "bands of P_fail", "MIL-STD-882E, table A-II"),
            Step("level", self.level, "", f"{self.probability_level} x category {self.severity}", "MIL-STD-882E, III"),
            Step("expected loss", self.expected_loss, "currency", f"P_fail x {self.loss:g}", "method, section 6"),
        )


@frozen(eq=False, repr=False, slots=False)
class CeilingView(Record):
    """A ceiling over the speeds of the demand.

    ``torque`` (N m) per speed: infinite where it cuts nothing, None where it can only be given in words.
    ``as_received`` lists the indices of the speeds at which it could not be converted and holds torque as received;
    ``why`` says for what reason, ``gap`` what evidence would mend that.
    """

    id: str
    plugin: str
    ceiling: Ceiling
    torque: tuple[float | None, ...] = ()
    as_received: tuple[int, ...] = ()
    why: str = ""
    gap: Gap | None = None

    @property
    def hard(self) -> bool:
        """Whether it cuts; an advisory one is only drawn."""
        return self.ceiling.kind == "hard"

    @property
    def in_words(self) -> bool:
        """Whether its torque is unknown at any speed, or there are no speeds to give it at."""
        return not self.torque or None in self.torque


class Gain(NamedTuple):
    """Usable gain: the share of the planned rise that is allowed, per speed (None: base unknown).

    ``lowest``, ``mean`` over speed (trapezoid) and the speeds (rev/s) ``at_zero``; None where not known at every speed.
    """

    values: tuple[float | None, ...]
    lowest: float | None
    mean: float | None
    at_zero: tuple[float, ...]


@frozen(eq=False, repr=False, slots=False)
class Allowed(Record):
    """Largest torque (N m) that every hard ceiling allows, per speed; infinite where none cuts.

    ``binding`` names the ceiling that decides at each speed, or is empty. ``in_words`` lists hard ceilings whose torque
    is not known: what is allowed is then known only to be no more than ``torque``.
    """

    speeds: tuple[float, ...]
    torque: tuple[float, ...]
    binding: tuple[str, ...]
    plan: tuple[float, ...]
    base: tuple[float, ...] | None
    gain: Gain
    in_words: tuple[str, ...] = ()

    @property
    def short_at(self) -> tuple[int, ...]:
        """Indices of the speeds at which less than the plan is allowed."""
        return tuple(i for i, t in enumerate(self.torque) if below(t, self.plan[i]))

    @property
    def carries_plan(self) -> bool:
        """Whether the whole plan is known to be allowed."""
        return bool(self.speeds) and not self.in_words and not self.short_at


@frozen(eq=False, repr=False, slots=False)
class LiftStep(Record):
    """One rung of the ladder: doing ``until`` lifts the ceilings ``lifts`` and gains torque.

    ``gained`` (N m, up to plan) per speed, None where not known; ``worst`` and ``best`` are (speed, torque) among the
    speeds that were short. ``next_binding`` names what binds after it, by speed, empty where the plan is reached.
    ``minutes`` is the test's own time where it is declared. ``allowed`` is the state after the step.
    """

    until: str
    text: str
    lifts: tuple[str, ...]
    gained: tuple[float | None, ...]
    worst: tuple[float, float] | None
    best: tuple[float, float] | None
    next_binding: tuple[str, ...]
    allowed: Allowed
    minutes: float | None = None


class Ladder(NamedTuple):
    """All lift steps in order, and what still binds and cannot be lifted (empty: the plan is reached)."""

    steps: tuple[LiftStep, ...]
    blocked_by: tuple[str, ...]


def below(torque: float, plan: float) -> bool:
    """Return whether ``torque`` is less than ``plan`` by more than rounding.

    >>> below(389.9999999, 390.0), below(389.9, 390.0)
    (False, True)
    """
    return torque < plan - 1e-9 * abs(plan)
