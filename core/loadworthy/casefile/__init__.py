"""Reading and writing case files (TOML): every fault at once, each with its place; nothing ever half written."""

from __future__ import annotations

from os import fsdecode
from typing import TYPE_CHECKING, Any

from loadworthy.casefile.faults import Faults

if TYPE_CHECKING:
    import datetime
    from collections.abc import Iterable, Mapping
    from os import PathLike

    from cattrs import Converter

    from loadworthy.case import Case, Instrument
    from loadworthy.declarations import Catalogue

__all__ = ["append", "converter", "dump", "from_dict", "load", "loads", "to_dict"]


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

    name = fsdecode(path)
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


def converter(*, catalogue: Catalogue | None = None) -> Converter:
    """Return a cattrs converter that knows cases, for programs that keep them inside structures of their own.

    It structures a `Case` from the tables of `from_dict` and unstructures it as `to_dict` does.
    """
    from cattrs import Converter

    from loadworthy.case import Case

    known = _catalogue(catalogue)
    made = Converter()
    # By a test of the type, not by the type alone: cattrs would go through its annotations in vain.
    made.register_structure_hook_func(lambda type: type is Case, lambda data, _: from_dict(data, catalogue=known))
    made.register_unstructure_hook_func(lambda type: type is Case, lambda case: to_dict(case, catalogue=known))
    return made


def dump(case: Case, path: str | PathLike[str], *, catalogue: Catalogue | None = None) -> None:
    """Write a case as a new file, or in place of an old one, in one step. Comments of an old file are lost.

    Raises CaseError where the file cannot be written or stays locked; the old one is then as it was.
    """
    from loadworthy.casefile.write import dump as write

    write(to_dict(case, catalogue=catalogue), path)


def append(
    path: str | PathLike[str],
    section: str,
    table: Mapping[str, Any],
    *,
    catalogue: Catalogue | None = None,
    shared: Iterable[Instrument] = (),
    today: datetime.date | None = None,
) -> Case:
    """Add one ``[[section]]`` (a sheet, repair, event, waiver or void) to a case file; every byte before it stays.

    Returns the case as it now stands. Raises CaseError with every fault that the file would then have; the file is as
    it was.
    """
    from loadworthy.casefile.write import append as write

    known, gauges = _catalogue(catalogue), tuple(shared)

    def check(data: bytes, name: str) -> Case:
        return loads(data, name, known, shared=gauges, today=today)

    return write(path, section, table, check=check)


def _catalogue(catalogue: Catalogue | None) -> Catalogue:
    if catalogue is not None:
        return catalogue
    from loadworthy.host import Host

    return Host().catalogue
