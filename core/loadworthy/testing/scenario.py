"""What the invariants need to know of a check: its host, and how to draw cases for it."""

from __future__ import annotations

import datetime
from typing import TYPE_CHECKING, Any, NamedTuple

from hypothesis import strategies as st

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

FIRST_DAY = datetime.date(2026, 1, 5)
#: The day on which drawn cases are judged: later than all their sheets.
LAST_DAY = datetime.date(2026, 6, 1)


def _nothing(_: st.DataObject, __: dict[str, Any]) -> None:
    """Know no reading that could get worse."""


class Scenario(NamedTuple):
    """A check under test. ``plugins`` are all plugins by id; ``tables`` draws the tables of a case, ids in every sheet.

    ``worsen`` may change one reading of drawn tables for the worse and return them, or None where there is none.
    ``plan_slack`` is the share by which P_fail may fall as the plan rises: demand may be taken at the plan's own best
    point, which moves with it.
    """

    plugins: Mapping[str, Any]
    tables: st.SearchStrategy[dict[str, Any]]
    worsen: Callable[[st.DataObject, dict[str, Any]], dict[str, Any] | None] = _nothing
    plan_slack: float = 0.005


@st.composite
def case_tables(
    draw: st.DrawFn,
    sections: Mapping[str, st.SearchStrategy[dict[str, Any]]],
    *,
    vehicle: Mapping[str, Any] | None = None,
    plan: Mapping[str, Any] | None = None,
    treats: tuple[str, ...] = (),
    events: tuple[str, ...] = (),
    most_sheets: int = 3,
    least_sheets: int = 0,
) -> dict[str, Any]:
    """Draw a case: per section up to ``most_sheets`` sheets over some months, with odometer or time or without.

    ``sections`` draws the fields of a sheet; ``treats`` are causes that repairs may name, ``events`` kinds of event.
    Draw sound vehicles too (a second call with good readings, ``st.one_of`` of both): a case that holds already cannot
    show that something made it worse.
    """
    tables: dict[str, Any] = {"as_of": LAST_DAY, "vehicle": dict(vehicle or {}), "plan": dict(plan or {})}
    for section, fields in sections.items():
        rows = []
        for number in range(draw(st.integers(least_sheets, most_sheets))):
            row: dict[str, Any] = {"id": f"{section}-{number}", **draw(_when()), **draw(fields)}
            rows.append(row)
        if rows:
            tables[section] = rows
    mended: bool = draw(st.booleans())
    happened: bool = draw(st.booleans())
    if treats and mended:
        when = draw(_when())
        tables["repair"] = [{"id": "r1", **when, "what": "mended", "treats": [draw(st.sampled_from(treats))]}]
        for section in sections:
            for row in tables.get(section, ()):
                if row["date"] >= when["date"] and draw(st.booleans()):
                    row["retest_of"] = "r1"
    if events and happened:
        tables["event"] = [{"kind": draw(st.sampled_from(events)), "date": draw(_when())["date"]}]
    return tables


@st.composite
def _when(draw: st.DrawFn) -> dict[str, Any]:
    days = draw(st.integers(0, 120))
    found: dict[str, Any] = {"date": FIRST_DAY + datetime.timedelta(days=days)}
    if draw(st.booleans()):
        found["odometer"] = f"{80_000 + 40 * days} km"
    if draw(st.booleans()):
        found["time"] = datetime.time(draw(st.integers(7, 18)), 0)
    return found
