"""Declarations made ready when the wheel was built, to be read in place of being imported, made and checked anew.

The distribution that holds this core also brings plugins, and nothing that they declare depends on more than their
code. Building the wheel therefore writes their catalogue into a module ``prepared`` beside them (`written`), and a host
takes it from there (`ready`) as long as it is the catalogue of exactly these plugins and no source was edited since. An
editable installation has no such module. What other plugins declare is always asked of them and checked.
"""

from __future__ import annotations

import os
from importlib import import_module
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from loadworthy import declarations
from loadworthy.declarations import Field, Variant
from loadworthy.record import NamedTuple, Record

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from loadworthy.declarations import Catalogue
    from loadworthy.host.results import PluginInfo

#: The distribution whose plugins are made ready.
OWN = "loadworthy"
#: Name of the module, beside the plugins.
MODULE = "prepared"
#: Classes of declarations by table of the catalogue.
_CLASSES: dict[str, type[Record]] = {
    "sections": declarations.Section,
    "vehicle": Field,
    "plan": Field,
    "limits": declarations.Limit,
    "rules": declarations.Rule,
    "causes": declarations.Cause,
    "broader": declarations.Broader,
    "symptoms": declarations.SymptomSet,
    "tests": declarations.WorkshopTest,
    "quantities": declarations.Quantity,
    "groups": declarations.Group,
}
#: Seconds that files of one installation may differ in age.
_INSTALLATION = 120.0


class Prepared(NamedTuple):
    """A checked catalogue of some plugins."""

    plugins: frozenset[str]
    tables: Mapping[str, Mapping[str, Any]]
    owners: Mapping[str, str]
    shared: frozenset[str]


def ready(plugins: Iterable[PluginInfo]) -> Prepared | None:
    """Return what was made ready for the own distribution's plugins among these, None where it does not hold."""
    own = tuple((one.id, one.source, one.version) for one in plugins if one.distribution == OWN)
    if not own:
        return None
    package = own[0][1].partition(".")[0]
    try:
        module: Any = import_module(f"{package}.{MODULE}")
    except ModuleNotFoundError:
        return None
    if own != module.PLUGINS or _edited(module):
        return None
    tables = {
        table: {id: _made(_CLASSES[table], row) for id, row in rows.items()} for table, rows in module.TABLES.items()
    }
    return Prepared(frozenset(id for id, _, _ in own), tables, module.OWNERS, frozenset(module.SHARED))


def written(plugins: Sequence[PluginInfo], catalogue: Catalogue, sources: Iterable[str]) -> str:
    """Return the text of the module for these plugins, which are all of the own distribution.

    ``sources`` are the files that decide what is declared, relative to the folder of packages, with ``/``.
    """
    tables = {table: {id: _row(one) for id, one in getattr(catalogue, table).items()} for table in _CLASSES}
    lines = (
        '"""What the plugins beside this file declare. Written when the wheel was built; do not edit."""',
        f"PLUGINS = {tuple((one.id, one.source, one.version) for one in plugins)!r}",
        f"SOURCES = {tuple(sorted(sources))!r}",
        f"TABLES = {tables!r}",
        f"OWNERS = {dict(catalogue.owners)!r}",
        f"SHARED = {tuple(sorted(catalogue.shared))!r}",
    )
    return "\n".join(lines) + "\n"


def _edited(module: Any) -> bool:
    """Whether a source is gone, or younger than the installation of what was made of it."""
    file = module.__spec__.origin
    folder = os.path.dirname(os.path.dirname(file))
    try:
        youngest = os.stat(file).st_mtime + _INSTALLATION
        return any(os.stat(f"{folder}/{source}").st_mtime > youngest for source in module.SOURCES)
    except OSError:
        return True


def _row(one: Any) -> Any:
    """Return plain tuples and dictionaries for a declaration, its fields in their order."""
    if isinstance(one, Record):
        return tuple(_row(value) for _, value in one.items())
    if isinstance(one, (MappingProxyType, dict)):
        return {key: _row(value) for key, value in one.items()}
    if isinstance(one, tuple):
        return tuple(_row(value) for value in one)
    return one


def _made(cls: type[Record], row: tuple[Any, ...]) -> Any:
    """Return the declaration of a row, without the constructor: all of it was checked."""
    one = cls.__new__(cls)
    held = one.__dict__
    held.update(zip(cls._names_, row, strict=True))
    if cls is Field or cls is declarations.Section:
        if row[-1] or cls is declarations.Section:
            held["fields"] = tuple([_made(Field, field) for field in held["fields"]])
    elif cls is declarations.Rule:
        held["bands"] = MappingProxyType(held["bands"])
    elif cls is declarations.Cause and held["variants"]:
        held["variants"] = tuple([_made(Variant, variant) for variant in held["variants"]])
    return one
