"""``loadworthy plugins``: what is installed."""

from __future__ import annotations

import click

from loadworthy.cli.options import Bench, plugin_files, say


@click.command("plugins")
@click.option("--verbose", is_flag=True, help="Show distribution, hooks and what each plugin declares.")
@plugin_files
def command(verbose: bool, plugins: tuple[str, ...]) -> int:
    """List the plugins in use, and whatever could not be loaded."""
    host = Bench(plugins, None).host
    for plugin in host.plugins:
        say(f"{plugin.id}  {plugin.version}".rstrip())
        if verbose:
            say(f"  from: {plugin.distribution or 'no distribution'}, {plugin.source}")
            say(f"  hooks: {', '.join(plugin.hooks)}")
            counts: dict[str, int] = {}
            for key, owner in host.catalogue.owners.items():
                if plugin.id in owner.split(", "):
                    family = key.partition(":")[0]
                    counts[family] = counts.get(family, 0) + 1
            declared = ", ".join(f"{count} {family}" for family, count in sorted(counts.items()))
            say(f"  declares: {declared or 'nothing'}")
    for failure in host.failures:
        say(f"not usable: {failure}")
    return 0
