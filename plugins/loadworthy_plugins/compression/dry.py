"""One session of cranking compression, fully worked out: readings, reference, who is low, who is high, what they share.

Every rule on dry readings reads a ``DrySet``; none computes the balance itself.
"""

from __future__ import annotations

from math import isclose, sqrt
from typing import TYPE_CHECKING

from loadworthy.sdk import NamedTuple, p_above
from loadworthy_plugins.compression.balance import (
    CRITICAL_RANGE,
    LEAST_DEFICIT,
    UNKNOWN,
    Balance,
    Known,
    Repeatability,
    compare,
    repeatability,
)
from loadworthy_plugins.compression.conditions import Conditions, ambient, dry_conditions
from loadworthy_plugins.compression.drift import Drift, drift
from loadworthy_plugins.compression.geometry import standard_reading
from loadworthy_plugins.shared_results import number

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from loadworthy.sdk import Limits, Reading, Sheet
    from loadworthy_plugins.compression.engine import Engine


class Place(NamedTuple):
    """One cylinder as judged: deficit, its standard uncertainty, the least deficit that is a finding.

    ``p_low`` is the probability that the deficit is a finding; ``mirrored`` says that the readings above judged it.
    ``excused`` says that nothing worse than a watch is left once the trend of a drifting set is removed.
    """

    cylinder: int
    reading: float
    standard: float
    u: float | None
    refused: str
    deficit: float
    spread: float
    least: float
    p_low: float
    rise: float
    p_high: float
    mirrored: bool
    excused: bool

    @property
    def low(self) -> bool:
        """Tell whether the cylinder is low: by size and beyond the scatter."""
        return self.deficit >= self.least

    @property
    def high(self) -> bool:
        """Tell whether the cylinder is high."""
        return self.p_high >= 0.5


class DrySet(NamedTuple):
    """A session of dry readings. ``places`` in order of cylinder number; ``missing`` cylinders have no reading.

    ``known`` values, like ``Place.standard``, are corrected to standard atmosphere; without the air pressure of the day
    the readings stand uncorrected and ``air`` is None. ``mirror_own`` says that the mirror judges the group itself.
    """

    sheet: Sheet
    engine: Engine
    places: tuple[Place, ...]
    missing: tuple[int, ...]
    air: float | None
    conditions: Conditions
    repeats: Repeatability
    pairs: tuple[tuple[float, float], ...]
    drift: Drift | None
    known: Known
    balance: Balance | None
    copied: bool
    mirror_own: bool

    def place(self, cylinder: int) -> Place | None:
        """Return how one cylinder was judged; None without a reading."""
        return next((p for p in self.places if p.cylinder == cylinder), None)

    @property
    def low(self) -> tuple[int, ...]:
        """Cylinders that are low."""
        return tuple(p.cylinder for p in self.places if p.low)

    @property
    def high(self) -> tuple[int, ...]:
        """Cylinders that are high."""
        return tuple(p.cylinder for p in self.places if p.high)

    @property
    def sound_value(self) -> float | None:
        """The larger of maker's nominal and own record, Pa gauge at standard atmosphere."""
        values = [v for v in (self.known.spec_nominal, self.known.record) if v is not None]
        return max(values, default=None)

    @property
    def complete(self) -> bool:
        """Tell whether every cylinder has a reading."""
        return bool(self.places) and not self.missing

    @property
    def comparable(self) -> bool:
        """Tell whether the readings may clear anything: conditions, repeatability, no drift, not copied."""
        steady = self.drift is None or not self.drift.drifting
        return self.conditions.clear and self.repeats.comparable and steady and not self.copied

    @property
    def evenly_low(self) -> bool:
        """Tell whether all cylinders are low alike: within the critical range of so many readings."""
        values = [p.standard for p in self.places]
        if not self.all_low or len(values) < 2:
            return self.all_low
        mean = sum(values) / len(values)
        factor = CRITICAL_RANGE[min(len(values), 12) - 2]
        return max(values) - min(values) <= factor * self.repeats.value * mean

    @property
    def all_low(self) -> bool:
        """Tell whether every cylinder is low against maker's nominal or record, or under the maker's minimum."""
        return self.p_all_low >= 0.5

    @property
    def p_all_low(self) -> float:
        """Probability that even the highest reading is low against what is known from elsewhere; 0 without that."""
        if not self.complete:
            return 0.0
        top = max(self.places, key=lambda p: p.standard)
        found = 0.0
        if self.sound_value:
            spread = self.repeats.value * sqrt(1.0 + 1.0 / len(self.places))
            found = p_above(1.0 - top.standard / self.sound_value, spread, max(LEAST_DEFICIT, 2.5 * spread))
        if self.known.spec_min:
            u = top.u or self.repeats.value * top.standard or 1.0
            found = max(found, p_above(self.known.spec_min - top.standard, u, 0.0))
        return found

    @property
    def at_spec(self) -> bool:
        """Tell whether every reading meets the maker's minimum, or stands within 5 % of nominal or record."""
        if not self.complete or self.air is None:
            return False
        if self.known.spec_min:
            return all(p.standard >= self.known.spec_min for p in self.places)
        sound = self.sound_value
        return sound is not None and all(abs(p.standard / sound - 1.0) <= LEAST_DEFICIT for p in self.places)


def cylinder_values(sheet: Sheet, name: str) -> dict[int, Reading]:
    """Return a per-cylinder quantity by number, in order; keys that are no numbers are left out."""
    given: Mapping[str, Reading] = sheet.get(name) or {}
    found = {int(key): value for key, value in given.items() if str(key).isdigit() and number(value) is not None}
    return dict(sorted(found.items()))


def gauge_zero(sheet: Sheet) -> float:
    """Return what the gauge of this session shows open to air, Pa: taken off every reading."""
    return number(sheet.get("gauge_zero_error")) or 0.0


def zeroed(sheet: Sheet, name: str) -> dict[int, float]:
    """Return per-cylinder pressures by number, Pa gauge, with the zero error taken off and none below zero."""
    zero = gauge_zero(sheet)
    return {n: max(0.0, reading.value - zero) for n, reading in cylinder_values(sheet, name).items()}


def known_values(engine: Engine, record: float | None) -> Known:
    """Return maker's figures and own record; a motor-generator start compares with the record alone."""
    if engine.flag("motor_generator_start"):
        return Known(record=record)
    return Known(record, engine.value("compression_spec_nominal"), engine.value("compression_spec_min"))


def read_dry(sheet: Sheet, engine: Engine, limits: Limits, record: float | None = None) -> DrySet | None:
    """Work out one sheet of dry readings; None where it holds none. ``record`` in Pa gauge at standard atmosphere."""
    given = cylinder_values(sheet, "dry_reading")
    if not given or not engine.cylinders:
        return None
    read = {n: value for n, value in zeroed(sheet, "dry_reading").items() if n <= engine.cylinders}
    if not read:
        return None
    cylinders = tuple(read)
    pairs = _pairs(sheet, given)
    repeats = repeatability(pairs)
    trend = _drift(sheet, read, repeats.value)
    air = ambient(sheet)
    known = known_values(engine, record)
    factor = standard_reading(1.0, air) if air else 1.0
    standard = [read[n] * factor for n in cylinders]
    balance = _compare(standard, repeats.value, known, engine.cylinders)
    without = None
    if trend is not None and trend.drifting:
        order = _order(sheet)
        removed = {n: value * factor for n, value in zip(order, trend.without, strict=True)}
        without = _compare([removed[n] for n in cylinders], repeats.value, known, engine.cylinders)
    mirror_own = (
        balance is not None
        and balance.mirror is not None
        and known.spec_min is not None
        and balance.group_median < known.spec_min
    )
    judge = _Judge(
        balance=balance,
        without=without,
        known=known,
        relative=repeats.value,
        factor=factor,
        mirror_own=mirror_own,
        fix=limits["compression.deficit_fix"].number,
        high=limits["compression.single_high"].number,
        watch=limits["compression.deficit_watch"].number,
    )
    places = tuple(judge.place(i, n, given[n], read[n]) for i, n in enumerate(cylinders))
    return DrySet(
        sheet=sheet,
        engine=engine,
        places=places,
        missing=tuple(n for n in engine.numbers if n not in read),
        air=air,
        conditions=dry_conditions(sheet, engine, limits),
        repeats=repeats,
        pairs=pairs,
        drift=trend,
        known=known,
        balance=balance,
        copied=_copied(sheet, read),
        mirror_own=mirror_own,
    )


def with_mirror(found: DrySet, limits: Limits) -> DrySet:
    """Return the set with the mirror's verdict as the group's own: a high reading has been shown to be sound."""
    if found.mirror_own or found.balance is None or found.balance.mirror is None:
        return found
    watch, fix = (limits[f"compression.deficit_{name}"].number for name in ("watch", "fix"))
    return found._replace(
        mirror_own=True,
        places=tuple(_mirrored(p, i, found.balance, watch, fix) for i, p in enumerate(found.places)),
    )


def _mirrored(place: Place, index: int, balance: Balance, watch: float, fix: float) -> Place:
    mirror = balance.mirror
    assert mirror is not None
    deficit = mirror.deviations[index].deficit
    if deficit <= place.deficit:
        return place._replace(p_high=0.0)
    least = balance.least(watch, mirror.spread)
    return place._replace(
        deficit=deficit,
        spread=mirror.spread,
        least=least,
        p_low=p_above(deficit, mirror.spread, least),
        p_high=0.0,
        mirrored=True,
        excused=place.excused and deficit < fix,
    )


class _Judge(NamedTuple):
    """Everything that judges a place: the balance, the same without a trend, known values, and two limits."""

    balance: Balance | None
    without: Balance | None
    known: Known
    relative: float
    factor: float
    mirror_own: bool
    fix: float
    high: float
    watch: float

    def place(self, index: int, cylinder: int, given: Reading, reading: float) -> Place:
        """Judge one cylinder."""
        standard = reading * self.factor
        balance = self.balance
        if balance is not None:
            deficit, spread = balance.deviations[index].deficit, balance.spread
            least, least_high = balance.least(self.watch), balance.least(self.high)
            rise = -balance.highs[index].deficit
            p_high = p_above(rise, spread, least_high) if balance.group.members else 0.0
        else:
            # One or two cylinders, or nothing above zero: only what is known from elsewhere judges them.
            sound = max((v for v in self.known if v is not None), default=None)
            top = max((v for v in self.known[:2] if v is not None), default=None)
            spread = self.relative * sqrt(2.0)
            least = max(self.watch, 2.5 * spread)
            deficit = 1.0 - standard / sound if sound else float(reading == 0.0)
            rise = standard / top - 1.0 if top else 0.0
            p_high = p_above(rise, spread, max(self.high, 2.5 * spread)) if top else 0.0
        place = Place(
            cylinder=cylinder,
            reading=reading,
            standard=standard,
            u=given.u * self.factor if given.u is not None else None,
            refused=given.refused,
            deficit=deficit,
            spread=spread,
            least=least,
            p_low=p_above(deficit, spread, least),
            rise=rise,
            p_high=p_high,
            mirrored=False,
            excused=self.without is not None and self.without.deviations[index].deficit < self.fix,
        )
        if self.mirror_own and balance is not None:
            return _mirrored(place, index, balance, self.watch, self.fix)
        return place


def _compare(standard: Sequence[float], relative: float, known: Known, count: int) -> Balance | None:
    """Compare the cylinders; None for engines of one or two, or where there is nothing to compare."""
    if count < 3 or len(standard) < 2 or max(standard) <= 0.0:
        return None
    return compare(standard, relative, known or UNKNOWN, count)


def _pairs(sheet: Sheet, given: Mapping[int, Reading]) -> tuple[tuple[float, float], ...]:
    """Return the readings taken twice on one cylinder: repeats beside each other, and the repeat at the end."""
    pairs = [(a, b) for r in given.values() for a, b in zip(r.repeats[::2], r.repeats[1::2], strict=False)]
    again = cylinder_values(sheet, "repeat_reading")
    pairs += [(given[n].value, r.value) for n, r in again.items() if n in given]
    return tuple(pairs)


def _order(sheet: Sheet) -> tuple[int, ...]:
    return tuple(int(n) for n in sheet.get("test_order") or ())


def _drift(sheet: Sheet, read: Mapping[int, float], relative: float) -> Drift | None:
    """Judge drift where the order of taking is known for exactly the cylinders that were read."""
    order = _order(sheet)
    if sorted(order) != sorted(read) or len(order) < 2:
        return None
    return drift([read[n] for n in order], relative, zeroed(sheet, "repeat_reading").get(order[0]))


def _copied(sheet: Sheet, read: Mapping[int, float]) -> bool:
    """Tell whether all readings are identical, in whatever units they were written, and nothing confirms them."""
    least, most = min(read.values(), default=0.0), max(read.values(), default=0.0)
    if len(read) < 3 or most <= 0.0 or not isclose(least, most):
        return False
    return not cylinder_values(sheet, "repeat_reading") and not cylinder_values(sheet, "second_gauge_reading")
