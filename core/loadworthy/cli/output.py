"""Printing: any encoding, no control codes, quiet when the reader goes away, files in one step."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    import click

    from loadworthy.errors import LoadworthyError

#: Characters that cases often hold and that decomposing does not turn into ASCII.
_ASCII = {
    "\u00b1": "+-", "\u00b0": "deg ", "\u00b5": "u", "\u03bc": "u", "\u03a9": "ohm", "\u2126": "ohm", "\u00b7": ".",
    "\u2010": "-", "\u2011": "-", "\u2013": "-", "\u2014": "-", "\u2212": "-", "\u00d7": "x", "\u2018": "'",
    "\u2019": "'", "\u201c": '"', "\u201d": '"', "\u00df": "ss", "\u00e6": "ae", "\u00f8": "o", "\u0142": "l",
}  # fmt: skip
_BOLD, _PLAIN = "\x1b[1m", "\x1b[0m"


def say(text: str, *, err: bool = False, bold: Iterable[str] = (), form: str = "text") -> None:
    """Print text and the end of its line.

    Control characters become question marks, and what the stream cannot show is written in ASCII, in Markdown as
    numbers of characters, which no reader takes for markup. CSV has line ends of its own and is always UTF-8. On a
    terminal the lines' beginnings that are listed in ``bold`` stand out.
    """
    stream = sys.stderr if err else sys.stdout
    if stream is None:  # a program without a console
        return
    text = text if text.endswith("\n") else f"{text}\n"
    if form != "csv":
        text = _shown(
            text, getattr(stream, "encoding", None) or "ascii", _in_numbers if form == "markdown" else in_ascii
        )
    if bold and _may_stand_out(stream):
        for beginning in bold:
            text = text.replace(f"\n{beginning}", f"\n{_BOLD}{beginning}{_PLAIN}", 1)
    try:
        if form == "csv" and hasattr(stream, "buffer"):
            stream.flush()
            stream.buffer.write(text.encode("utf-8", "replace"))
        else:
            stream.write(text)
        stream.flush()
    except BrokenPipeError:
        _silence(stream)
    except OSError as error:
        _silence(stream)
        raise _refusal(f"cannot write the output: {error.strerror or error}") from None


def fit(text: str, stream: Any) -> str:
    """Return text as the stream can show it, without control characters."""
    return _shown(text, getattr(stream, "encoding", None) or "ascii", in_ascii)


def complain(text: str) -> None:
    """Print what is wrong on the error stream."""
    say(text, err=True)


def complain_of(error: LoadworthyError) -> None:
    """Print an error and its faults, each broken to lines of 80 columns."""
    from loadworthy.outputs.page import wrap

    message, *faults = error.lines()
    complain("\n".join((message, *(line for fault in faults for line in wrap(fault.strip(), "  ", "    ")))))


def complain_of_usage(error: click.ClickException) -> None:
    """Print what is wrong with the command, and where help is to be had."""
    import click

    complain(error.format_message())
    if isinstance(error, click.UsageError) and error.ctx is not None:
        complain(f"help: {error.ctx.command_path} --help")


def complain_of_full_disk(error: OSError) -> bool:
    """Print that the output has no room; false, and nothing printed, if the error is another one."""
    from errno import EDQUOT, EFBIG, ENOSPC

    if error.errno not in (EDQUOT, EFBIG, ENOSPC):
        return False
    _silence(sys.stdout)
    complain(f"cannot write the output: {error.strerror}")
    return True


def deliver(text: str, target: str | None, bold: Iterable[str] = (), form: str = "text") -> None:
    """Print text, or write it to a file in one step: the old file stays as it was until the new one is whole.

    A device or a pipe is written to as it is: nothing may take its place.
    """
    if target is None:
        say(text, bold=bold, form=form)
        return
    from loadworthy.casefile.write import replace

    data = text.encode("utf-8", "replace")
    try:
        if _is_stream(target):
            with open(target, "wb") as stream:
                stream.write(data)
        else:
            replace(target, data)
    except (OSError, ValueError) as error:  # ValueError: a NUL in the name
        reason = getattr(error, "strerror", None) or error
        raise _refusal(f"cannot write {target}: {reason}") from None


def _is_stream(target: str) -> bool:
    """Whether a name stands for a device or a pipe rather than for a file or folder."""
    import os
    import stat

    try:
        mode = os.stat(target).st_mode
    except FileNotFoundError:
        return False
    return not stat.S_ISREG(mode) and not stat.S_ISDIR(mode)


def _refusal(text: str) -> Exception:
    import click

    return click.ClickException(text)


def _shown(text: str, encoding: str, fallback: Callable[[str], str]) -> str:
    if not text.replace("\n", "").isprintable():
        text = "".join(char if char.isprintable() or char == "\n" else "?" for char in text)
    try:
        text.encode(encoding)
    except (UnicodeEncodeError, LookupError):
        return fallback(text)
    return text


def _in_numbers(text: str) -> str:
    return text.encode("ascii", "xmlcharrefreplace").decode("ascii")


def in_ascii(text: str) -> str:
    """Return text in ASCII: accents dropped, usual signs written out, the rest as question marks.

    >>> in_ascii("Müller, 12 ± 1 °C, 車")
    'Muller, 12 +- 1 deg C, ?'
    """
    from unicodedata import combining, normalize

    plain = "".join(_ASCII.get(char, char) for char in text)
    parts = (char for char in normalize("NFKD", plain) if not combining(char))
    return "".join(parts).encode("ascii", "replace").decode("ascii")


def plain_terminal() -> bool:
    """Whether somebody asks for lines without colour, or has a terminal that only adds lines."""
    import os

    return bool(os.environ.get("NO_COLOR")) or os.environ.get("TERM") == "dumb"


def _may_stand_out(stream: Any) -> bool:
    return not plain_terminal() and bool(stream.isatty())


def _silence(stream: Any) -> None:
    """Let nothing complain any more about a stream that cannot be written, also not while the process ends."""
    import os
    from contextlib import suppress

    with suppress(OSError, ValueError):  # no real file behind it
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
