"""How the bundled checks write limits: one helper for each mark that is not published at length."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from loadworthy.sdk import Limit

if TYPE_CHECKING:
    from typing import Literal

    from loadworthy.sdk import Grade

    Worse = Literal["above", "below", "outside", "setting"]
    Value = float | str | None

TRADE: Final = "common practice, no source"


def ours(
    name: str,
    value: Value,
    kind: str,
    worse: Worse,
    text: str,
    grade: Grade | None,
    source: str = "judgement",
    applies: str = "",
) -> Limit:
    """Return a limit that is our own judgement."""
    return Limit(name, value, kind, worse, text, source, "judgement", grade, applies)


def trade(
    name: str,
    value: Value,
    kind: str,
    worse: Worse,
    text: str,
    grade: Grade | None,
    applies: str = "",
    source: str = TRADE,
) -> Limit:
    """Return a limit of the trade that nobody has published."""
    return Limit(name, value, kind, worse, text, source, "common practice, no source", grade, applies)


def published(
    name: str, value: Value, kind: str, worse: Worse, text: str, grade: Grade, source: str, applies: str = ""
) -> Limit:
    """Return a limit that stands in a published document."""
    return Limit(name, value, kind, worse, text, source, "published", grade, applies)
