"""From a file to parsed tables: what may be opened, how long it may be, how it must be encoded, and TOML's syntax."""

from __future__ import annotations

import os
from typing import Any

from loadworthy.casefile.faults import plain, refusal
from loadworthy.errors import Fault

#: Largest case file in bytes. A case of ten years with logs stays far below; more is not a case.
MAX_BYTES = 4_000_000
#: Parts that a dotted key may have. The parser takes time with the square of them.
_MAX_PARTS = 64


def read_bytes(name: str) -> bytes:
    """Return the bytes of an ordinary file of at most `MAX_BYTES`; raise CaseError on anything else."""
    import stat

    try:
        status = os.stat(name)
        if stat.S_ISDIR(status.st_mode):
            raise refusal(name, Fault("not-a-file", "this is a folder", write="name a file in it"))
        if not stat.S_ISREG(status.st_mode):
            # A pipe could keep us waiting for ever, a device could go on for ever.
            raise refusal(name, Fault("not-a-file", "this is no ordinary file"))
        if status.st_size <= MAX_BYTES:
            with open(name, "rb") as file:
                data = file.read(MAX_BYTES + 1)
            size = len(data)
        else:
            data, size = b"", status.st_size
    except FileNotFoundError:
        raise refusal(name, Fault("missing-file", "there is no such file")) from None
    except PermissionError:
        raise refusal(name, Fault("no-permission", "no permission to read the file")) from None
    except (OSError, ValueError) as error:  # ValueError: a NUL in the name
        reason = getattr(error, "strerror", None) or str(error)
        raise refusal(name, Fault("unreadable", f"the file cannot be read: {reason}")) from None
    if size > MAX_BYTES:
        raise refusal(
            name,
            Fault(
                "too-large",
                f"the file has {size / 1e6:.1f} MB; a case has at most {MAX_BYTES / 1e6:.0f} MB",
                write="keep logs and pictures in files of their own",
            ),
        )
    return data


def decode(data: bytes, name: str = "") -> str:
    """Return the text of a case file: UTF-8, with or without a byte order mark. Raises CaseError."""
    if data.startswith((b"\xff\xfe", b"\xfe\xff")) or _looks_wide(data):
        raise refusal(name, Fault("encoding", "the file is UTF-16 or UTF-32 text", write="save it as UTF-8"))
    if data.startswith(b"\xef\xbb\xbf"):
        data = data[3:]
    nul = data.find(b"\0")
    if nul >= 0:
        line = data.count(b"\n", 0, nul) + 1
        raise refusal(name, Fault("binary", "a NUL byte: this is no text", line=line, write="give a case file (TOML)"))
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise refusal(
            name,
            Fault(
                "encoding",
                f"byte {data[error.start]:#04x} is not UTF-8",
                line=line,
                write="save the file as UTF-8",
            ),
        ) from None


def parse(text: str, name: str = "") -> dict[str, Any]:
    """Return the tables of a TOML text. Raises CaseError; of several faults of syntax only the first is known."""
    import tomllib

    if _too_dotted(text):
        raise refusal(name, Fault("nesting", f"a dotted key of more than {_MAX_PARTS} parts"))
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise refusal(
            name, Fault("nesting", "tables or lists are nested too deeply", write="see the case-file reference")
        ) from None
    except (ValueError, OverflowError) as error:  # TOMLDecodeError is a ValueError; so are absurd numbers and dates
        raise refusal(name, _syntax_fault(text, str(error))) from None


def _looks_wide(data: bytes) -> bool:
    """Tell text in UTF-16 without its mark: every other byte of its ASCII characters is NUL."""
    head = data[:200]
    if len(head) < 4:
        return False
    half = len(head) // 2
    return min(head[1::2].count(0), half) > 0.7 * half or head[::2].count(0) > 0.7 * half


def _too_dotted(text: str) -> bool:
    import re

    # Cheap, and wrong only about strings: those are told apart below, which takes longer.
    if re.search(rf"\.(?:[^.,=\[\]{{}}\n]*+\.){{{_MAX_PARTS - 1}}}", text) is None:
        return False
    from loadworthy.casefile.locate import tokens

    parts = 0
    for kind, token, _ in tokens(text):
        if kind == "mark" or kind == "line":
            parts = 0
        elif kind == "bare":
            parts += token.count(".")
            if parts >= _MAX_PARTS:
                return True
    return False


def _syntax_fault(text: str, message: str) -> Fault:
    """Word a syntax error with its line, the key on it and what is usually meant."""
    import re

    from loadworthy.casefile.locate import Places

    found = re.search(r"\(at line (\d+), column \d+\)", message)
    at_end = text.count("\n") + 1
    problem = re.sub(r" \(at .*\)$", "", message)
    if found is None and problem == message:  # a number or date too absurd for the parser to say where
        return Fault("syntax", f"not valid TOML: {plain(problem, 80)}", write="mend this first")
    line = int(found[1]) if found else at_end
    lines = text.split("\n", line)
    places = Places("\n".join(lines[:line]))
    code, first_only = "syntax", "the rest of the file was not checked, mend this first"
    if problem.startswith(("Cannot overwrite", "Cannot declare", "Cannot mutate", "Cannot redefine")):
        code = "duplicate-key"
        place, earlier = places.last, places.line(places.last)
        where = f", first on line {earlier}" if earlier is not None and earlier != line else ""
        problem = f"this is written a second time{where}"
        return Fault(code, problem, place, line, f"delete one of the two; {first_only}")
    source = lines[line - 1] if line <= len(lines) else ""
    bare = re.search(r"=\s*([-+]?\d[\d.,]*\s*[A-Za-z%°µ][\w/%. ]*)", source)
    hint = f'did you mean "{plain(bare[1].strip())}" in quotes? ' if bare else ""
    return Fault(code, f"not valid TOML: {problem}", places.last if source.strip() else "", line, hint + first_only)
