"""``python -m loadworthy`` and the console script ``loadworthy``."""

from __future__ import annotations


def main() -> None:
    """Run the command line and end the process with its exit code."""
    import gc
    import sys

    # One command lives for a moment: looking for cycles meanwhile, and once more at its end, only costs time.
    gc.disable()
    from loadworthy.cli import run

    code = run(sys.argv[1:])
    gc.freeze()
    sys.exit(code)


if __name__ == "__main__":
    main()
