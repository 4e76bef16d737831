"""Make the modules beside the tests importable in importlib mode, and let no busy machine fail a property test."""

from __future__ import annotations

import sys
from pathlib import Path

from hypothesis import settings

# Time is measured in tests/benchmarks, as ratios.
settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")

for folder in ("", "core"):
    path = str(Path(__file__).parent / folder)
    if path not in sys.path:
        sys.path.insert(0, path)
