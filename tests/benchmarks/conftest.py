"""The installed wheel for the benchmarks."""

from __future__ import annotations

from installed import venv

__all__ = ["venv"]
