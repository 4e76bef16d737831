"""What plugins return: plain frozen values, all numbers in SI.

A result names things by id: rules, limits, causes, quantities, symptom sets, tests and rows are strings
that some plugin declares (see ``declarations``).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal

from loadworthy.record import EMPTY, NamedTuple, Record, field, frozen, frozen_mapping

if TYPE_CHECKING:
    from collections.abc import Mapping

#: Grades from mild to severe. ``clean`` is a finding too: it carries the exonerating weight.
Grade = Literal["clean", "note", "watch", "fix_first", "stop"]
GRADES: tuple[Grade, ...] = ("clean", "note", "watch", "fix_first", "stop")


class Step(NamedTuple):
    """One intermediate number of a derivation, kept for ``why``."""

    label: str
    value: float | str
    unit: str = ""
    formula: str = ""
    source: str = ""


class Verdict(NamedTuple):
    """One reading against one limit.

    ``grade`` is the grade once beyond, ``p_beyond`` the probability of that (exactly 0 or 1 for counts and
    observations). ``limit`` is the limit's id, ``value``, ``unit`` and ``origin`` (default, maker, house) what was
    used. ``needed_u`` is the standard uncertainty with which the reading would be decided.
    """

    grade: Grade
    p_beyond: float
    limit: str = ""
    value: float | str | None = None
    unit: str = ""
    origin: str = ""
    needed_u: float | None = None
    default_p: float | None = None


class Weight(NamedTuple):
    """Weight of evidence in decibans (10 log10 of the likelihood ratio); positive speaks for the cause.

    Given by a plugin only where a ratio is computed; otherwise the rule's table decides. ``group`` is the
    physical measurement or assumption that results share.
    """

    cause: str
    subject: str | None
    db: float
    group: str = ""


class Used(NamedTuple):
    """A reading as a rule used it: where it stands and its value in SI."""

    place: str
    value: float | str
    u: float | None = None
    unit: str = ""


@frozen(eq=False, repr=False, slots=False)
class Finding(Record):
    """What a rule concludes from one sheet about one subject.

    ``rule`` is the rule's id (``plugin.name``). ``verdicts`` empty with ``unknown`` set means that the rule could not
    run, and why. ``bands`` gives the probability of each band of the rule's table, so that the core can mix the
    table's likelihood ratios; ``weights`` adds computed ratios. ``names`` are causes named by state, without a
    weight. ``max_grade`` caps the grade (a verdict under wrong conditions), ``accept`` flags a word of condition.
    """

    rule: str
    sheet: str = ""
    subject: str | None = None
    verdicts: tuple[Verdict, ...] = ()
    text: str = ""
    unknown: str = ""
    bands: Mapping[str, float] = field(default=EMPTY, converter=frozen_mapping)
    weights: tuple[Weight, ...] = ()
    names: tuple[tuple[str, str | None], ...] = ()
    readings: tuple[Used, ...] = ()
    steps: tuple[Step, ...] = ()
    max_grade: Grade | None = None
    accept: bool = False
    clears: bool = True
    maintenance: bool = False


class Candidate(NamedTuple):
    """One possible reason of a symptom: P(cause at subject | symptom)."""

    cause: str
    subject: str | None
    weight: float


@frozen(eq=False, repr=False, slots=False)
class Symptom(Record):
    """A symptom that a rule saw on a sheet; ``id`` names the declared set.

    ``candidates`` empty: the declared set, at ``subject``. ``group`` is the group of the measurement that showed it.
    """

    id: str
    rule: str
    sheet: str
    p_beyond: float
    subject: str | None = None
    group: str = ""
    candidates: tuple[Candidate, ...] = ()
    text: str = ""


@frozen(eq=False, repr=False, slots=False)
class Capacity(Record):
    """A part's own limit, compared with demand.

    ``value`` and ``u`` in SI: a number, or a ``Curve`` over speed; None means unknown. ``use_factor`` multiplies the
    demand. ``probability`` gives P(capacity < demand) per demand speed where the plugin has its own distribution.
    """

    cause: str
    quantity: str
    value: Any = None
    u: float = 0.0
    subject: str | None = None
    use_factor: float = 1.0
    probability: tuple[float, ...] = ()
    demonstrated: Any = None
    finding: str = ""
    text: str = ""
    until: str = ""
    source: str = ""


@frozen(eq=False, repr=False, slots=False)
class Ceiling(Record):
    """A limit that the calibration must respect until something is done.

    ``value``: a number in SI, a ``Curve`` over speed, ``"as_received"`` or ``"standard"``. ``outside`` says what a
    curve does beyond its ends. ``origin`` is ``fault`` or ``gap``; ``until`` one retest or row id that lifts it;
    ``finding`` the ``(rule, subject, sheet)`` of the finding that it comes from: it stands only as long as that
    finding does. ``basis="demonstrated"``: never below base.
    """

    name: str
    quantity: str
    value: Any
    reason: str
    subject: str | None = None
    kind: Literal["hard", "advisory"] = "hard"
    origin: Literal["fault", "gap"] = "fault"
    until: str = ""
    finding: tuple[str, str | None, str] | None = None
    row: str = ""
    outside: Literal["as_received", "hold", "none"] = "as_received"
    basis: str = ""
    steps: tuple[Step, ...] = ()


@frozen(eq=False, repr=False, slots=False)
class Gap(Record):
    """Evidence that the case lacks. ``required`` bars ``clear``; ``test`` is the workshop test that would supply it."""

    id: str
    text: str
    required: bool = False
    section: str = ""
    test: str = ""
    subject: str | None = None
    write: str = ""


@frozen(eq=False, repr=False, slots=False)
class Coverage(Record):
    """A plugin's answer for one row of required evidence.

    The core itself turns ``met`` into stale where every named sheet is older than its section allows.
    """

    row: str
    state: Literal["met", "absent", "unknown", "refused", "stale", "not_applicable"]
    why: str = ""
    sheets: tuple[str, ...] = ()


@frozen(eq=False, repr=False, slots=False)
class Gate(Record):
    """A go / no-go that is not about load; printed beside the outcome and never changes it."""

    id: str
    state: Literal["go", "no_go", "unknown"]
    text: str
    why: str = ""


@frozen(eq=False, repr=False, slots=False)
class AtLeast(Record):
    """The plan counts as at least this class, for a reason that the torque ratio does not show."""

    plan_class: Literal["none", "mild", "strong", "extreme"]
    reason: str


@frozen(eq=False, repr=False, slots=False)
class Advice(Record):
    """A sentence that the register prints: what to look at or repeat, and where it comes from."""

    text: str
    subject: str | None = None
    test: str = ""
    sheet: str = ""


@frozen(eq=False, repr=False, slots=False)
class Distortion(Record):
    """A declared part falsifies a quantity or field: its uncertainty widens, or the reading is refused.

    ``target`` is ``section.field`` (``section.field.key`` of a row), a section-independent name of a field or key, or a
    quantity id of a field. ``widen_by`` adds a standard uncertainty in SI, ``widen_relative`` one relative to the
    value, both in quadrature.
    """

    target: str
    reason: str
    action: Literal["widen", "refuse"] = "widen"
    widen_by: float = 0.0
    widen_relative: float = 0.0


class Assumption(NamedTuple):
    """A value that was taken because none was given: what, value, why, standard uncertainty, origin."""

    what: str
    value: float | str
    unit: str = ""
    why: str = ""
    u: float | None = None
    origin: str = "default"


class Band(NamedTuple):
    """One demanded quantity: rows by speed, columns by load step; low and high at two standard uncertainties."""

    low: tuple[tuple[float, ...], ...]
    nominal: tuple[tuple[float, ...], ...]
    high: tuple[tuple[float, ...], ...]


@frozen(eq=False, repr=False, slots=False)
class Demand(Record):
    """What the plan asks of every part, over speed and load.

    ``speeds`` in rev/s, rising. ``torque[i]`` are the load steps at speed i in N m, rising, as many at every speed,
    from 0.4 to 1.2 of plan and holding plan and base themselves. ``quantities`` maps a quantity id to its band over
    the same grid. ``plan`` and ``base`` are torques at the speeds; base None means unknown. ``base_source`` says
    where base comes from.
    """

    speeds: tuple[float, ...]
    torque: tuple[tuple[float, ...], ...]
    plan: tuple[float, ...]
    base: tuple[float, ...] | None = None
    standard: tuple[float, ...] | None = None
    quantities: Mapping[str, Band] = field(default=EMPTY, converter=frozen_mapping)
    base_source: str = ""
    basis: str = "default"
    assumptions: tuple[Assumption, ...] = ()


#: Everything that ``examine`` may return.
Result = Finding | Symptom | Capacity | Ceiling | Gap | Coverage | Gate | AtLeast | Advice
