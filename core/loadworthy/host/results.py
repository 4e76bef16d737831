"""What the host hands back: who was loaded, who failed and why, and what a hook returned."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from loadworthy.record import EMPTY, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Mapping

    from loadworthy.findings import Demand


class PluginFailure(NamedTuple):
    """One thing that a plugin did wrong: a line of the register, which then can't be ``clear``.

    ``hook`` is the hook that was called, ``load`` for the loading itself. ``problem`` is a sentence for people,
    ``detail`` the place in the plugin's own code where it is known.
    """

    plugin: str
    hook: str
    problem: str
    detail: str = ""

    def __str__(self) -> str:
        """Return one line: plugin, hook, problem, place."""
        text = f"{self.plugin} ({self.hook}): {self.problem}"
        return f"{text} [{self.detail}]" if self.detail else text


class PluginInfo(NamedTuple):
    """One loaded plugin: the distribution that brought it (empty for files and objects), and the hooks it answers.

    ``source`` is ``given``, the path of a file, or the entry point's own text (``package.module``).
    """

    id: str
    distribution: str
    version: str
    hooks: tuple[str, ...]
    source: str


class HookRun(NamedTuple):
    """All that one hook gave, in order of plugin id, one pair per result.

    ``seconds`` is each plugin's own time, empty unless the host measures. ``demand`` is the table in force after
    ``demand`` or ``extend_demand``; ``unused`` names the plugins that could also have supplied it.
    """

    values: tuple[tuple[str, Any], ...] = ()
    failures: tuple[PluginFailure, ...] = ()
    seconds: Mapping[str, float] = EMPTY
    demand: Demand | None = None
    unused: tuple[str, ...] = ()
