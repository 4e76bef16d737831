"""From options of a program to the keys of a table: FIELD=VALUE, FIELD.3=VALUE, and rows."""

from __future__ import annotations

import re
from copy import deepcopy
from typing import TYPE_CHECKING, Any

from loadworthy.casefile.faults import Faults
from loadworthy.errors import Fault
from loadworthy.recording.answers import AnswerError, read, speed_key, toml
from loadworthy.recording.paths import held

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from loadworthy.declarations import Field
    from loadworthy.recording.targets import Target

_KEY = re.compile(r"\s*([A-Za-z_][A-Za-z0-9_]*)\s*=\s*")


class Given:
    """Collects what options say about one table; ``faults`` are all that cannot be understood.

    ``table`` is what will be written; ``values`` are keys that stand in the file already: parts and rows are added to
    them, wholes take their place.
    """

    def __init__(self, target: Target, values: Mapping[str, Any] | None = None) -> None:
        self.table: dict[str, Any] = {}
        self.faults: list[Fault] = []
        self._target = target
        self._values = values or {}
        self._given: set[tuple[str, ...]] = set()

    def set(self, text: str) -> None:
        """Take ``FIELD=VALUE``, ``FIELD.SUBJECT=VALUE`` or, of a curve, ``FIELD.SPEED=VALUE``."""
        place, mark, written = text.partition("=")
        name, dot, key = place.strip().partition(".")
        if not mark or not name:
            self._fault(place, "this sets nothing", "write FIELD=VALUE")
            return
        self.value(name, key.strip() if dot else "", written)

    def value(self, name: str, key: str, written: str) -> None:
        """Take the value of a field, or of one of its subjects, speeds or keys."""
        field = self._target.field(name, {**self._values, **self.table})
        place = f"{name}.{key}" if key else name
        if field is None:
            self._fault(place, "no such field here", Faults().one_of(name, [one.name for one in self._target.fields]))
            return
        if not written.strip():
            self._fault(place, "no value is given", "leave it out if it was not read")
            return
        try:
            self._put(field, key, written)
        except AnswerError as error:
            self._fault(place, error.problem, error.write)

    def row(self, text: str) -> None:
        """Take one more row: ``FIELD: {key = "value", ...}`` (TOML), or ``FIELD: key = value; key = value``."""
        place, mark, written = text.partition(":")
        name, _, key = place.strip().partition(".")
        field = self._target.field(name, self._values)
        if not mark or field is None or field.type != "rows":
            rows = [one.name for one in self._target.fields if one.type == "rows"]
            self._fault(place.strip(), "no such rows here", f"rows: {', '.join(rows)}" if rows else "there are none")
            return
        try:
            row = self._row(field, written.strip())
        except AnswerError as error:
            self._fault(name, error.problem, error.write)
            return
        self._rows(name, key.strip()).append(row)

    def named(self, key: str, texts: Iterable[str]) -> None:
        """Take ``instrument`` or ``u``: ``FIELD=VALUE`` or ``FIELD.SUBJECT=VALUE`` each, or one name for all."""
        if not any(one.name == key for one in self._target.fields):
            for _ in texts:
                self._fault(key, "no such field here", "leave it out")
                break
            return
        alone = []
        for text in texts:
            place, mark, written = text.partition("=")
            if not mark:
                alone.append(text.strip())
                continue
            name, dot, subject = place.strip().partition(".")
            held = self.table.setdefault(key, {})
            if dot:
                inner = held.setdefault(name, {})
                if isinstance(inner, dict):
                    inner[subject] = written.strip()
                    continue
            if name in held:
                self._fault(f"{key}.{name}", "this is given twice", "give it once")
            held[name] = written.strip()
        if not alone:
            return
        if key in self.table or len(alone) > 1:
            self._fault(key, "one for all and others by field do not go together", "write FIELD=VALUE for each")
        elif key == "u":
            self._fault(key, f"{alone[0]} names no field", "write FIELD=VALUE")
        else:
            self.table[key] = alone[0]

    def attached(self, files: list[dict[str, str]]) -> None:
        """Take photos or papers, behind those that stand already."""
        if not any(one.name == "file" for one in self._target.fields):
            self._fault("file", "only a sheet has photos and papers", "leave it out")
            return
        stands = self.table.get("file", self._values.get("file", []))
        together = [*_listed(stands), *files]
        self.table["file"] = together if len(together) > 1 else together[0]

    def _put(self, field: Field, key: str, written: str) -> None:
        if field.per and not key:
            whole = toml(written.strip())
            if not isinstance(whole, dict):
                raise AnswerError(f"{field.name} is a value for each {field.per}", f"write {field.name}.1=...")
            self._once((field.name,))
            self.table[field.name] = whole
        elif field.per:
            subject, _, inner = key.partition(".")
            subject = subject.removeprefix(field.per).strip() or subject
            self._single(self._parts(self.table, (field.name,)), (field.name, subject), field, inner, written)
        else:
            self._single(self.table, (field.name,), field, key, written)

    def _single(self, holder: dict[str, Any], trail: tuple[str, ...], field: Field, key: str, written: str) -> None:
        """Put one value where it belongs; given again it is a repeat, or the next of a list."""
        at = trail[-1]
        if field.type == "curve" and key:
            speed = speed_key(key)
            self._once((*trail, speed))
            self._parts(holder, trail)[speed] = written.strip()
        elif field.type == "record" and key and not field.many:
            inner = next((one for one in field.fields if one.name == key), None)
            if inner is None:
                raise AnswerError(f"{key} is no part of it", Faults().one_of(key, [one.name for one in field.fields]))
            self._single(self._parts(holder, trail), (*trail, key), inner, "", written)
        elif key:
            raise AnswerError(f"{field.name} has no parts", f"write {field.name}=...")
        else:
            found = read(written, field)
            if trail in self._given and (field.many or field.nested or field.type == "quantity"):
                holder[at] = [*_listed(holder[at]), *_listed(found)]
                return
            self._once(trail)
            holder[at] = found

    def _once(self, trail: tuple[str, ...]) -> None:
        """Note what is given. Raises AnswerError where it, a part of it or the whole was given before."""
        for other in self._given:
            short = min(len(trail), len(other))
            if other[:short] == trail[:short]:
                raise AnswerError("this is given twice", "give it once, or the whole or its parts")
        self._given.add(trail)

    def _parts(self, holder: dict[str, Any], trail: tuple[str, ...]) -> dict[str, Any]:
        """Return the table of parts at a place: what stands in the file stays, but for the parts that are given."""
        if trail in self._given:
            raise AnswerError("this is given as a whole already", "give the whole or its parts")
        if trail[-1] not in holder:
            stands = held(self._values, trail)
            holder[trail[-1]] = deepcopy(stands) if isinstance(stands, dict) else {}
        inner: dict[str, Any] = holder[trail[-1]]
        return inner

    def _rows(self, name: str, key: str) -> list[Any]:
        """Return the rows so far, those in the file first."""
        trail = (name, key) if key else (name,)
        holder = self._parts(self.table, (name,)) if key else self.table
        if trail[-1] not in holder:
            stands = held(self._values, trail)
            holder[trail[-1]] = deepcopy(stands) if isinstance(stands, list) else []
        rows: list[Any] = holder[trail[-1]]
        return rows

    def _row(self, field: Field, written: str) -> dict[str, Any]:
        if written[:1] == "{":
            row = read(written, field)
            if not isinstance(row, dict):
                raise AnswerError("this is no row", "write {key = ..., key = ...}")
            return row
        inner = Given(self._target._replace(fields=field.fields))
        for part in written.split(";"):
            if part.strip() and _KEY.match(part) is None:
                raise AnswerError(f'"{part.strip()[:40]}" sets nothing', "write key = value, with ; between")
            if part.strip():
                inner.set(part)
        if inner.faults:
            first = inner.faults[0]
            raise AnswerError(f"{first.place}: {first.problem}", first.write)
        return inner.table

    def _fault(self, place: str, problem: str, write: str) -> None:
        from loadworthy.casefile.faults import plain

        self.faults.append(Fault("bad-option", problem, plain(place.strip()), None, write))


def _listed(value: Any) -> list[Any]:
    return value if isinstance(value, list) else [value]
