"""Writing a case file: whole files in one step, appended tables without touching a byte before them.

Both replace the file in one step (`os.replace`), so a process that dies at any moment leaves the old file or the new
one.
"""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, Any

from loadworthy.casefile.faults import refusal
from loadworthy.errors import Fault

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from os import PathLike

    from loadworthy.declarations import Catalogue

#: How long (s) to wait for somebody else who is writing the same file.
LOCK_TIMEOUT = 10.0


def replace(path: str | PathLike[str], data: bytes) -> None:
    """Put ``data`` in place of a file, or make it, in one step. A link is followed, the mode bits are kept.

    Raises OSError where the folder cannot be written; the old file is then as it was.
    """
    import tempfile

    target = os.path.realpath(path)
    handle, temporary = tempfile.mkstemp(prefix=".", suffix=".tmp", dir=os.path.dirname(target))
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(temporary, _mode(target))
        os.replace(temporary, target)
    except BaseException:
        os.unlink(temporary)
        raise
    _sync_folder(os.path.dirname(target))


def _mode(target: str) -> int:
    try:
        return os.stat(target).st_mode & 0o7777
    except FileNotFoundError:
        mask = os.umask(0)
        os.umask(mask)
        return 0o666 & ~mask


def _sync_folder(folder: str) -> None:
    """Make the new name of the file last through a power cut, where the system can do that."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:
        return
    try:
        os.fsync(handle)
    except OSError:
        pass
    finally:
        os.close(handle)


def dump(tables: Mapping[str, Any], path: str | PathLike[str]) -> None:
    """Write tables as a new case file, or in place of an old one, in one step."""
    import tomli_w

    replace(path, tomli_w.dumps(tables).encode("utf-8"))


def append(
    path: str | PathLike[str],
    section: str,
    table: Mapping[str, Any],
    *,
    catalogue: Catalogue,
    check: Callable[[bytes, str, Catalogue], object],
) -> None:
    """Add one ``[[section]]`` at the end of a case file; every byte before it stays.

    The whole new file is read by ``check`` before anything is written. A lock beside the file (``FILE.lock``) keeps two
    processes from losing each other's tables. Raises CaseError with every fault, or where the lock cannot be had.
    """
    from filelock import FileLock, Timeout

    name = os.fspath(path)
    lock = FileLock(f"{os.path.realpath(name)}.lock", timeout=LOCK_TIMEOUT)
    try:
        with lock:
            from loadworthy.casefile.tables import read_bytes

            data = _joined(read_bytes(name), _text(section, table))
            check(data, name, catalogue)
            replace(name, data)
    except Timeout:
        problem = f"somebody else has been writing this file for {LOCK_TIMEOUT:.0f} s"
        raise refusal(name, Fault("locked", problem, write="try again")) from None
    except OSError as error:
        problem = f"the file cannot be written: {error.strerror or error}"
        raise refusal(name, Fault("unwritable", problem)) from None


def _text(section: str, table: Mapping[str, Any]) -> str:
    """Return the table as TOML under its own header; tables inside it are written inline, on one line each."""
    lines = [f"[[{_key(section)}]]"]
    lines += [f"{_key(name)} = {_inline(value)}" for name, value in table.items()]
    return "\n".join(lines) + "\n"


def _inline(value: Any) -> str:
    if hasattr(value, "items"):
        return "{" + ", ".join(f"{_key(str(key))} = {_inline(part)}" for key, part in value.items()) + "}"
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(_inline(part) for part in value) + "]"
    import tomli_w

    return tomli_w.dumps({"v": value}).removeprefix("v = ").rstrip("\n")


def _key(name: str) -> str:
    import tomli_w

    return tomli_w.dumps({name: 1}).partition(" = ")[0]


def _joined(data: bytes, text: str) -> bytes:
    """Put ``text`` behind ``data``, a blank line between, in the line ends that the file has."""
    newline = b"\r\n" if b"\r\n" in data else b"\n"
    gap = b""
    if data and data != b"\xef\xbb\xbf":
        gap = newline if data.endswith((b"\n", b"\r\n")) else newline * 2
    return data + gap + text.encode("utf-8").replace(b"\n", newline)
