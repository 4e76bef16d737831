"""When things happened, and which came first.

Dates decide, never the order of entry. Within one day times decide; else a sheet that says which repair it proves
comes after that repair and its section's other sheets of the day before it; else the order is unknown.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.stats import KM_PER_DAY, half_lives

if TYPE_CHECKING:
    import datetime
    from collections.abc import Iterable

    from loadworthy.case import Case, Repair, Sheet
    from loadworthy.declarations import Section


def later(a: Sheet, b: Sheet) -> bool:
    """Return whether dates and times alone show that sheet ``a`` was taken after sheet ``b``."""
    if a.date != b.date:
        return a.date > b.date
    return a.time is not None and b.time is not None and a.time > b.time


def side_of_repair(sheet: Sheet, repair: Repair, proofs: Iterable[Sheet] = ()) -> int:
    """Return -1 where ``sheet`` comes before ``repair``, 1 where after, 0 where nobody can tell.

    ``proofs`` are the sheets of that day marked as the retest of this repair: other sheets of their section come
    before it, but not those whose time is later than that of a retest.
    """
    if sheet.date != repair.date:
        return 1 if sheet.date > repair.date else -1
    if sheet.time is not None and repair.time is not None and sheet.time != repair.time:
        return 1 if sheet.time > repair.time else -1
    if sheet.retest_of == repair.id:
        return 1
    proving = [proof for proof in proofs if proof.section == sheet.section]
    if any(later(sheet, proof) for proof in proving):
        return 1
    return -1 if proving else 0


def odometer_at(case: Case, day: datetime.date) -> float | None:
    """Return what the odometer shows on ``day`` (m), or None where nobody ever wrote it down.

    The highest reading until then, and 40 km for each day since it was taken: a car that nobody reads still runs.
    """
    known = [
        (entry.odometer, entry.date)
        for group in (case.sheets, case.repairs, case.events)
        for entry in group
        if entry.odometer is not None and entry.date <= day
    ]
    if not known:
        return None
    highest, read = max(known)
    return highest + 1000.0 * KM_PER_DAY * (day - read).days


def age(
    sheet: Sheet, day: datetime.date, odometer: float | None, section: Section | None
) -> tuple[float, float, float]:
    """Return the sheet's age at ``day`` as days, km and half-lives of its section.

    Without odometer readings on both sides 40 km a day are taken.
    """
    days = float(max(0, (day - sheet.date).days))
    if odometer is None or sheet.odometer is None:
        km = KM_PER_DAY * days
    else:
        km = max(0.0, odometer - sheet.odometer) / 1000.0
    if section is None:
        return days, km, half_lives(days, km, 180.0, 5000.0)
    return days, km, half_lives(days, km, section.half_life_days, section.half_life_km)


def is_stale(sheet: Sheet, case: Case, day: datetime.date, section: Section | None) -> bool:
    """Return whether the sheet is too old to satisfy a requirement, or an event of any kind has ended it."""
    odometer = odometer_at(case, day)
    limit = section.stale_after if section else 2.0
    if age(sheet, day, odometer, section)[2] > limit:
        return True
    ends = section is not None and section.ended_by_any_event
    return ends and any(sheet.date <= event.date <= day for event in case.events)
