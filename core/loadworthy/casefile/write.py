"""Writing a case file: whole files in one step, appended tables and changed lines without touching another byte.

All replace the file in one step (`os.replace`), so a process that dies at any moment leaves the old file or the new
one. A lock beside the file (``FILE.lock``) keeps two processes from losing each other's tables.
"""

from __future__ import annotations

import os
from contextlib import contextmanager, suppress
from errno import EINVAL
from typing import TYPE_CHECKING, Any

from loadworthy.casefile.edit import with_table
from loadworthy.casefile.faults import refusal
from loadworthy.casefile.rendering import document
from loadworthy.casefile.tables import MAX_BYTES, decode, read_bytes
from loadworthy.errors import Fault

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping
    from os import PathLike

    from loadworthy.case import Case

#: How long (s) to wait for somebody else who is writing the same file.
LOCK_TIMEOUT = 10.0
_BOM = b"\xef\xbb\xbf"


def replace(path: str | PathLike[str], data: bytes) -> None:
    """Put ``data`` in place of a file, or make it, in one step. A link is followed, the mode bits are kept.

    Raises OSError where the file or its folder cannot be written, or where it is a device, a pipe or a folder; the old
    file is then as it was.
    """
    import stat

    target = os.path.realpath(path)
    folder, name = os.path.split(target)
    mode = None
    with suppress(FileNotFoundError):
        status = os.stat(target).st_mode
        mode = stat.S_IMODE(status)
        if not stat.S_ISREG(status):
            # With enough rights the new file would take the place of the device itself.
            raise OSError(EINVAL, "a folder" if stat.S_ISDIR(status) else "no ordinary file", target)
    if mode is not None and not os.access(target, os.W_OK):
        # Its folder would let us, but whoever made it read-only meant it.
        raise PermissionError(13, "the file is read-only", target)
    temporary = os.path.join(folder, f".{name}.{os.getpid()}-{os.urandom(4).hex()}.tmp")
    # Made by ourselves, not by tempfile, so that a new file gets the mode that the umask gives every other.
    handle = os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o666)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        if mode is not None:
            os.chmod(temporary, mode)
        os.replace(temporary, target)
    except BaseException:
        with suppress(FileNotFoundError):  # an interruption may come when all is done
            os.unlink(temporary)
        raise
    _sync_folder(folder)


def dump(tables: Mapping[str, Any], path: str | PathLike[str]) -> None:
    """Write tables as a new case file, or in place of an old one, in one step. Raises CaseError."""
    import tomli_w

    name = os.fsdecode(path)
    with _writing(name):
        replace(name, tomli_w.dumps(tables).encode("utf-8"))


def create(tables: Mapping[str, Any], path: str | PathLike[str], *, check: Callable[[bytes, str], Case]) -> Case:
    """Write tables as a new case file and return the case. Raises CaseError, also where there is a file already."""
    name = os.fsdecode(path)
    data = document(tables, name).encode("utf-8")
    with _writing(name):
        case = check(data, name)
        if os.path.lexists(name):
            write = "name another, or add to this one with loadworthy record"
            raise refusal(name, Fault("file-exists", "there is a file of this name", write=write), what="written")
        replace(name, data)
        return case


def change(
    path: str | PathLike[str],
    edit: Callable[[str, str], str],
    *,
    check: Callable[[bytes, str], Case],
    dry: bool = False,
) -> Case:
    """Put in place of a case file's text what ``edit`` makes of it (text, name), in one step, and return the case.

    The file is read anew under its lock, and the whole new one by ``check`` before anything is written; ``dry``:
    nothing is. Raises CaseError with every fault, or where the file cannot be locked or written.
    """
    name = os.fsdecode(path)
    if dry:
        return check(_edited(read_bytes(name), name, edit), name)
    read_bytes(name)  # first without the lock: a missing file gets no lock beside it
    with _writing(name):
        before = read_bytes(name)
        data = _edited(before, name, edit)
        case = check(data, name)
        if data != before:
            replace(name, data)
        return case


def _edited(before: bytes, name: str, edit: Callable[[str, str], str]) -> bytes:
    mark = _BOM if before.startswith(_BOM) else b""
    return _of_size(mark + edit(decode(before, name), name).encode("utf-8"), name)


def _of_size(data: bytes, name: str) -> bytes:
    if len(data) > MAX_BYTES:
        problem = f"the file would be longer than a case may be, {MAX_BYTES / 1e6:.0f} MB"
        raise refusal(name, Fault("too-large", problem, write="keep logs in files of their own"), what="written")
    return data


def append(
    path: str | PathLike[str], section: str, table: Mapping[str, Any], *, check: Callable[[bytes, str], Case]
) -> Case:
    """Add one ``[[section]]`` at the end of a case file and return the case; every byte before it stays.

    The whole new file is read by ``check`` before anything is written. Raises CaseError with every fault, or where
    the file cannot be locked or written.
    """
    return change(path, lambda text, name: with_table(text, name, section, table).text, check=check)


@contextmanager
def _writing(name: str) -> Iterator[None]:
    """Hold the lock of a file; what the system refuses becomes CaseError."""
    from filelock import FileLock, Timeout

    target = os.path.realpath(name)
    if not os.path.isdir(os.path.dirname(target)):
        raise refusal(name, Fault("missing-file", "there is no such folder"), what="written")
    if os.path.isdir(target):
        raise refusal(name, Fault("not-a-file", "this is a folder", write="name a file in it"), what="written")
    try:
        with FileLock(f"{target}.lock", timeout=LOCK_TIMEOUT):
            _sweep(target)
            yield
    except Timeout:
        problem = f"somebody else has been writing this file for {LOCK_TIMEOUT:.0f} s"
        raise refusal(name, Fault("locked", problem, write="try again"), what="written") from None
    except (OSError, NotImplementedError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise refusal(name, Fault("unwritable", f"the file cannot be written: {reason}"), what="written") from None


def _sweep(target: str) -> None:
    """Remove what a writer of this file left when it was killed; whoever holds the lock is the only writer."""
    import re

    folder, name = os.path.split(target)
    ours = re.compile(rf"\.{re.escape(name)}\.\d+-[0-9a-f]{{8}}\.tmp")
    with suppress(OSError), os.scandir(folder) as entries:
        for entry in entries:
            if ours.fullmatch(entry.name):
                os.unlink(entry.path)


def _sync_folder(folder: str) -> None:
    """Make the new name of the file last through a power cut, where the system can do that."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:
        return
    try:
        with suppress(OSError):
            os.fsync(handle)
    finally:
        os.close(handle)
