"""``python -m loadworthy``."""

from __future__ import annotations

from loadworthy.cli import main

if __name__ == "__main__":
    main()
