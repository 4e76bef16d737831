"""``loadworthy plugins``: what is installed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from loadworthy.cli.options import Bench, form, output, plugin_files

if TYPE_CHECKING:
    from collections.abc import Iterator

    from loadworthy.host import Host
    from loadworthy.host.results import PluginInfo

_COLUMNS = ("id", "version", "distribution", "source", "hooks", "declares", "failure")


@click.command("plugins")
@click.option("--verbose", is_flag=True, help="Show also where each comes from, its hooks and what it declares.")
@form
@output
@plugin_files
def command(verbose: bool, form: str, target: str | None, plugins: tuple[str, ...]) -> int:
    """List the plugins in use, and whatever could not be loaded.

    Plugins are installed distributions with entry points in the group loadworthy, and single files that are named with
    --plugin. Nothing is loaded because it lies next to a case.
    """
    from loadworthy.cli.output import deliver

    host = Bench(plugins).host
    if form == "text":
        deliver("\n".join(_lines(host, verbose)) + "\n", target)
        return 0
    from loadworthy.outputs.listing import listing

    rows = [
        (p.id, p.version, p.distribution, p.source, ", ".join(p.hooks), _declared(host, p), "") for p in host.plugins
    ]
    rows += [(failure.plugin, "", "", "", "", "", str(failure)) for failure in host.failures]
    deliver(listing("Plugins", _COLUMNS, rows, form), target, form=form)
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
        yield from wrap(f"declares: {_declared(host, plugin) or 'nothing'}", "  ", "    ")
    for failure in host.failures:
        yield from wrap(f"failed: {failure}", "", "  ")


def _declared(host: Host, plugin: PluginInfo) -> str:
    """Return how many declarations of each family a plugin makes."""
    counts: dict[str, int] = {}
    for key, owners in host.catalogue.owners.items():
        if plugin.id in owners.split(", "):
            family = key.partition(":")[0]
            counts[family] = counts.get(family, 0) + 1
    return ", ".join(f"{family} {count}" for family, count in sorted(counts.items()))
