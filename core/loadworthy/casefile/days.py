"""Days and times of day as they are written, and the days that cannot have been yet."""

from __future__ import annotations

import datetime
from typing import TYPE_CHECKING, Any

from loadworthy.casefile.faults import show

if TYPE_CHECKING:
    from loadworthy.casefile.faults import Faults


class Days:
    """Reads dates and times. ``as_of`` is the case's own day of judgement, once that is known."""

    __slots__ = ("as_of", "faults", "today")

    def __init__(self, faults: Faults, today: datetime.date | None = None) -> None:
        self.faults = faults
        self.today = today or datetime.date.today()
        self.as_of: datetime.date | None = None

    def day(self, raw: Any, place: str) -> datetime.date | None:
        """Return a date, written as TOML writes it or as ISO text, or None with a fault."""
        if isinstance(raw, datetime.datetime):
            clock = raw.time().isoformat()
            self.faults.add(
                "bad-date",
                place,
                f"{show(raw)} is a day with a time",
                f"write the day alone, {raw.date().isoformat()}, and time = {clock} if it matters",
            )
            return None
        if isinstance(raw, datetime.date):
            return raw
        if isinstance(raw, str) and len(raw) == 10 and raw[4] == raw[7] == "-":
            try:
                return datetime.date.fromisoformat(raw)
            except ValueError:
                self.faults.add("bad-date", place, f"{show(raw)} is no day of the calendar", "write year-month-day")
                return None
        self.faults.add("bad-date", place, f"{show(raw)} is no date", "write it as 2026-05-04, year-month-day")
        return None

    def time(self, raw: Any, place: str) -> datetime.time | None:
        """Return a time of day, written as TOML writes it or as ISO text, or None with a fault."""
        found = raw if isinstance(raw, datetime.time) else None
        if isinstance(raw, str) and len(raw) >= 5 and raw[2] == ":":
            try:
                found = datetime.time.fromisoformat(raw)
            except ValueError:
                found = None
        if found is None or found.tzinfo is not None:
            self.faults.add("bad-time", place, f"{show(raw)} is no time of day", "write it as 10:30:00")
            return None
        return found

    def past(self, day: datetime.date, place: str) -> None:
        """Add a fault for a day on which nothing can have been done yet: later than both today and ``as_of``."""
        if day > self.today and (self.as_of is None or day > self.as_of):
            self.faults.add(
                "future-date",
                place,
                f"{day.isoformat()} is in the future",
                "write the day on which it was done, or set as_of to look ahead",
            )
