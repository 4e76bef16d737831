"""Reading house settings from TOML, with every fault at once."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal

from loadworthy.casefile.days import Days
from loadworthy.casefile.faults import Faults, show
from loadworthy.casefile.measured import Instruments
from loadworthy.casefile.values import Values
from loadworthy.declarations import PLAN_CLASSES
from loadworthy.errors import CaseError
from loadworthy.house import LEVELS, PLAN_VALUE, House, LimitOverride, RowChange, refusal

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from os import PathLike

    from loadworthy.declarations import Catalogue

#: Every key of a house file.
KEYS = ("letterhead", "demand", "plan_value", "loss", "limits", "require", "may_waive", "instrument")
_CATEGORIES = ("1", "2", "3", "4")


def load(path: str | PathLike[str], catalogue: Catalogue | None = None) -> House:
    """Read a house file. Raises HouseError."""
    from os import fspath

    from loadworthy.casefile.tables import decode, parse, read_bytes

    name = fspath(path)
    try:
        text = decode(read_bytes(name), name)
        data = parse(text, name)
    except CaseError as error:
        raise refusal(name, error.faults) from None
    return _Reader(data, name, text).house(catalogue)


def from_dict(data: Mapping[str, Any], catalogue: Catalogue | None = None) -> House:
    """Build settings from parsed tables. Raises HouseError."""
    return _Reader(data, "", "").house(catalogue)


class _Reader:
    def __init__(self, data: Mapping[str, Any], path: str, text: str) -> None:
        self._data = data
        self._path = path
        self._text = text
        self._faults = Faults()
        self._places: Any = None

    def house(self, catalogue: Catalogue | None) -> House:
        data, faults = self._data, self._faults
        for key in data:
            if key not in KEYS:
                faults.add("unknown-key", str(key), "no such key in house settings", faults.one_of(str(key), KEYS))
        house = House(
            limits=self._limits(self._table("limits")),
            rows=self._rows(self._table("require")),
            may_waive=self._may_waive(),
            losses=self._losses(self._table("loss")),
            plan_value=self._amount(data.get("plan_value", PLAN_VALUE), "plan_value"),
            demand_supplier=self._word(data["demand"], "demand") if "demand" in data else None,
            instruments=self._instruments(),
            letterhead=self._word(data["letterhead"], "letterhead") if "letterhead" in data else "",
            path=self._path,
        )
        if catalogue is not None:
            house.limit_faults(catalogue, faults)
        if faults.faults:
            raise refusal(self._path, [fault._replace(line=self._line(fault.place)) for fault in faults.faults])
        return house

    def _line(self, place: str) -> int | None:
        if not self._text:
            return None
        if self._places is None:
            from loadworthy.casefile.locate import Places

            self._places = Places(self._text)
        line: int | None = self._places.line(place)
        return line

    def _wrong(self, raw: Any, needed: str, place: str, write: str = "") -> None:
        self._faults.add("wrong-type", place, f"{show(raw)} stands where {needed} is needed", write)

    def _table(self, key: str) -> Mapping[str, Any]:
        raw = self._data.get(key, {})
        if hasattr(raw, "items"):
            table: Mapping[str, Any] = raw
            return table
        self._wrong(raw, "a table", key, f"write [{key}]")
        return {}

    def _tables(self, key: str) -> list[tuple[str, Mapping[str, Any]]]:
        """Return the tables of a list with their places."""
        raw = self._data.get(key, ())
        if not isinstance(raw, (list, tuple)):
            self._wrong(raw, "a list of tables", key, f"write [[{key}]]")
            return []
        found = []
        for at, one in enumerate(raw, 1):
            if hasattr(one, "items"):
                found.append((f"{key}[{at}]", one))
            else:
                self._wrong(one, "a table", f"{key}[{at}]", f"write [[{key}]]")
        return found

    def _word(self, raw: Any, place: str) -> str:
        if isinstance(raw, str) and raw.strip():
            return raw
        self._wrong(raw, "a text that is not empty", place)
        return ""

    def _amount(self, raw: Any, place: str) -> float:
        """Return an amount of money: a bare number, not negative."""
        if _is_number(raw) and raw >= 0:
            return float(raw)
        self._wrong(raw, "a number of currency units, not negative,", place)
        return 0.0

    def _keys(self, raw: Mapping[str, Any], place: str, needed: tuple[str, ...], known: tuple[str, ...] = ()) -> bool:
        """Note missing and unknown keys; return whether nothing needed is missing."""
        for key in raw:
            if key not in needed and key not in known:
                write = self._faults.one_of(str(key), (*needed, *known))
                self._faults.add("unknown-key", f"{place}.{key}", "no such key here", write)
        missing = [key for key in needed if key not in raw]
        for key in missing:
            self._faults.add("missing-key", place, f"{key} is missing", f"write {key} = ...")
        return not missing

    def _limits(self, table: Mapping[str, Any]) -> tuple[LimitOverride, ...]:
        found = []
        for id, raw in _flattened(table, lambda inner: "value" in inner or "reason" in inner):
            place = f"limits.{id}"
            if not hasattr(raw, "items"):
                self._wrong(
                    raw, "a table with value and reason", place, f'write {{value = {show(raw)}, reason = "..."}}'
                )
                continue
            if not self._keys(raw, place, ("value", "reason"), ("high",)):
                continue
            reason = self._word(raw["reason"], f"{place}.reason")
            value = self._limit_value(raw["value"], f"{place}.value")
            high = self._limit_value(raw["high"], f"{place}.high") if "high" in raw else None
            if value is not None and reason:
                found.append(LimitOverride(id, value, reason, high, self._line(place)))
        return tuple(found)

    def _limit_value(self, raw: Any, place: str) -> float | str | None:
        if isinstance(raw, str):
            return raw
        if _is_number(raw):
            number: float = raw
            return number
        self._wrong(raw, "a number or a text with its unit", place)
        return None

    def _rows(self, table: Mapping[str, Any]) -> tuple[RowChange, ...]:
        found = []
        for row, raw in _flattened(table, lambda inner: not all(hasattr(one, "items") for one in inner.values())):
            place = f"require.{row}"
            if not hasattr(raw, "items"):
                self._wrong(raw, "a table of plan classes", place, 'write {strong = "required", reason = "..."}')
                continue
            if not self._keys(raw, place, ("reason",), PLAN_CLASSES):
                continue
            reason = self._word(raw["reason"], f"{place}.reason")
            levels: dict[str, Literal["R", "A", "-"]] = {}
            for name in PLAN_CLASSES:
                if name not in raw:
                    continue
                if isinstance(raw[name], str) and raw[name] in LEVELS:
                    levels[name] = LEVELS[raw[name]]
                else:
                    write = "write " + ", ".join(f'"{word}"' for word in LEVELS)
                    self._faults.add("bad-value", f"{place}.{name}", f"{show(raw[name])} is no level", write)
            if len(raw) == 1:
                self._faults.add("missing-key", place, "no plan class is named", f"known: {', '.join(PLAN_CLASSES)}")
            found.append(RowChange(row, levels, reason, self._line(place)))
        return tuple(found)

    def _may_waive(self) -> dict[str, tuple[str, ...]]:
        found: dict[str, tuple[str, ...]] = {}
        for place, raw in self._tables("may_waive"):
            if not self._keys(raw, place, ("role", "what")):
                continue
            role = self._word(raw["role"], f"{place}.role")
            what = raw["what"]
            if not isinstance(what, (list, tuple)) or not what:
                self._wrong(what, "a list of ids", f"{place}.what", 'write what = ["row or rule id"], or ["*"] for all')
                continue
            patterns = [self._word(one, f"{place}.what[{at}]") for at, one in enumerate(what, 1)]
            for at, one in enumerate(patterns, 1):
                if "*" in one[:-1]:
                    write = "write the beginning of an id and * behind it"
                    self._faults.add("bad-value", f"{place}.what[{at}]", f"{show(one)} has * in the middle", write)
            found[role] = (*found.get(role, ()), *patterns)
        return found

    def _losses(self, table: Mapping[str, Any]) -> dict[int, float]:
        self._keys(table, "loss", (), _CATEGORIES)
        return {int(key): self._amount(raw, f"loss.{key}") for key, raw in table.items() if key in _CATEGORIES}

    def _instruments(self) -> tuple[Any, ...]:
        tables = self._tables("instrument")
        if not tables:
            return ()
        instruments = Instruments(Values(self._faults, Days(self._faults)))
        for place, raw in tables:
            instruments.read(raw, place)
            if raw.get("unfinished") is True:
                self._faults.add("unfinished", place, "an instrument for all cases is finished", "finish it first")
        return tuple(instruments.by_id[id] for id in sorted(instruments.by_id))


def _is_number(raw: Any) -> bool:
    # No float holds an integer of any length.
    return isinstance(raw, (int, float)) and not isinstance(raw, bool) and -1e300 <= raw <= 1e300


def _flattened(table: Mapping[str, Any], is_leaf: Callable[[Mapping[str, Any]], bool], before: str = "") -> Any:
    """Yield id and content of each entry: an id with a dot that is not in quotes was read as a table in a table."""
    for key, raw in table.items():
        id = f"{before}{key}"
        if hasattr(raw, "items") and raw and not is_leaf(raw):
            yield from _flattened(raw, is_leaf, f"{id}.")
        else:
            yield id, raw
