"""An internal fault: keep the traceback in a file and say where, never on the screen."""

from __future__ import annotations

import click


def report() -> int:
    """Write the exception being handled to a file in the temporary folder and return exit code 3."""
    import platform
    import sys
    import tempfile
    import traceback

    from loadworthy import __version__

    with tempfile.NamedTemporaryFile(
        "w", prefix="loadworthy-fault-", suffix=".txt", delete=False, encoding="utf-8"
    ) as file:
        file.write(f"loadworthy {__version__}, Python {platform.python_version()}, {platform.platform()}\n")
        file.write(f"arguments: {sys.argv[1:]!r}\n\n")
        file.write(traceback.format_exc())
    click.echo(f"internal fault: this should not happen; a report was written to {file.name}", err=True)
    return 3
