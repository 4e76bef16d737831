"""One row of required evidence: the inventory of parts."""

from __future__ import annotations

from loadworthy.sdk import Requirement, hookimpl


@hookimpl
def requirements() -> tuple[Requirement, ...]:
    levels = dict.fromkeys(("none", "mild", "strong", "extreme"), "R")
    return (Requirement("modifications", "inventory of parts", levels, "modification"),)
