"""``loadworthy limits``: every limit with its source."""

from __future__ import annotations

import click

from loadworthy.cli.options import Bench, plugin_files, say


@click.command("limits")
@click.argument("pattern", required=False, default="")
@click.option("--house", "house_file", metavar="FILE", help="House settings (TOML).")
@click.option("--units", "system", type=click.Choice(["si", "us"]), default="si", help="Units shown.")
@plugin_files
def command(pattern: str, house_file: str | None, system: str, plugins: tuple[str, ...]) -> int:
    """List the limits whose id or text holds PATTERN (all without one)."""
    from loadworthy.house import House
    from loadworthy.outputs.words import shown, wrap

    bench = Bench(plugins, house_file)
    catalogue = bench.host.catalogue
    for limit in (bench.house or House()).resolve(catalogue):
        declared = catalogue.limits[limit.id]
        if pattern.lower() not in f"{limit.id} {declared.text}".lower():
            continue
        value = "none" if limit.value is None else shown(limit.value, limit.kind, system)
        grade = "steers a rule" if declared.worse == "setting" else f"worse {declared.worse}: {declared.grade}"
        say(f"{limit.id} = {value} ({limit.origin}); {grade}")
        applies = f"; {declared.applies}" if declared.applies else ""
        say("\n".join(wrap(f"{declared.text}{applies}. Source: {declared.source} ({declared.mark})", "  ")))
        if limit.origin == "house":
            default = "none" if limit.default is None else shown(limit.default, limit.kind, system)
            say("\n".join(wrap(f"default {default}; {limit.reason}", "  ")))
    return 0
