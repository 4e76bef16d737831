"""What to ask next, in order of the fields: one subject, repeat, row or point after the other.

A generator that is told after each question whether something stands there now. What stands there already is not asked.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from loadworthy.record import NamedTuple

if TYPE_CHECKING:
    from collections.abc import Callable, Generator, Iterable, Mapping, Sequence

    from loadworthy.declarations import Field
    from loadworthy.recording.paths import Path

    #: Yields questions, is sent the answer (a key, or whether something stands there), returns whether anything does.
    Asking = Generator["Question", str | bool, bool]


class Question(NamedTuple):
    """One line to be answered.

    ``field`` says what belongs at ``path`` and ``label`` what to call it. ``ends``: an empty line ends a list. ``key``:
    what is asked is not a value but the key of the next one, a word for it ("wheel", "speed").
    """

    path: Path
    field: Field
    label: str
    ends: bool = False
    key: str = ""

    @property
    def spread(self) -> bool:
        """Whether the answer may be several items of a list."""
        return isinstance(self.path[-1], int)


class Questions:
    """``get`` returns what stands at a path, ``members`` are the short keys of each kind of subject."""

    def __init__(self, get: Callable[[Path], Any], members: Mapping[str, Sequence[str]]) -> None:
        self._get = get
        self._members = members

    def of(self, fields: Iterable[Field]) -> Asking:
        """Yield every question about these fields."""
        found = False
        for field in fields:
            found |= yield from self._field(field, (field.name,))
        return found

    def _field(self, field: Field, path: Path, label: str = "") -> Asking:
        if not field.per:
            return (yield from self._each(field, path, label or field.name))
        found = False
        members = self._members.get(field.per, ())
        for member in members:
            found |= yield from self._each(field, (*path, member), f"{field.per} {member}")
        while not members:
            key = yield Question(path, field, f"next {field.per}", ends=True, key=field.per)
            if not isinstance(key, str):
                break
            found |= yield from self._each(field, (*path, key), f"{field.per} {key}")
        return found

    def _each(self, field: Field, path: Path, label: str) -> Asking:
        if field.type == "rows":
            return (yield from self._rows(field, path, label))
        if field.type == "record" and not field.many:
            found = False
            for inner in _required_first(field.fields):
                found |= yield from self._field(inner, (*path, inner.name), f"{label}, {inner.name}")
            return found
        if field.type == "curve":
            return (yield from self._curve(field, path, label))
        if field.many or field.nested:
            return (yield from self._list(field, path, label))
        if self._get(path) is not None:
            return True
        return bool((yield Question(path, field, label)))

    def _list(self, field: Field, path: Path, label: str) -> Asking:
        while True:
            count = self._count(path)
            if not (yield Question((*path, count), field, f"{label}, {'next' if count else 'first'}", ends=True)):
                return count > 0

    def _rows(self, field: Field, path: Path, label: str) -> Asking:
        inner = _required_first(field.fields)
        # The last row may have been left half written.
        at = max(self._count(path) - 1, 0)
        while True:
            name = f"{label} {at + 1}"
            fresh = self._get((*path, at)) is None
            first = yield from self._row_field(inner[0], (*path, at, inner[0].name), f"{name}, {inner[0].name}", fresh)
            if fresh and not first:
                return at > 0
            for one in inner[1:]:
                yield from self._field(one, (*path, at, one.name), f"{name}, {one.name}")
            at += 1

    def _row_field(self, field: Field, path: Path, label: str, fresh: bool) -> Asking:
        asking = self._field(field, path, label)
        answer: str | bool | None = None
        while True:
            try:
                question = next(asking) if answer is None else asking.send(answer)
            except StopIteration as stop:
                return bool(stop.value)
            answer = yield question._replace(ends=question.ends or fresh)

    def _curve(self, field: Field, path: Path, label: str) -> Asking:
        while True:
            key = yield Question(path, field, f"{label}, speed of the next point", ends=True, key="speed")
            if not isinstance(key, str):
                return self._count(path) > 0
            yield Question((*path, key), field, f"{label} at {key}")

    def _count(self, path: Path) -> int:
        found = self._get(path)
        return len(found) if isinstance(found, (list, dict)) else 0


def _required_first(fields: Iterable[Field]) -> list[Field]:
    return sorted(fields, key=lambda one: not one.required)
