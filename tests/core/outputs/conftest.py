"""Make `posts` and `shown` importable in importlib mode."""

from __future__ import annotations

import sys
from pathlib import Path

FOLDER = str(Path(__file__).parent)
if FOLDER not in sys.path:
    sys.path.insert(0, FOLDER)
