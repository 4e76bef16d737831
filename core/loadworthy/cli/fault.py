"""An internal fault: the traceback goes to a file, never to the screen."""

from __future__ import annotations

from loadworthy.cli.output import complain


def report(case: str = "") -> int:
    """Write the exception being handled to a file in the folder for temporary files; return exit code 3."""
    import platform
    import sys
    import tempfile
    import traceback

    from loadworthy import __version__

    about = f" with {case}" if case else ""
    error = sys.exc_info()[0]
    name = error.__name__ if error is not None else "fault"
    text = (
        f"loadworthy {__version__}, Python {platform.python_version()}, {platform.platform()}\n"
        f"arguments: {sys.argv[1:]!r}\n\n{traceback.format_exc()}"
    )
    try:
        with tempfile.NamedTemporaryFile(
            "w", prefix="loadworthy-fault-", suffix=".txt", delete=False, encoding="utf-8", errors="backslashreplace"
        ) as file:
            file.write(text)
    except OSError as failed:
        complain(f"internal fault{about} ({name}); no report could be written: {failed.strerror or failed}")
        return 3
    complain(f"internal fault{about} ({name}): this should not happen; a report was written to {file.name}")
    return 3
