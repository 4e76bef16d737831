"""The digest of a case and the names of sheets without one, both from what was written, in SI.

Units, order of entries, comments and whatever the installed plugins assume by default leave them as they are. Numbers
count to 12 significant digits.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from loadworthy.case import UNDATED, Curve, Reading, Treated
from loadworthy.casefile.attached import written
from loadworthy.record import Record

if TYPE_CHECKING:
    from collections.abc import Mapping

    from loadworthy.case import Case

#: What the reader adds and the file does not say.
_ADDED = frozenset(("digest", "path", "notes", "place"))
#: Parts that count only where they are there.
_IF_THERE = frozenset(("unread", "unfinished"))
#: Parts of an uncertainty that the sheet itself states.
_WRITTEN = ("stated", "unit")


def case_digest(case: Case) -> str:
    """Return the SHA-256 of the case's content as 64 hexadecimal digits."""
    return _sha256(canonical(case))


def derived_id(section: str, date: Any, time: Any, content: Mapping[str, Any]) -> str:
    """Return the name of a sheet or repair that has none: section, date, time if known, short digest of the content.

    It does not depend on the position in the file. Without a date (`UNDATED`) the name has none.
    """
    day = "" if date == UNDATED else f":{date.isoformat()}"
    clock = "" if time is None else f":{time.isoformat()}"
    return f"{section}{day}{clock}~{_sha256(canonical(content))[:8]}"


def canonical(value: Any) -> str:
    """Return one text for one content: every value with its type, texts with their length, keys sorted."""
    out: list[str] = []
    _write(value, out)
    return "".join(out)


def _write(value: Any, out: list[str]) -> None:
    kind = type(value)
    if kind is str:
        out.append(f"s{len(value)}:{value}")
    elif kind is Reading:
        out.append("R")
        _write(value.value, out)
        for repeat in value.repeats:
            _write(repeat, out)
        for name, part in value.u_parts:
            if name in _WRITTEN:
                _write(part, out)
        out.append(";")
    elif kind is float:
        # + 0.0 makes the negative zero a zero.
        out.append(f"f{value + 0.0:.12g};")
    elif kind is bool:
        out.append("t" if value else "n")
    elif kind is int:
        out.append(f"i{value};")
    elif value is None:
        out.append("0")
    elif kind in (tuple, list, Curve, Treated):
        out.append("[")
        for item in value:
            _write(item, out)
        out.append("]")
    elif isinstance(value, Record):
        out.append("{" + kind.__name__)
        for name, held in value.items():
            if name not in _ADDED and (held or name not in _IF_THERE):
                _write(written(held) if name == "file" else held, out)
        out.append("}")
    elif hasattr(value, "isoformat"):
        out.append(f"d{value.isoformat()};")
    else:
        out.append("{")
        for key in sorted(value):
            if key == "unit" and len(value) == 3 and "every" in value and "values" in value:
                continue  # of a series: its values are in SI
            _write(key, out)
            _write(value[key], out)
        out.append("}")


def _sha256(text: str) -> str:
    return str(_hash_module().sha256(text.encode("utf-8")).hexdigest())


def _hash_module() -> Any:
    """Return the interpreter's own module (its name depends on the version), as its ``random`` takes it, else hashlib.

    hashlib loads OpenSSL, which takes longer than reading a case.
    """
    for name in ("_sha2", "_sha256"):
        try:
            return import_module(name)
        except ImportError:
            continue
    return import_module("hashlib")
