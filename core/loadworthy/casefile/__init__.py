"""Reading and writing case files (TOML): every fault at once, each with its place; nothing ever half written."""

from __future__ import annotations

from os import fspath
from typing import TYPE_CHECKING, Any

from loadworthy.casefile.faults import Faults

if TYPE_CHECKING:
    import datetime
    from collections.abc import Iterable, Mapping
    from os import PathLike

    from loadworthy.case import Case, Instrument
    from loadworthy.declarations import Catalogue

__all__ = ["append", "dump", "from_dict", "load", "loads", "to_dict"]


def load(
    path: str | PathLike[str],
    *,
    catalogue: Catalogue | None = None,
    shared: Iterable[Instrument] = (),
    today: datetime.date | None = None,
) -> Case:
    """Read a case file. ``catalogue`` defaults to that of the installed plugins, ``shared`` are the house's gauges.

    ``today`` decides what lies in the future. Raises CaseError with every fault of the file, each with place and line.
    """
    from loadworthy.casefile.tables import read_bytes

    name = fspath(path)
    return loads(read_bytes(name), name, _catalogue(catalogue), shared=shared, today=today)


def loads(
    data: bytes,
    name: str,
    catalogue: Catalogue,
    *,
    shared: Iterable[Instrument] = (),
    today: datetime.date | None = None,
) -> Case:
    """Read the bytes of a case file that is called ``name``. Raises CaseError with every fault."""
    from loadworthy.casefile.structure import build
    from loadworthy.casefile.tables import decode, parse

    text = decode(data, name)
    faults = Faults()
    case = build(parse(text, name), catalogue, faults, path=name, shared=shared, today=today)
    if faults.faults:
        from loadworthy.casefile.locate import Places

        faults.refuse(name, Places(text).line)
    return case


def from_dict(
    data: Mapping[str, Any],
    *,
    catalogue: Catalogue | None = None,
    shared: Iterable[Instrument] = (),
    today: datetime.date | None = None,
) -> Case:
    """Build a case from the tables of a case file, parsed already. Raises CaseError with every fault."""
    from loadworthy.casefile.structure import build

    faults = Faults()
    case = build(data, _catalogue(catalogue), faults, shared=shared, today=today)
    faults.refuse("")
    return case


def to_dict(case: Case, *, catalogue: Catalogue | None = None) -> dict[str, Any]:
    """Return the tables of a case; `from_dict` makes an equal case of them."""
    from loadworthy.casefile.plain import to_dict as tables

    return tables(case, _catalogue(catalogue))


def dump(case: Case, path: str | PathLike[str], *, catalogue: Catalogue | None = None) -> None:
    """Write a case as a new file, or in place of an old one, in one step. Raises OSError where that cannot be done."""
    from loadworthy.casefile.write import dump as write

    write(to_dict(case, catalogue=catalogue), path)


def append(
    path: str | PathLike[str], section: str, table: Mapping[str, Any], *, catalogue: Catalogue | None = None
) -> None:
    """Add one ``[[section]]`` (a sheet, repair, event, waiver or void) to a case file; every byte before it stays.

    Raises CaseError with every fault that the file would then have; the file is as it was.
    """
    from loadworthy.casefile.write import append as write

    write(path, section, table, catalogue=_catalogue(catalogue), check=loads)


def _catalogue(catalogue: Catalogue | None) -> Catalogue:
    if catalogue is not None:
        return catalogue
    from loadworthy.host import Host

    return Host().catalogue
