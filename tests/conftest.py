"""Make the modules beside the tests importable in importlib mode."""

from __future__ import annotations

import sys
from pathlib import Path

for folder in ("", "core"):
    path = str(Path(__file__).parent / folder)
    if path not in sys.path:
        sys.path.insert(0, path)
