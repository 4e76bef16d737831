"""A plugin that fails."""

from __future__ import annotations

from loadworthy.sdk import Case, hookimpl


@hookimpl
def examine(case: Case) -> None:
    raise ValueError("no posts here")
