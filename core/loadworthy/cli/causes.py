"""``loadworthy causes``: every cause."""

from __future__ import annotations

import click

from loadworthy.cli.options import Bench, plugin_files, say


@click.command("causes")
@click.argument("pattern", required=False, default="")
@plugin_files
def command(pattern: str, plugins: tuple[str, ...]) -> int:
    """List the causes whose id or text holds PATTERN (all without one)."""
    from loadworthy.outputs.words import SEVERITY, wrap

    catalogue = Bench(plugins, None).host.catalogue
    for id in sorted(catalogue.causes):
        cause = catalogue.causes[id]
        if pattern.lower() not in f"{id} {cause.text}".lower():
            continue
        say(f"{id}: {cause.text}")
        person = ", danger to persons" if cause.person else ""
        words = (
            f"prior {cause.prior:g} ({cause.mark}); located: {cause.located}; severity {cause.severity} "
            f"({SEVERITY[cause.severity]}{person}); hazard {cause.hazard}, driven by {cause.driver}; "
            f"repair {cause.repair_hours:g} h"
        )
        say("\n".join(wrap(words, "  ")))
        tests = ", ".join(catalogue.tests[t].text if t in catalogue.tests else t for t in cause.retest)
        say(
            "\n".join(
                wrap(f"remedy: {cause.remedy or 'none given'}; retest: {tests or 'the rules that spoke for it'}", "  ")
            )
        )
    return 0
