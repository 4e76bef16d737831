"""The program: ``loadworthy`` and ``python -m loadworthy``."""

from __future__ import annotations


def main() -> None:
    """Run the command line and end the process with its exit code."""
    import gc
    import sys

    # One command lives for a moment: looking for cycles meanwhile only costs time.
    gc.disable()
    from loadworthy.cli import run

    sys.exit(run(sys.argv[1:]))


if __name__ == "__main__":
    main()
