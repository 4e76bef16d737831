"""What plugins declare: the fields of a case, limits, rules, causes and tests, and the catalogue that holds them.

Every id is declared by exactly one plugin; quantities, groups and vehicle or plan fields may be declared by several
plugins if they are equal.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal

from loadworthy.record import EMPTY, Record, field, frozen, frozen_mapping

if TYPE_CHECKING:
    from collections.abc import Mapping

    from loadworthy.findings import Grade

#: How well a number is known: printed with every limit.
Mark = Literal["published", "common practice, no source", "from memory", "judgement"]
MARKS: tuple[Mark, ...] = ("published", "common practice, no source", "from memory", "judgement")

#: Plan classes from mild to severe (method, section 8).
PlanClass = Literal["none", "mild", "strong", "extreme"]
PLAN_CLASSES: tuple[PlanClass, ...] = ("none", "mild", "strong", "extreme")

#: Failure classes of a cause: (h0, m) are in ``risk``.
Hazard = Literal["none", "rare", "slow", "load", "heat", "speed", "sudden", "already failing"]


@frozen(eq=False, repr=False, slots=False)
class Field(Record):
    """One key of a sheet, of ``[vehicle]`` or of ``[plan]``: readers, prompts, schema and docs all read it.

    ``type``: ``quantity`` (a reading with unit, of unit ``kind``), ``number`` (bare, dimensionless), ``count``
    (whole), ``choice``, ``text``, ``flag`` (true or false), ``date``, ``curve`` (table of speed to a quantity of
    ``kind``), ``series`` (table ``every``, ``unit``, ``values``: evenly spaced samples), ``rows`` (array of tables
    with ``fields``), ``record`` (one table with ``fields``). ``many``: a list of them; for a quantity a list is
    repeats of the same measurement unless ``many`` says that it is a list. ``quantity`` is the demanded quantity that
    a reading measures, if any. ``nested``: a list of lists. ``per``: subject kind; the value is then a table by the
    subject's short key. ``usual`` and ``possible`` are (low, high) in SI, None open; ``usual_by`` = (vehicle field,
    {its value: (low, high)}) is used first. ``u`` and ``u_relative`` are the default standard uncertainties where
    neither sheet nor instrument state one; neither given: a reading without stated uncertainty cannot be judged.
    """

    name: str
    type: Literal[
        "quantity",
        "number",
        "count",
        "choice",
        "text",
        "flag",
        "date",
        "curve",
        "series",
        "rows",
        "record",
    ]
    text: str = ""
    kind: str = ""
    quantity: str = ""
    choices: tuple[str, ...] = ()
    many: bool = False
    nested: bool = False
    per: str = ""
    required: bool = False
    usual: tuple[float | None, float | None] | None = None
    usual_by: tuple[str, Mapping[str, tuple[float | None, float | None]]] | None = None
    possible: tuple[float | None, float | None] | None = None
    u: float | None = None
    u_relative: float | None = None
    caution: str = ""
    help: str = ""
    fields: tuple[Field, ...] = ()


@frozen(eq=False, repr=False, slots=False)
class Fields(Record):
    """Fields that a plugin adds to the case's own ``[vehicle]`` or ``[plan]`` table."""

    table: Literal["vehicle", "plan"]
    fields: tuple[Field, ...]


@frozen(eq=False, repr=False, slots=False)
class Section(Record):
    """One kind of dated sheet: one session and one set-up.

    Exonerating weight from it halves after ``half_life_days`` or ``half_life_km``, whichever is sooner; older than
    ``stale_after`` half-lives it satisfies no requirement. ``ended_by_any_event``: any event of the vehicle ends its
    exoneration, not only those that a cause names. ``tests`` are the workshop tests that fill it.
    """

    id: str
    text: str
    fields: tuple[Field, ...]
    tests: tuple[str, ...] = ()
    half_life_days: float = 180.0
    half_life_km: float = 5000.0
    stale_after: float = 2.0
    ended_by_any_event: bool = False
    caution: str = ""


@frozen(eq=False, repr=False, slots=False)
class Limit(Record):
    """A threshold with its origin. The full id is ``plugin.name``.

    ``value`` in SI of ``kind`` (a unit kind, or ``number``/``text``); ``worse`` is the side on which it is exceeded
    (``setting`` steers a rule). ``grade`` is the grade once beyond, None for settings.
    """

    name: str
    value: float | str | None
    kind: str
    worse: Literal["above", "below", "outside", "setting"]
    text: str
    source: str
    mark: Mark
    grade: Grade | None = None
    applies: str = ""


@frozen(eq=False, repr=False, slots=False)
class Rule(Record):
    """A rule's likelihood ratios: per band and cause, LR = P(result | cause) / P(result | not cause).

    The full id is ``plugin.name``; ``test`` is the workshop test that it judges and ``group`` the physical
    measurement that it shares with other rules (declared groups are global). An LR for a located cause applies to the
    finding's own subject. ``declared`` gives P(band | no cause) where a pair is not LR_f > 1 > LR_n.
    """

    name: str
    section: str
    text: str
    test: str = ""
    group: str = ""
    bands: Mapping[str, Mapping[str, float]] = field(default=EMPTY, converter=frozen_mapping)
    source: str = ""


@frozen(eq=False, repr=False, slots=False)
class Variant(Record):
    """While the limit's finding stands at ``grade``, hazard and person flag replace those of the cause if worse."""

    limit: str
    grade: Grade
    hazard: Hazard
    person: bool = False


@frozen(eq=False, repr=False, slots=False)
class Cause(Record):
    """A physical state that could be present.

    ``located``: subject kind; ``none``, and kinds of which no plugin lists members, take no subject. ``prior``:
    probability for a vehicle of unknown history (of the whole kind: shared equally by its subjects). ``severity`` 1
    (worst) to 4, ``hazard`` and ``driver`` as in the method, section 5. ``retest``: workshop tests that prove the
    repair, the deciding one first. ``events``: kinds of event that end its exoneration.
    """

    id: str
    text: str
    prior: float
    severity: int
    hazard: Hazard
    driver: str = "none"
    located: str = "none"
    person: bool = False
    capacity: bool = False
    not_physical: bool = False
    repair_hours: float = 0.0
    cost_class: int = 1
    remedy: str = ""
    retest: tuple[str, ...] = ()
    excludes: tuple[str, ...] = ()
    events: tuple[str, ...] = ()
    variants: tuple[Variant, ...] = ()
    waivable: bool = True
    mark: Mark = "judgement"


@frozen(eq=False, repr=False, slots=False)
class Broader(Record):
    """A wording that cannot tell its parts apart: evidence on it goes, same weight and group, to each id covered."""

    id: str
    text: str
    covers: tuple[str, ...]
    symptom: str = ""


@frozen(eq=False, repr=False, slots=False)
class SymptomSet(Record):
    """Candidates of a symptom with P(candidate | symptom); the remainder is "none of these"."""

    id: str
    text: str
    candidates: tuple[tuple[str, float], ...]
    when: str = ""


@frozen(eq=False, repr=False, slots=False)
class WorkshopTest(Record):
    """A test that a workshop can do: minutes, set-up, order, cautions. ``weak``: a pass clears little."""

    id: str
    text: str
    minutes: float
    set_up: str
    caution: str
    before: tuple[str, ...] = ()
    after: tuple[str, ...] = ()
    spoils: tuple[str, ...] = ()
    weak: bool = False


@frozen(eq=False, repr=False, slots=False)
class Quantity(Record):
    """A demanded quantity. ``role``: ``speed`` is the axis of every curve, ``load`` the torque itself."""

    id: str
    kind: str
    text: str
    role: Literal["", "speed", "load"] = ""


@frozen(eq=False, repr=False, slots=False)
class Group(Record):
    """An evidence group that more than one plugin uses. ``per_sheet``: the sheet's id is appended."""

    id: str
    text: str
    per_sheet: bool = False


@frozen(eq=False, repr=False, slots=False)
class Requirement(Record):
    """A row of required evidence: per plan class ``R`` required, ``A`` advised, ``-`` not asked.

    ``ceiling`` is what the calibration is held to while the row is unproven (``as_received`` or nothing). ``gate``
    rows are go / no-go checks: missing they bar ``clear``.
    """

    id: str
    text: str
    levels: Mapping[str, Literal["R", "A", "-"]] = field(converter=frozen_mapping)
    section: str = ""
    test: str = ""
    gate: bool = False
    ceiling: Literal["", "as_received"] = "as_received"


#: Everything that ``declare`` may return.
Declaration = Section | Fields | Limit | Rule | Cause | Broader | SymptomSet | WorkshopTest | Quantity | Group


@frozen(eq=False, repr=False, slots=False)
class Catalogue(Record):
    """All declarations of the plugins in use, checked and keyed by id, and who declared what.

    ``shared`` holds what several declare alike, as ``vehicle:key``; its owner is the first of them. ``absent`` names
    plugins whose declarations could not be had: what nobody declares may be theirs.
    """

    sections: Mapping[str, Section] = field(default=EMPTY, converter=frozen_mapping)
    vehicle: Mapping[str, Field] = field(default=EMPTY, converter=frozen_mapping)
    plan: Mapping[str, Field] = field(default=EMPTY, converter=frozen_mapping)
    limits: Mapping[str, Limit] = field(default=EMPTY, converter=frozen_mapping)
    rules: Mapping[str, Rule] = field(default=EMPTY, converter=frozen_mapping)
    causes: Mapping[str, Cause] = field(default=EMPTY, converter=frozen_mapping)
    broader: Mapping[str, Broader] = field(default=EMPTY, converter=frozen_mapping)
    symptoms: Mapping[str, SymptomSet] = field(default=EMPTY, converter=frozen_mapping)
    tests: Mapping[str, WorkshopTest] = field(default=EMPTY, converter=frozen_mapping)
    quantities: Mapping[str, Quantity] = field(default=EMPTY, converter=frozen_mapping)
    groups: Mapping[str, Group] = field(default=EMPTY, converter=frozen_mapping)
    owners: Mapping[str, str] = field(default=EMPTY, converter=frozen_mapping)
    shared: frozenset[str] = frozenset()
    absent: tuple[str, ...] = ()

    def owner(self, family: str, id: str) -> str:
        """Return the plugin that declares ``id`` of ``family`` (``cause``, ``limit`` ...), or an empty string."""
        owner: Any = self.owners.get(f"{family}:{id}", "")
        return str(owner)
