"""What several test files share: the demo cases and a host with the bundled plugins."""

from __future__ import annotations

import functools
from pathlib import Path

from loadworthy.host import Host

ROOT = Path(__file__).parents[1]
DEMOS = sorted((ROOT / "docs" / "cases").glob("*.toml"))


@functools.cache
def bundled() -> Host:
    """The bundled plugins alone, whatever else is installed beside them."""
    import loadworthy_plugins.compression
    import loadworthy_plugins.house_rules
    import loadworthy_plugins.load_demand

    return Host(
        {
            "compression": loadworthy_plugins.compression,
            "house_rules": loadworthy_plugins.house_rules,
            "load_demand": loadworthy_plugins.load_demand,
        },
        entry_points=False,
    )
