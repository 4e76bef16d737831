"""Photos and papers that a sheet names: how they are written and read. Nothing here opens a file."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from loadworthy.case import Attached
from loadworthy.casefile.faults import show
from loadworthy.core_fields import SHEET

if TYPE_CHECKING:
    from collections.abc import Sequence

    from loadworthy.casefile.values import Values

_FIELDS = {inner.name: inner for field in SHEET if field.name == "file" for inner in field.fields}
_HEX = frozenset("0123456789abcdef")


def read(raw: Any, place: str, values: Values) -> tuple[Attached, ...]:
    """Return what ``file`` names, in order of path: a text, a table of path and sha256, or a list of these."""
    if isinstance(raw, (list, tuple)):
        found = [_one(item, f"{place}[{at}]", values) for at, item in enumerate(raw, 1)]
    else:
        found = [_one(raw, place, values)]
    return tuple(sorted({one for one in found if one is not None}))


def written(files: Sequence[Attached]) -> Any:
    """Return what stands in a case file for these: the shortest form that `read` takes; nothing is an empty text."""
    forms = [{"path": one.path, "sha256": one.sha256} if one.sha256 else one.path for one in files]
    if not forms:
        return ""
    return forms[0] if len(forms) == 1 else forms


def _one(raw: Any, place: str, values: Values) -> Attached | None:
    if isinstance(raw, Mapping):
        found = values.table(raw, _FIELDS, place)
        path, digest = found.get("path"), found.get("sha256", "").lower()
        if digest and (len(digest) != 64 or not _HEX.issuperset(digest)):
            write = "write its 64 hexadecimal digits, or no such key"
            values.faults.add("bad-value", f"{place}.sha256", f"{show(digest)} is no SHA-256", write)
            return None
    elif isinstance(raw, str):
        path, digest = values.table({"path": raw}, _FIELDS, place).get("path"), ""
    else:
        write = 'write its path in quotes, or {path = "...", sha256 = "..."}'
        values.faults.add("wrong-type", place, f"{show(raw)} names no file", write)
        return None
    return Attached(path, digest) if path else None
