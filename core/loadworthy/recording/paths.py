"""Values inside the tables of a case, by path: ("readings", "3") or ("points", 0, "speed")."""

from __future__ import annotations

from copy import deepcopy
from itertools import pairwise
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Mapping

#: Keys and indices from a table down to a value.
Path = tuple[str | int, ...]


def held(table: Mapping[str, Any], path: Path) -> Any:
    """Return what stands at a path, or None."""
    found: Any = table
    for part in path:
        try:
            found = found[part]
        except (KeyError, IndexError, TypeError):
            return None
    return found


def put(table: Mapping[str, Any], path: Path, value: Any, *, spread: int | None = None) -> Any:
    """Return the new value of the table's key ``path[0]`` with ``value`` at the path.

    ``spread``: ``value`` is a list whose items take the place of so many from the path on.

    >>> put({"order": [1, 2]}, ("order", 2), [3, 4], spread=0)
    [1, 2, 3, 4]
    >>> put({"order": [1, 2, 3]}, ("order", 0), [4], spread=2)
    [4, 3]
    >>> put({}, ("points", 0, "speed"), "2000 rpm")
    [{'speed': '2000 rpm'}]
    """
    name = str(path[0])
    root: dict[str, Any] = {name: deepcopy(table[name])} if name in table else {}
    at: Any = root
    for part, following in pairwise(path):
        empty: Any = [] if isinstance(following, int) else {}
        if isinstance(part, int):
            if part == len(at):
                at.append(empty)
        elif part not in at:
            at[part] = empty
        at = at[part]
    last = path[-1]
    if isinstance(last, int):
        at[last : last + (1 if spread is None else spread)] = [value] if spread is None else value
    else:
        at[last] = value
    return root[name]


def without(table: Mapping[str, Any], path: Path, count: int = 1) -> Any:
    """Return the new value of the table's key ``path[0]`` without what stands at the path; None: nothing is left.

    ``count``: so many items of a list, from the path on.
    """
    name = str(path[0])
    root = {name: deepcopy(table[name])}
    holders: list[Any] = [root]
    for part in path[:-1]:
        holders.append(holders[-1][part])
    last = path[-1]
    if isinstance(last, int):
        del holders[-1][last : last + count]
    else:
        del holders[-1][last]
    for holder, part in zip(reversed(holders[:-1]), reversed(path[:-1]), strict=True):
        if holder[part]:
            break
        del holder[part]
    return root.get(name)


def shown(path: Path) -> str:
    """Return a path as people read it, lists counted from 1.

    >>> shown(("points", 0, "speed")), shown(("order", 2))
    ('points[1].speed', 'order[3]')
    """
    text = ""
    for part in path:
        text += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if text else part
    return text
