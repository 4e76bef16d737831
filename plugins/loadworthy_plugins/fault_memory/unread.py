"""What follows from a memory that nobody read, without loading what reads one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.sdk import Coverage
from loadworthy_plugins.fault_memory.ceilings import at_standard

if TYPE_CHECKING:
    from loadworthy.sdk import Case, Result

#: The row of required evidence, and what stands before the name of every rule and limit.
ROW, ID = "fault_memory", "fault_memory."


def unread(case: Case) -> tuple[Result, ...]:
    """Return the gap of the row and the ceiling that holds until the memory is read."""
    why = "the fault memory was not read"
    held = at_standard("memory_unread", why, case, finding=None, row=ROW, until="full-memory-reading")
    return (Coverage(ROW, "absent", why), *held)
