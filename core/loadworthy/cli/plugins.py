"""``loadworthy plugins``: what is installed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from loadworthy.cli.options import Bench, plugin_files

if TYPE_CHECKING:
    from collections.abc import Iterator

    from loadworthy.host import Host


@click.command("plugins")
@click.option("--verbose", is_flag=True, help="Show also where each comes from, its hooks and what it declares.")
@plugin_files
def command(verbose: bool, plugins: tuple[str, ...]) -> int:
    """List the plugins in use, and whatever could not be loaded.

    Plugins are installed distributions with entry points in the group loadworthy, and single files that are named with
    --plugin. Nothing is loaded because it lies next to a case.
    """
    from loadworthy.cli.output import say

    say("\n".join(_lines(Bench(plugins).host, verbose)))
    return 0


def _lines(host: Host, verbose: bool) -> Iterator[str]:
    from loadworthy.outputs.page import columns, wrap

    if not host.plugins:
        yield "no plugin is installed"
    rows = [(p.id, p.version, p.distribution or p.source) for p in host.plugins]
    if not verbose:
        yield from columns(rows, indent="")
    for plugin in host.plugins if verbose else ():
        yield from wrap(f"{plugin.id} {plugin.version}".rstrip())
        yield from wrap(f"from: {plugin.distribution or 'no distribution'}, {plugin.source}", "  ", "    ")
        yield from wrap(f"hooks: {', '.join(plugin.hooks)}", "  ", "    ")
        counts: dict[str, int] = {}
        for key, owners in host.catalogue.owners.items():
            if plugin.id in owners.split(", "):
                family = key.partition(":")[0]
                counts[family] = counts.get(family, 0) + 1
        declared = ", ".join(f"{family} {count}" for family, count in sorted(counts.items()))
        yield from wrap(f"declares: {declared or 'nothing'}", "  ", "    ")
    for failure in host.failures:
        yield from wrap(f"failed: {failure}", "", "  ")
