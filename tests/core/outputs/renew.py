"""Write the golden registers again after a change that is meant; read the difference before keeping it."""

from __future__ import annotations

import sys
from pathlib import Path

HERE = Path(__file__).parent

if __name__ == "__main__":
    sys.path.insert(0, str(HERE))
    from shown import register

    from loadworthy.outputs.text import register_text

    for system in ("si", "us"):
        (HERE / f"everything_{system}.txt").write_text(register_text(register(), system=system), encoding="utf-8")
