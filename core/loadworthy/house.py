"""House settings: what a shop decides for itself, each with its reason, and what that makes of limits and rows.

Everything has a default; ``House()`` is a house without settings of its own. Tighter settings apply at once; a looser
limit is marked wherever it was used, and less evidence may be asked for only where somebody may waive it (method,
sections 8 and 9).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal

from loadworthy.declarations import PLAN_CLASSES
from loadworthy.limits import Limits, ResolvedLimit
from loadworthy.record import EMPTY, NamedTuple, Record, evolve, field, frozen, frozen_mapping

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from os import PathLike

    from loadworthy.case import Instrument
    from loadworthy.casefile.faults import Faults
    from loadworthy.declarations import Catalogue, Limit, Requirement
    from loadworthy.errors import HouseError

#: What usable gain is worth by default, in the house's currency units (judgement).
PLAN_VALUE = 1000.0
#: How a row may stand, in the words of a house file.
LEVELS: dict[str, Literal["R", "A", "-"]] = {"required": "R", "advised": "A", "not asked": "-"}
_STRICTNESS = {"-": 0, "A": 1, "R": 2}

Direction = Literal["tighter", "looser", "changed", "same"]


class LimitOverride(NamedTuple):
    """A limit as the house file writes it: number or text with unit; ``high`` only for two-sided limits."""

    id: str
    value: float | str
    reason: str
    high: float | str | None = None
    line: int | None = None


class RowChange(NamedTuple):
    """Levels (``R``, ``A``, ``-``) of a row of required evidence, by plan class, that the house sets itself."""

    row: str
    levels: Mapping[str, Literal["R", "A", "-"]]
    reason: str
    line: int | None = None


class Override(NamedTuple):
    """Provenance of one setting: what it replaces, and whether that lets less pass (``tighter``) or more (``looser``).

    ``changed``: neither can be said (a setting, a text, no default).
    """

    what: Literal["limit", "row"]
    id: str
    default: float | str | None
    value: float | str | None
    direction: Direction
    reason: str


@frozen(eq=False, repr=False, slots=False)
class House(Record):
    """The settings of one house.

    ``may_waive`` maps a role (or a name) to what it may waive: ids of rows and rules, or beginnings of them with ``*``.
    ``losses`` replaces the loss per severity category, ``plan_value`` is what the whole gain is worth; both in the
    house's currency units. ``demand_supplier`` is the plugin that supplies demand, None for the first.
    """

    limits: tuple[LimitOverride, ...] = ()
    rows: tuple[RowChange, ...] = ()
    may_waive: Mapping[str, tuple[str, ...]] = field(default=EMPTY, converter=frozen_mapping)
    losses: Mapping[int, float] = field(default=EMPTY, converter=frozen_mapping)
    plan_value: float = PLAN_VALUE
    demand_supplier: str | None = None
    instruments: tuple[Instrument, ...] = ()
    letterhead: str = ""
    path: str = ""

    @classmethod
    def load(cls, path: str | PathLike[str], *, catalogue: Catalogue | None = None) -> House:
        """Read a house file (TOML). With a ``catalogue`` its limits are checked too.

        Raises HouseError with every fault at once, each with its line.
        """
        from loadworthy.house_file import load

        return load(path, catalogue)

    @classmethod
    def from_dict(cls, data: Mapping[str, Any], *, catalogue: Catalogue | None = None) -> House:
        """Build settings from the tables of a house file, parsed already. Raises HouseError with every fault."""
        from loadworthy.house_file import from_dict

        return from_dict(data, catalogue)

    def resolve(self, catalogue: Catalogue) -> Limits:
        """Return every declared limit as it is in force.

        Raises HouseError where the house sets a limit that nobody declares, or to something that it cannot be.
        """
        resolved = {id: _default(id, limit) for id, limit in catalogue.limits.items()}
        if self.limits:
            from loadworthy.casefile.faults import Faults

            faults = Faults()
            resolved |= self._overridden(catalogue, faults)
            self._refuse(faults, {_place(one): one.line for one in self.limits})
        return Limits(resolved)

    def limit_faults(self, catalogue: Catalogue, faults: Faults) -> None:
        """Add what is wrong with the limits of this house."""
        self._overridden(catalogue, faults)

    def requirements(self, rows: Iterable[Requirement]) -> tuple[Requirement, ...]:
        """Return the rows of required evidence as this house asks for them.

        Raises HouseError for a row that does not exist, and where less is asked for although no role may waive the row.
        """
        table = {row.id: row for row in rows}
        if not self.rows:
            return tuple(table.values())
        from loadworthy.casefile.faults import Faults

        faults = Faults()
        for change in self.rows:
            row = table.get(change.row)
            place = f"require.{change.row}"
            if row is None:
                faults.add(
                    "unknown-row", place, "no installed plugin asks for this row", faults.one_of(change.row, table)
                )
                continue
            loosened = [c for c, level in change.levels.items() if _STRICTNESS[level] < _STRICTNESS[row.levels[c]]]
            if loosened and not self._someone_may_waive(row.id):
                problem = f"asks for less than the default for {', '.join(loosened)}, and nobody may waive this row"
                faults.add("no-waiver", place, problem, f'add [[may_waive]] with a role and what = ["{row.id}"]')
                continue
            table[row.id] = evolve(row, levels={**row.levels, **change.levels})
        self._refuse(faults, {f"require.{change.row}": change.line for change in self.rows})
        return tuple(table.values())

    def overrides(self, catalogue: Catalogue, rows: Iterable[Requirement] = ()) -> tuple[Override, ...]:
        """Return every limit and every level of ``rows`` that differs from its default, sorted. Raises as they do."""
        limits = self.resolve(catalogue)
        found = [
            Override("limit", one.id, one.default, one.value, direction(one), one.reason)
            for one in limits
            if one.origin == "house"
        ]
        listed = tuple(rows)
        reasons = {change.row: change.reason for change in self.rows}
        for before, after in zip(listed, self.requirements(listed), strict=True):
            for name in PLAN_CLASSES:
                old, new = before.levels[name], after.levels[name]
                if old != new:
                    way: Direction = "tighter" if _STRICTNESS[new] > _STRICTNESS[old] else "looser"
                    found.append(Override("row", f"{before.id}.{name}", old, new, way, reasons[before.id]))
        return tuple(sorted(found, key=lambda one: (one.what, one.id)))

    @property
    def digest(self) -> str:
        """SHA-256 of the settings as written (64 hexadecimal digits), whatever the order and layout of the file."""
        from loadworthy.casefile.digest import _sha256, canonical

        content = {
            "limits": {one.id: (_plain(one.value), _plain(one.high), one.reason) for one in self.limits},
            "require": {one.row: (dict(one.levels), one.reason) for one in self.rows},
            "may_waive": {role: tuple(sorted(what)) for role, what in self.may_waive.items()},
            "loss": {str(category): loss for category, loss in self.losses.items()},
            "plan_value": self.plan_value,
            "demand": self.demand_supplier,
            "instrument": {one.id: one for one in self.instruments},
            "letterhead": self.letterhead,
        }
        return _sha256(canonical(content))

    def _someone_may_waive(self, row: str) -> bool:
        patterns = [pattern for what in self.may_waive.values() for pattern in what]
        return any(row.startswith(p[:-1]) if p.endswith("*") else row == p for p in patterns)

    def _overridden(self, catalogue: Catalogue, faults: Faults) -> dict[str, ResolvedLimit]:
        from loadworthy.casefile.days import Days
        from loadworthy.casefile.values import Values

        values = Values(faults, Days(faults))
        resolved = {}
        for one in self.limits:
            limit = catalogue.limits.get(one.id)
            if limit is None:
                write = faults.one_of(one.id, catalogue.limits)
                faults.add("unknown-limit", _place(one), "no installed plugin declares this limit", write)
                continue
            value = _value(one.value, limit, values, f"{_place(one)}.value")
            high = None
            if one.high is not None and limit.worse != "outside":
                faults.add("unused", f"{_place(one)}.high", "this limit has one side only", "take this out")
            elif one.high is not None:
                upper = _value(one.high, limit, values, f"{_place(one)}.high")
                high = upper if isinstance(upper, float) else None
            if high is not None and isinstance(value, float) and high < value:
                faults.add("bad-value", f"{_place(one)}.high", "this lies below value", "swap the two")
            resolved[one.id] = evolve(
                _default(one.id, limit), value=value, high=high, origin="house", reason=one.reason
            )
        return resolved

    def _refuse(self, faults: Faults, lines: Mapping[str, int | None]) -> None:
        if faults.faults:
            listed = [
                fault._replace(line=next((n for place, n in lines.items() if fault.place.startswith(place)), None))
                for fault in faults.faults
            ]
            raise refusal(self.path, listed)


def direction(limit: ResolvedLimit) -> Direction:
    """Return which way a limit was moved from its default."""
    value, default = limit.value, limit.default
    if value == default:
        return "same"
    if not isinstance(value, (int, float)) or not isinstance(default, (int, float)):
        return "changed"
    if limit.worse not in ("above", "below"):
        return "changed"
    return "looser" if (value > default) == (limit.worse == "above") else "tighter"


def refusal(name: str, faults: Iterable[Any]) -> HouseError:
    """Return the error that refuses house settings for these faults."""
    from loadworthy.errors import HouseError

    listed = tuple(sorted(faults, key=lambda fault: fault.line or 0))
    count = "1 fault" if len(listed) == 1 else f"{len(listed)} faults"
    return HouseError(f"{name or 'house settings'} cannot be used: {count}", listed)


def _plain(written: float | str | None) -> float | str | None:
    """Return 4 as 4.0: it is the same setting."""
    return float(written) if isinstance(written, int) else written


def _default(id: str, limit: Limit) -> ResolvedLimit:
    return ResolvedLimit(id, limit.value, limit.kind, limit.worse, limit.grade, default=limit.value)


def _place(one: LimitOverride) -> str:
    return f"limits.{one.id}"


def _value(raw: float | str, limit: Limit, values: Any, place: str) -> float | str | None:
    """Return the value of a limit in SI, None with a fault where it cannot be one."""
    from loadworthy.casefile.values import BAD

    if limit.kind == "text":
        if isinstance(raw, str) and raw.strip():
            return raw
        values.faults.add("wrong-type", place, f"{raw!r} stands where a text is needed")
        return None
    if limit.kind == "number":
        if not isinstance(raw, str):
            return float(raw)
        values.faults.add(
            "wrong-type", place, f'"{raw}" stands where a bare number is needed', "write it without quotes"
        )
        return None
    amount = values.amount(raw, limit.kind, place)
    if amount is BAD:
        return None
    if amount.u is not None:
        values.faults.add("bad-value", place, "a limit takes no uncertainty", 'leave out "+- ..."')
    return float(amount.value)
