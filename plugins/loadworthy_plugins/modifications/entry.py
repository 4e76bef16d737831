"""Where judging the inventory begins; a case that has none costs next to nothing."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, Literal

from loadworthy.sdk import Ceiling, Coverage

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from loadworthy.sdk import Case, Demand, Limits, Result

#: Row of required evidence that the inventory answers.
ROW: Final = "modifications"
#: What stands before the name of every rule and limit.
ID: Final = "modifications."
_NOBODY: Final = "nobody has asked part by part what is not as made"


def inventory_results(
    case: Case, demand: Demand | None, limits: Limits, inferred: Mapping[str, float] | None = None
) -> Iterable[Result]:
    """Return all that follows from the inventory.

    ``inferred``: probability of an undeclared change by kind of part, from rules that judge readings.
    """
    if inferred or any(True for _ in case.of("modification")):
        from loadworthy_plugins.modifications.judging_inventory import judge_inventory

        yield from judge_inventory(case, demand, limits, inferred or {})
    else:
        yield Ceiling("unanswered", "torque", standard(case), _NOBODY, origin="gap", until="inventory-interview")
    if not any(True for _ in case.of("modification")):
        yield Coverage(ROW, "absent", _NOBODY)


def standard(case: Case) -> Literal["standard", "as_received"]:
    """Return the ceiling "no more than as made": where nobody knows the maker's torque, no more than as received."""
    return "standard" if case.vehicle.get("standard_torque") is not None else "as_received"
