"""Where judging the inventory begins; a case that has none costs next to nothing."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from loadworthy.sdk import Ceiling, Coverage

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from loadworthy.sdk import Case, Demand, Limits, Result

#: Row of required evidence that the inventory answers.
ROW: Final = "modifications"
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
        yield from _without()
    if not any(True for _ in case.of("modification")):
        yield Coverage(ROW, "absent", _NOBODY)


def _without() -> Iterator[Result]:
    yield Ceiling("unanswered", "torque", "standard", _NOBODY, origin="gap", until="inventory-interview")
