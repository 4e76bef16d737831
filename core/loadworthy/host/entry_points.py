"""Finding installed plugins: the entry points of a group, read straight from ``sys.path``.

The answer is that of ``importlib.metadata.entry_points(group=...)``, whose import alone takes longer than reading a
case. It is read afresh at every call, so that what was just installed is found. Where the path holds something that
only ``importlib.metadata`` understands (zip archives, eggs, finders of its own), it is asked instead.
"""

from __future__ import annotations

import os
import re
import sys
from typing import TYPE_CHECKING, Any

from loadworthy.record import NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

_SUFFIXES = (".dist-info", ".egg-info")
_SEPARATORS = re.compile(r"[-_.]+")


class EntryPoint(NamedTuple):
    """One line of an ``entry_points.txt``: a name, ``package.module[:attribute]``, and the distribution it is of."""

    name: str
    value: str
    group: str
    distribution: str
    version: str

    def load(self) -> Any:
        """Import and return what the entry point names. Raises ValueError where its text names nothing."""
        target = self.value.partition("[")[0]
        module, colon, attributes = (part.strip() for part in target.partition(":"))
        if not _is_dotted(module) or (colon and not _is_dotted(attributes)):
            raise ValueError(f'"{self.value}" is no entry point; write package.module or package.module:attribute')
        __import__(module)
        found: Any = sys.modules[module]
        for name in attributes.split(".") if attributes else ():
            found = getattr(found, name)
        return found


def find(group: str) -> tuple[EntryPoint, ...]:
    """Return the entry points of a group in the order of ``sys.path``."""
    if _has_finder_of_its_own():
        return _ask_importlib(group)
    folders: list[str] = []
    for entry in sys.path:
        if not isinstance(entry, str) or entry.lower().endswith(".egg"):
            return _ask_importlib(group)
        try:
            names = os.listdir(entry or ".")
        except OSError:
            if os.path.isfile(entry):  # an archive
                return _ask_importlib(group)
            continue
        for name in names:
            if name.lower().endswith(_SUFFIXES):
                if not name.endswith(_SUFFIXES):
                    return _ask_importlib(group)
                folders.append(os.path.join(entry, name))
    return tuple(_read(_first_of_each(folders), group))


def _first_of_each(folders: Iterable[str]) -> Iterator[str]:
    """Leave out every further folder of a distribution that an earlier entry of the path holds too."""
    seen: set[str] = set()
    for folder in folders:
        stem = os.path.splitext(os.path.basename(folder))[0].partition("-")[0]
        name = _SEPARATORS.sub("_", stem).lower()
        if name not in seen:
            seen.add(name)
            yield folder


def _read(folders: Iterable[str], group: str) -> Iterator[EntryPoint]:
    wanted = f"[{group}]".encode()
    for folder in folders:
        data = _content(folder, "entry_points.txt")
        if wanted in data:
            lines = list(_lines(data.decode("utf-8", "replace"), group))
            if lines:
                name, version = _distribution(folder)
                for key, value in lines:
                    yield EntryPoint(key, value, group, name, version)


def _lines(text: str, group: str) -> Iterator[tuple[str, str]]:
    """Yield name and value of each line of a section."""
    section = ""
    for line in map(str.strip, text.splitlines()):
        if line.startswith("[") and line.endswith("]"):
            section = line.strip("[]")
        elif section == group and line and not line.startswith("#"):
            name, _, value = line.partition("=")
            yield name.strip(), value.strip()


def _distribution(folder: str) -> tuple[str, str]:
    """Return name and version from the head of the metadata, else from the folder's name."""
    stem, suffix = os.path.splitext(os.path.basename(folder))
    name, _, version = stem.partition("-")
    metadata = _content(folder, "METADATA" if suffix == ".dist-info" else "PKG-INFO")
    for line in metadata.decode("utf-8", "replace").splitlines():
        key, _, value = line.partition(":")
        if not line:
            break
        if key == "Name":
            name = value.strip()
        elif key == "Version":
            version = value.strip()
    return name, version


def _content(folder: str, file: str) -> bytes:
    """Return the content of a file, nothing where it cannot be read (``folder`` may itself be a file)."""
    try:
        with open(os.path.join(folder, file), "rb", buffering=0) as stream:
            return stream.readall()
    except OSError:
        return b""


def _is_dotted(text: str) -> bool:
    return all(part.isidentifier() for part in text.split("."))


def _has_finder_of_its_own() -> bool:
    from _frozen_importlib_external import PathFinder

    return any(finder is not PathFinder and hasattr(finder, "find_distributions") for finder in sys.meta_path)


def _ask_importlib(group: str) -> tuple[EntryPoint, ...]:
    from importlib import metadata

    found = []
    for point in metadata.entry_points(group=group):
        name, version = (point.dist.name, point.dist.version) if point.dist is not None else ("", "")
        found.append(EntryPoint(point.name, point.value, group, name, version))
    return tuple(found)
