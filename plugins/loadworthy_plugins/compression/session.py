"""All sheets of a case worked out and put beside each other: which leak-down belongs to which dry readings."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.sdk import NamedTuple
from loadworthy_plugins.compression.dry import DrySet, read_dry, with_mirror
from loadworthy_plugins.compression.engine import read_engine
from loadworthy_plugins.compression.leak import LeakSet, read_leak
from loadworthy_plugins.physics.middle import median

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from loadworthy.sdk import Case, Limits, Sheet
    from loadworthy_plugins.compression.engine import Engine

#: Sheets further apart than this say nothing about each other (judgement: the half-life of this evidence).
BELONGS_WITHIN_DAYS = 90
#: Causes whose repair makes an older record worthless: the engine is another one since.
_REBUILT = ("raised-compression-ratio", "lowered-compression-ratio")


class Session(NamedTuple):
    """Every sheet of the case that this check reads, in order of date."""

    case: Case
    engine: Engine
    limits: Limits
    dry: tuple[DrySet, ...]
    leaks: tuple[LeakSet, ...]

    def leak_of(self, dry: DrySet) -> LeakSet | None:
        """Return the leak-down that belongs to dry readings; None where none was taken near them."""
        index = _nearest(self.case, dry.sheet, [leak.sheet for leak in self.leaks])
        return None if index is None else self.leaks[index]

    def dry_of(self, sheet: Sheet) -> DrySet | None:
        """Return the dry readings that belong to another sheet; None where none were taken near it.

        A set that was probably copied says nothing, so it does not stand in the way of another.
        """
        for sets in ([dry for dry in self.dry if not dry.copied], self.dry):
            index = _nearest(self.case, sheet, [dry.sheet for dry in sets])
            if index is not None:
                return sets[index]
        return None

    def belong(self, one: Sheet, other: Sheet) -> bool:
        """Tell whether two sheets speak of the same state of the engine: near in time, with no repair between."""
        return _nearest(self.case, one, [other]) is not None

    def all_peers(self, leak: LeakSet | None) -> bool:
        """Tell whether every cylinder was found to leak no more than a sound one, by a session that may clear."""
        if leak is None or not leak.clears or leak.missing:
            return False
        watch = self.limits["compression.leak_area_watch"].number
        return all(p.lost is not None and p.lost < watch and not p.refused for p in leak.places)

    def sound(self, dry: DrySet | None, leak: LeakSet | None, *, trusted: bool = True) -> bool:
        """Tell whether all is even, nothing high, nothing known contradicted, and every leak like its peers.

        Not ``trusted``: dry readings that may not be relied on count too, for what a sound set clears is less.
        """
        if dry is None or not dry.complete or not dry.comparable or dry.low or dry.high or dry.balance is None:
            return False
        if dry.engine.flag("oil_use_high") or dry.balance.mirror is not None or dry.all_low:
            return False
        if trusted and any(p.refused for p in dry.places):
            return False
        short = dry.known.spec_min and any(p.standard < dry.known.spec_min for p in dry.places)
        return not short and self.all_peers(leak)


def open_session(case: Case, limits: Limits) -> Session:
    """Work out every sheet of the case."""
    engine = read_engine(case.vehicle)
    leaks = [read_leak(sheet, engine) for sheet in case.of("leak_down")]
    found = tuple(leak for leak in leaks if leak is not None)
    plain = [read_dry(sheet, engine, limits) for sheet in case.of("compression")]
    sets = [one for one in plain if one is not None]
    bare = Session(case, engine, limits, tuple(sets), found)
    dry = []
    for one in sets:
        record = _record(case, one, sets)
        if record is not None:
            one = read_dry(one.sheet, engine, limits, record) or one
        if _crowd_leaks(one, bare.leak_of(one), limits):
            one = with_mirror(one, limits)
        dry.append(one)
    return bare._replace(dry=tuple(dry))


def _nearest(case: Case, sheet: Sheet, others: Sequence[Sheet]) -> int | None:
    """Return the index of the sheet taken nearest, with no repair between; of equally near ones the last."""
    best, least = None, BELONGS_WITHIN_DAYS
    for index, other in enumerate(others):
        days = abs((other.date - sheet.date).days)
        if days <= least and not _repaired_between(case, sheet, other):
            best, least = index, days
    return best


def _repaired_between(case: Case, one: Sheet, other: Sheet) -> bool:
    """Tell whether the engine may have been repaired between two sheets."""
    first, last = sorted((one.date, other.date))
    if first == last:
        return one.retest_of != other.retest_of
    return any(first <= repair.date <= last for repair in case.repairs)


def _record(case: Case, dry: DrySet, sets: Sequence[DrySet]) -> float | None:
    """Return this engine's own record: the highest sound level of earlier sessions, Pa gauge at standard atmosphere."""
    since = [r.date for r in case.repairs if any(t.what in _REBUILT for t in r.treats) and r.date <= dry.sheet.date]
    start = max(since, default=None)
    levels = [
        _level(one)
        for one in sets
        if _earlier(one.sheet, dry.sheet) and _sound(one) and (start is None or one.sheet.date >= start)
    ]
    return max(levels, default=None)


def _earlier(one: Sheet, other: Sheet) -> bool:
    if one.date != other.date:
        return one.date < other.date
    return one.time is not None and other.time is not None and one.time < other.time


def _sound(one: DrySet) -> bool:
    """Tell whether a session, judged without any record, found everything even, complete and comparable."""
    if not one.complete or not one.comparable or one.low or one.high or any(p.refused for p in one.places):
        return False
    if one.known.spec_nominal and _level(one) > one.known.spec_nominal * 1.08:
        return False
    return one.balance is None or len(one.balance.group.members) == len(one.places)


def _level(one: DrySet) -> float:
    return one.balance.group_median if one.balance is not None else median([p.standard for p in one.places])


def _crowd_leaks(dry: DrySet, leak: LeakSet | None, limits: Limits) -> bool:
    """Tell whether a reading above the group is tight while everybody in the group leaks."""
    mirror = dry.balance.mirror if dry.balance is not None else None
    if dry.balance is None or mirror is None or leak is None or not leak.jet.known:
        return False
    fix = limits["compression.leak_area_fix"].number

    def lost(indices: Iterable[int]) -> list[float]:
        found = (leak.place(dry.places[i].cylinder) for i in indices)
        return [p.lost for p in found if p is not None and p.lost is not None]

    above, crowd = lost(mirror.above), lost(dry.balance.group.members)
    return bool(above) and min(above) < fix and bool(crowd) and min(crowd) >= fix
