"""House rules: the table of required evidence that every case is held to.

The rows are settings, not code: a house file may ask for more, and for less only where a role may waive it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.sdk import hookimpl

if TYPE_CHECKING:
    from collections.abc import Iterable

    from loadworthy.sdk import Requirement


@hookimpl
def requirements() -> Iterable[Requirement]:
    """Return the rows of required evidence per plan class."""
    from loadworthy_plugins.house_rules.rows import ROWS

    return ROWS
