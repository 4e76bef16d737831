"""The table that is being written, in the file from its first line on.

Every change reads the file anew under its lock, finds its own table there and replaces keys of that one alone, so that
others may write meanwhile and an interruption leaves a case that can be read.
"""

from __future__ import annotations

import os
import re
from typing import TYPE_CHECKING, Any

from loadworthy.casefile.edit import GONE, with_keys, with_table
from loadworthy.casefile.faults import refusal
from loadworthy.casefile.tables import decode, parse, read_bytes
from loadworthy.casefile.write import change
from loadworthy.errors import CaseError, Fault
from loadworthy.record import NamedTuple
from loadworthy.recording.paths import held, put, without

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from loadworthy.case import Case
    from loadworthy.recording.paths import Path
    from loadworthy.recording.targets import Target

#: Notes about a value itself, which whoever writes it should see.
_ABOUT_VALUES = ("unusual", "undeclared", "calibration-overdue")


class Trial(NamedTuple):
    """What a change would bring: faults that forbid it, and what would be odd about it."""

    faults: tuple[Fault, ...] = ()
    notes: tuple[Fault, ...] = ()

    @property
    def incomplete(self) -> bool:
        """Whether nothing is wrong but that more is needed."""
        return bool(self.faults) and all(fault.code == "missing-key" for fault in self.faults)


class Draft:
    """One table of a case file under way.

    ``values`` is what stands in the file; ``check`` reads a case from bytes and a name, or raises CaseError. A sheet or
    repair without an id has a working one until it is finished. Methods raise CaseError where the file cannot be read
    or written, or where its own table is gone.
    """

    def __init__(
        self,
        path: str,
        target: Target,
        check: Callable[[bytes, str], Case],
        values: Mapping[str, Any] | None = None,
    ) -> None:
        self.path = path
        self.target = target
        self._check = check
        #: Whether the table stands in the file.
        self.begun = values is not None or not target.listed
        self.values: dict[str, Any] = dict(values or {})
        #: How many changes were written.
        self.changes = 0
        #: Keys of a table that cannot be under way, with values that are not complete yet: they are not in the file.
        self.waiting: dict[str, Any] = {}
        if not target.listed:
            self.values = self._tables().get(target.name, {})

    def get(self, path: Path) -> Any:
        """Return what is written at a path, or waits to be, or None."""
        return held({**self.values, **self.waiting}, path)

    def try_out(self, path: Path, value: Any, *, spread: int | None = None) -> Trial:
        """Say what the file would have against a value at a path; nothing is written."""
        return self._trial(self._setting(path, value, spread))

    def set(self, path: Path, value: Any, *, spread: int | None = None) -> None:
        """Write a value at a path; `paths.put` says what ``spread`` means."""
        self._change(self._setting(path, value, spread))
        self.waiting.pop(str(path[0]), None)

    def wait(self, path: Path, value: Any, *, spread: int | None = None) -> None:
        """Keep a value in mind that can be written only with what follows, as the first one of a row."""
        self.waiting.update(self._setting(path, value, spread)(self.values))

    def take_out(self, path: Path, count: int = 1) -> None:
        """Take the value at a path out again, or so many items of a list from there on."""
        self.waiting.pop(str(path[0]), None)

        def changes(row: Mapping[str, Any]) -> dict[str, Any]:
            left = without(row, path, count)
            return {str(path[0]): GONE if left is None else left}

        self._change(changes)

    def try_all(self, table: Mapping[str, Any], *, finished: bool) -> Trial:
        """Say what the file would have against all these keys, and against the table being finished with them."""
        return self._trial(lambda row: self._all(row, table, finished), finished)

    def set_all(self, table: Mapping[str, Any], *, finished: bool) -> Case:
        """Write keys in one step, and finish the table or leave it under way; return the case."""
        return self._change(lambda row: self._all(row, table, finished), finished=finished)

    def finish(self) -> Case:
        """Finish the table: what it lacks is a fault from now on. Raises CaseError where the file has any then."""
        return self.set_all({}, finished=True)

    def data(self) -> bytes:
        """Return the file as it is now."""
        return read_bytes(self.path)

    # The file ----------------------------------------------------------------------------------------------------

    def _tables(self) -> dict[str, Any]:
        return parse(decode(self.data(), self.path), self.path)

    def _setting(self, path: Path, value: Any, spread: int | None) -> Callable[[Mapping[str, Any]], dict[str, Any]]:
        return lambda row: {str(path[0]): put({**row, **self.waiting}, path, value, spread=spread)}

    def _all(self, row: Mapping[str, Any], table: Mapping[str, Any], finished: bool) -> dict[str, Any]:
        if self.begun and any(row.get(key) != self.values.get(key) for key in table):
            # What is added to was read before the lock was held.
            problem = f"somebody else changed {', '.join(table)} at the same time"
            raise refusal(self.path, Fault("changed", problem, write="try again"), what="written")
        return {**table, **(self._ended(row, table) if finished else {})}

    def _ended(self, row: Mapping[str, Any], table: Mapping[str, Any]) -> dict[str, Any]:
        """Return the changes that end a table under way: its mark and its working id go, if nothing names that."""
        ended = {"unfinished": GONE} if "unfinished" in row else {}
        id = row.get("id", "")
        if "id" not in table and isinstance(id, str) and is_working_id(id, self.target.name) and not self._named(id):
            ended["id"] = GONE
        return ended

    def _named(self, id: str) -> bool:
        """Whether the file names the id somewhere else, too."""
        return self.data().count(id.encode("utf-8")) > 1

    def _trial(self, changes: Callable[[Mapping[str, Any]], Mapping[str, Any]], finished: bool = False) -> Trial:
        before = self._check(self.data(), self.path)

        def edit(text: str, name: str) -> str:
            return self._edited(text, name, changes, finished)[0]

        try:
            after = change(self.path, edit, check=self._check, dry=True)
        except CaseError as error:
            return Trial(faults=tuple(self._about(fault) for fault in error.faults))
        known = set(before.notes)
        return Trial(notes=tuple(note for note in after.notes if note.code in _ABOUT_VALUES and note not in known))

    def _change(self, changes: Callable[[Mapping[str, Any]], Mapping[str, Any]], *, finished: bool = False) -> Case:
        found: dict[str, Any] = {}

        def edit(text: str, name: str) -> str:
            new, row = self._edited(text, name, changes, finished)
            found.clear()
            found.update(row)
            return new

        try:
            case = change(self.path, edit, check=self._check)
        except CaseError as error:
            raise CaseError(error.message, tuple(self._about(fault) for fault in error.faults)) from None
        self.values = found
        self.begun = True
        self.changes += 1
        return case

    def _edited(
        self,
        text: str,
        name: str,
        changes: Callable[[Mapping[str, Any]], Mapping[str, Any]],
        finished: bool = False,
    ) -> tuple[str, dict[str, Any]]:
        """Return the new text, and the own table as it stands in it."""
        section = self.target.name
        if not self.begun:
            row = changes({}) if finished else {**self._head(), **changes({})}
            row = {key: value for key, value in row.items() if value is not GONE}
            begun = with_table(text, name, section, row)
            return begun.text, begun.tables[section][-1]
        tables = parse(text, name)
        index = self._index(tables, name) if self.target.listed else None
        row = tables[section][index] if index is not None else tables.get(section, {})
        edited = with_keys(text, name, section, index, changes(row), tables)
        after = edited.tables.get(section, {})
        return edited.text, after[index] if index is not None else after

    def _head(self) -> dict[str, Any]:
        working = {"id": f"{self.target.name}-under-way-{os.urandom(4).hex()}"} if self._needs_id() else {}
        return {**working, "unfinished": True}

    def _needs_id(self) -> bool:
        return self.target.named and not any(one.name == "id" and one.required for one in self.target.fields)

    def _index(self, tables: Mapping[str, Any], name: str) -> int:
        """Return which table of its list is the own one: by its id, where it has none by what it holds."""
        rows = tables.get(self.target.name, ())
        id = self.values.get("id")
        for index, row in enumerate(rows if isinstance(rows, list) else ()):
            if is_under_way(row) and (row.get("id") == id if id is not None else row == self.values):
                return index
        fault = Fault(
            "gone",
            f"the {self.target.name} that is being written is no longer in the file, or was finished by somebody else",
            write="what was saved until then is in the file as they left it",
        )
        raise refusal(name, fault, what="written")

    def _about(self, fault: Fault) -> Fault:
        """Return a fault about the own table with the place within it: nobody has seen its line."""
        number = fault.place.removeprefix(f"{self.target.name}[").partition("]")
        listed = self.target.listed and fault.place.startswith(f"{self.target.name}[")
        if listed and number[0] == str(self._number()):
            return fault._replace(place=number[2].lstrip("."), line=None)
        return fault

    def _number(self) -> int:
        """Return the number of the own table in its list, counted from 1 as faults do."""
        rows = self._tables().get(self.target.name, ())
        if not self.begun:
            return len(rows) + 1
        try:
            return self._index(self._tables(), self.path) + 1
        except CaseError:
            return 0


def is_under_way(row: Any) -> bool:
    """Whether a table of a list says that it is still being written."""
    return hasattr(row, "get") and row.get("unfinished") is True


def is_working_id(id: str, section: str) -> bool:
    """Whether an id is one that a draft gave for the time being."""
    return re.fullmatch(rf"{re.escape(section)}-under-way-[0-9a-f]{{8}}", id) is not None


def under_way(path: str, target: Target) -> list[dict[str, Any]]:
    """Return the tables of a file that are still being written, in its order. Raises CaseError."""
    rows = parse(decode(read_bytes(path), path), path).get(target.name, ())
    return [row for row in rows if is_under_way(row)] if isinstance(rows, list) else []
