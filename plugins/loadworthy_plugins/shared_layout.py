"""How the cylinders of an engine stand: more than one bundled check asks, and all must give the same answer."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from loadworthy_plugins.shared_results import number

if TYPE_CHECKING:
    from collections.abc import Mapping


def cylinders(vehicle: Mapping[str, Any]) -> tuple[int, ...]:
    """Return the numbers of the cylinders; none where their count is unknown."""
    count = number(vehicle.get("cylinder_count"))
    return tuple(range(1, int(count or 0) + 1))


def banks(vehicle: Mapping[str, Any]) -> tuple[tuple[int, ...], ...]:
    """Return the banks as given; one bank in order only where the cylinders certainly stand in line.

    None where nobody says how they stand, or where the banks contradict the count.
    """
    count = number(vehicle.get("cylinder_count"))
    given = vehicle.get("cylinder_banks")
    if given:
        found = tuple(tuple(int(n) for n in bank) for bank in given)
        named = sorted(n for bank in found for n in bank)
        return found if count is None or named == list(range(1, int(count) + 1)) else ()
    if count is not None and (vehicle.get("cylinder_arrangement") == "inline" or count == 3):
        return (cylinders(vehicle),)
    return ()


def layout_subjects(vehicle: Mapping[str, Any]) -> dict[str, tuple[str, ...]]:
    """Return the subjects of the kinds ``cylinder`` and ``bank``; a kind whose members are unknown is left out."""
    found: dict[str, tuple[str, ...]] = {}
    if vehicle.get("cylinder_count") is not None:
        found["cylinder"] = tuple(f"cylinder {n}" for n in cylinders(vehicle))
    known = banks(vehicle)
    if known:
        found["bank"] = tuple(f"bank {i}" for i, _ in enumerate(known, 1))
    return found
