"""``loadworthy causes``: every cause."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from loadworthy.cli.options import Bench, form, output, pick, plugin_files, units

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from loadworthy.declarations import Catalogue
    from loadworthy.outputs.spreadsheet_rows import Cell

_COLUMNS = (
    *("id", "text", "prior", "mark", "located", "severity", "person", "hazard", "driver", "repair_hours", "remedy"),
    "retest",
)


@click.command("causes")
@click.argument("pattern", required=False, default="")
@form
@output
@plugin_files
@units
def command(pattern: str, form: str, target: str | None, plugins: tuple[str, ...], system: str) -> int:
    """List causes with prior, consequence, remedy and retest.

    Without PATTERN all of them; with it those whose id or text holds it, or whose whole id fits it if it has * or ?.
    """
    from loadworthy.cli.output import deliver

    catalogue = Bench(plugins).host.catalogue
    known = sorted(catalogue.causes.values(), key=lambda cause: cause.id)
    chosen = pick(pattern, [(cause.id, cause.text) for cause in known], "cause")
    if form == "text":
        lines = [line for id in chosen for line in _lines(catalogue, id, system)]
        deliver("\n".join(lines or ["no plugin declares a cause"]) + "\n", target)
        return 0
    from loadworthy.outputs.listing import listing

    rows = [_row(catalogue, id, "si" if form == "json" else system) for id in chosen]
    deliver(listing("Causes", _COLUMNS, rows, form), target, form=form)
    return 0


def _lines(catalogue: Catalogue, id: str, system: str) -> Iterator[str]:
    from loadworthy.outputs.page import wrap
    from loadworthy.outputs.words import SEVERITY, in_prose, proofs

    cause = catalogue.causes[id]
    yield from wrap(f"{id}: {in_prose(cause.text, system)}", "", "  ")
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
    yield from wrap(in_prose(f"remedy: {cause.remedy or 'none declared'}; retest: {retest}", system), "  ")


def _row(catalogue: Catalogue, id: str, system: str) -> Sequence[Cell]:
    from loadworthy.outputs.words import in_prose

    one = catalogue.causes[id]
    located = "" if one.located == "none" else one.located
    head = (id, in_prose(one.text, system), one.prior, one.mark, located, one.severity, one.person)
    return (*head, one.hazard, one.driver, one.repair_hours, in_prose(one.remedy, system), "; ".join(one.retest))
