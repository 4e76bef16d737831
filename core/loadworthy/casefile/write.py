"""Writing a case file: whole files in one step, appended tables without touching a byte before them.

Both replace the file in one step (`os.replace`), so a process that dies at any moment leaves the old file or the new
one. A lock beside the file (``FILE.lock``) keeps two processes from losing each other's tables.
"""

from __future__ import annotations

import os
from contextlib import contextmanager, suppress
from errno import EINVAL
from typing import TYPE_CHECKING, Any

from loadworthy.casefile.faults import plain, refusal
from loadworthy.casefile.tables import decode, parse, read_bytes
from loadworthy.errors import CaseError, Fault

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping
    from os import PathLike

    from loadworthy.case import Case

#: How long (s) to wait for somebody else who is writing the same file.
LOCK_TIMEOUT = 10.0


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
        os.unlink(temporary)
        raise
    _sync_folder(folder)


def dump(tables: Mapping[str, Any], path: str | PathLike[str]) -> None:
    """Write tables as a new case file, or in place of an old one, in one step. Raises CaseError."""
    import tomli_w

    name = os.fsdecode(path)
    with _writing(name):
        replace(name, tomli_w.dumps(tables).encode("utf-8"))


def append(
    path: str | PathLike[str], section: str, table: Mapping[str, Any], *, check: Callable[[bytes, str], Case]
) -> Case:
    """Add one ``[[section]]`` at the end of a case file and return the case; every byte before it stays.

    The whole new file is read by ``check`` before anything is written. Raises CaseError with every fault, or where
    the file cannot be locked or written.
    """
    name = os.fsdecode(path)
    text = _text(section, table, name)
    read_bytes(name)  # first without the lock: a missing file gets no lock beside it
    with _writing(name):
        before = read_bytes(name)
        data = _joined(before, text)
        try:
            case = check(data, name)
        except CaseError as error:
            raise _why_not(error, before, section, name) from None
        replace(name, data)
        return case


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


def _why_not(error: CaseError, before: bytes, section: str, name: str) -> CaseError:
    """Return what to say where a table cannot follow: the file's own way to write the section may be the reason."""
    if error.faults[0].code not in ("syntax", "duplicate-key"):
        return error
    if section not in parse(decode(before, name), name):
        return error
    problem = "the file writes it as one table or as a list in brackets: nothing can be appended to that"
    fault = Fault("cannot-append", problem, plain(section), None, f"write each as [[{plain(section)}]]")
    return refusal(name, fault, what="written")


def _text(section: str, table: Mapping[str, Any], name: str) -> str:
    """Return the table as TOML under its own header; tables inside it are written inline, on one line each."""
    try:
        lines = [f"[[{_key(section)}]]"]
        lines += [f"{_key(key)} = {_inline(value)}" for key, value in table.items()]
        text = "\n".join(lines) + "\n"
        text.encode("utf-8")
    except (TypeError, ValueError, RecursionError, AttributeError):
        problem = "the table holds a value that no case file can hold"
        write = "use text, numbers, true or false, dates, lists and tables of these"
        raise refusal(name, Fault("wrong-type", problem, plain(str(section)), None, write)) from None
    return text


def _inline(value: Any) -> str:
    if hasattr(value, "items"):
        return "{" + ", ".join(f"{_key(str(key))} = {_inline(part)}" for key, part in value.items()) + "}"
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(_inline(part) for part in value) + "]"
    import tomli_w

    return tomli_w.dumps({"v": value}).removeprefix("v = ").rstrip("\n")


def _key(name: str) -> str:
    import tomli_w

    return tomli_w.dumps({name: 1}).removesuffix(" = 1\n")


def _joined(data: bytes, text: str) -> bytes:
    """Put ``text`` behind ``data``, a blank line between, in the line ends that the file has."""
    newline = b"\r\n" if b"\r\n" in data else b"\n"
    gap = b""
    if data and data != b"\xef\xbb\xbf":
        gap = newline if data.endswith(b"\n") else newline * 2
    return data + gap + text.encode("utf-8").replace(b"\n", newline)
