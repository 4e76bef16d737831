"""Finding, isolating and calling plugins, and collecting what they declare into one catalogue."""

from __future__ import annotations

from loadworthy.host.host import Host
from loadworthy.host.results import HookRun, PluginFailure, PluginInfo

__all__ = ["HookRun", "Host", "PluginFailure", "PluginInfo"]
