"""Keeping what nobody can read: content of a plugin that could not be loaded stays with the case as it was written."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

#: Deeper than any section; what is nested deeper is refused as before.
MOST_DEPTH = 20


def frozen_content(value: Any, depth: int = 0) -> Any:
    """Return a read-only copy of what a TOML file can hold. Raises ValueError for anything else, or too deep."""
    if isinstance(value, (str, bool, int, float, datetime.date, datetime.time)):
        return value
    if depth > MOST_DEPTH:
        raise ValueError("nested too deeply")
    if isinstance(value, (list, tuple)):
        return tuple(frozen_content(item, depth + 1) for item in value)
    if isinstance(value, Mapping) and all(isinstance(key, str) for key in value):
        return MappingProxyType({key: frozen_content(item, depth + 1) for key, item in value.items()})
    raise ValueError(f"{type(value).__name__} is nothing that a TOML file can hold")


def thawed(value: Any) -> Any:
    """Return plain lists and dictionaries in place of tuples and read-only mappings."""
    if isinstance(value, tuple):
        return [thawed(item) for item in value]
    if isinstance(value, Mapping):
        return {key: thawed(item) for key, item in value.items()}
    return value
