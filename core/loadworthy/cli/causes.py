"""``loadworthy causes``: every cause."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from loadworthy.cli.options import Bench, pick, plugin_files

if TYPE_CHECKING:
    from collections.abc import Iterator

    from loadworthy.declarations import Catalogue


@click.command("causes")
@click.argument("pattern", required=False, default="")
@plugin_files
def command(pattern: str, plugins: tuple[str, ...]) -> int:
    """List causes with prior, consequence, remedy and retest.

    Without PATTERN all of them; with it those whose id or text holds it, or whose whole id fits it if it has * or ?.
    """
    from loadworthy.cli.output import say

    catalogue = Bench(plugins).host.catalogue
    known = sorted(catalogue.causes.values(), key=lambda cause: cause.id)
    chosen = pick(pattern, [(cause.id, cause.text) for cause in known], "cause")
    lines = [line for id in chosen for line in _lines(catalogue, id)]
    say("\n".join(lines or ["no plugin declares a cause"]))
    return 0


def _lines(catalogue: Catalogue, id: str) -> Iterator[str]:
    from loadworthy.outputs.page import wrap
    from loadworthy.outputs.words import SEVERITY, proofs

    cause = catalogue.causes[id]
    yield from wrap(f"{id}: {cause.text}", "", "  ")
    person = ", danger to persons" if cause.person else ""
    located = "" if cause.located == "none" else f", shared by the places of kind {cause.located}"
    words = (
        f"prior {cause.prior:g}{located} ({cause.mark})",
        f"severity {cause.severity}, {SEVERITY[cause.severity]}{person}",
        f"hazard {cause.hazard}, driven by {cause.driver}",
        f"repair {cause.repair_hours:g} h",
    )
    yield from wrap("; ".join(words), "  ")
    retest = proofs(cause.retest, catalogue) or "the rules that spoke for it"
    yield from wrap(f"remedy: {cause.remedy or 'none declared'}; retest: {retest}", "  ")
