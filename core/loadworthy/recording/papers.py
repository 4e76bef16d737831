"""Photos and papers beside a case: their digest when they are attached, and whether they are still what they were.

A case may come from anywhere, so nothing that it names is trusted: only ordinary files within its own folder are
opened, in pieces, up to a size. Whatever else it names is not even looked for.
"""

from __future__ import annotations

import hashlib
import os
import stat
from typing import TYPE_CHECKING

from loadworthy.errors import Fault
from loadworthy.recording.answers import AnswerError

if TYPE_CHECKING:
    from loadworthy.case import Case

#: Largest file (bytes) that is read, and the sum of all that one case names: more would keep people waiting.
MAX_BYTES = 1_000_000_000
MAX_TOTAL = 4_000_000_000
_PIECE = 1 << 20


class _UnfitError(Exception):
    """Why a file is not read; ``missing``: it is not there."""

    def __init__(self, why: str, missing: bool = False) -> None:
        super().__init__(why)
        self.missing = missing


def attach(path: str, case_path: str) -> dict[str, str]:
    """Return what a sheet writes for a file: its path from the folder of the case, and its SHA-256.

    Raises AnswerError where it is no ordinary file, too large, or outside that folder.
    """
    folder = _folder(case_path)
    try:
        real = os.path.realpath(os.path.expanduser(path))
        inside = _inside(real, folder)
        if not inside and os.path.exists(real):
            write = "copy it there, then name the copy: a case is moved together with what belongs to it"
            raise AnswerError("the file lies outside the folder of the case", write)
        digest, _ = _digest(real)
    except _UnfitError as error:
        raise AnswerError(f"the file cannot be attached: {error}", "name a photo or paper") from None
    except ValueError as error:
        if isinstance(error, AnswerError):
            raise
        raise AnswerError("this is no name of a file", "name a photo or paper") from None
    return {"path": os.path.relpath(real, folder).replace(os.sep, "/"), "sha256": digest}


def examine(case: Case) -> tuple[tuple[Fault, ...], tuple[Fault, ...]]:
    """Open what the sheets of a case name; return faults (files that were changed) and notes (what is missing)."""
    folder = _folder(case.path)
    faults, notes = [], []
    seen: dict[tuple[str, bool], str | _UnfitError] = {}
    left = MAX_TOTAL
    for id, one in ((sheet.id, one) for sheet in case.sheets for one in sheet.file):
        place = f"{id}.file"
        real = _real(one.path, folder)
        if real is None:
            problem = f"{one.path} does not lie in the folder of the case, so it was not looked for"
            notes.append(Fault("attached-outside", problem, place, write="copy it there"))
            continue
        key = real, bool(one.sha256)
        if key not in seen:
            try:
                seen[key], size = _digest(real, left) if one.sha256 else (_found(real), 0)
                left -= size
            except _UnfitError as error:
                seen[key] = error
        found = seen[key]
        if isinstance(found, _UnfitError):
            code = "attached-missing" if found.missing else "attached-unread"
            notes.append(Fault(code, f"{one.path}: {found}", place))
        elif found != one.sha256:
            problem = f"{one.path} was changed since it was attached: it has another SHA-256"
            write = "put the first one back, or void the sheet"
            faults.append(Fault("attached-changed", problem, place, write=write))
    return tuple(faults), tuple(notes)


def _folder(case_path: str) -> str:
    return os.path.dirname(os.path.realpath(case_path))


def _inside(real: str, folder: str) -> bool:
    return real.startswith(os.path.join(folder, ""))


def _real(path: str, folder: str) -> str | None:
    """Return the real path of what a case names, or None unless it lies in the folder, links followed."""
    if os.path.isabs(path) or ".." in path.replace("\\", "/").split("/"):
        return None
    try:
        real = os.path.realpath(os.path.join(folder, path))
    except (OSError, ValueError):
        return None
    return real if _inside(real, folder) else None


def _found(real: str) -> str:
    """Make sure that an ordinary file is there; return an empty digest."""
    try:
        _ordinary(os.stat(real))
    except OSError as error:
        raise _refused(error) from None
    return ""


def _digest(real: str, most: int = MAX_BYTES) -> tuple[str, int]:
    """Return the SHA-256 of an ordinary file and how many bytes were read. Raises _UnfitError."""
    try:
        _ordinary(os.stat(real))
        # Never waits, should it have become a pipe meanwhile.
        handle = os.open(real, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    except OSError as error:
        raise _refused(error) from None
    try:
        status = os.fstat(handle)
        _ordinary(status)
        most = min(most, MAX_BYTES)
        if status.st_size > most:
            raise _UnfitError(f"it has {status.st_size / 1e6:.0f} MB, too much to be read")
        digest, size = hashlib.sha256(), 0
        while piece := os.read(handle, _PIECE):
            size += len(piece)
            if size > most:
                raise _UnfitError("it grows while it is read")
            digest.update(piece)
    except OSError as error:
        raise _refused(error) from None
    finally:
        os.close(handle)
    return digest.hexdigest(), size


def _ordinary(status: os.stat_result) -> None:
    if not stat.S_ISREG(status.st_mode):
        raise _UnfitError("a folder" if stat.S_ISDIR(status.st_mode) else "no ordinary file")


def _refused(error: OSError) -> _UnfitError:
    if isinstance(error, FileNotFoundError):
        return _UnfitError("there is no such file", missing=True)
    return _UnfitError(f"it cannot be read: {error.strerror or error}")
