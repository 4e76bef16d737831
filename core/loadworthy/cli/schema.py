"""``loadworthy schema``: JSON Schema of case and register."""

from __future__ import annotations

import click

from loadworthy.cli.options import Bench, output, plugin_files

_EXAMPLES = "\b\n" + "\n".join(
    (
        "loadworthy schema case -o case.schema.json",
        "loadworthy schema register --plugin our_check.py",
    )
)


@click.command("schema", epilog=_EXAMPLES)
@click.argument("what", required=False, type=click.Choice(["case", "register"]), metavar="[case|register]")
@output
@plugin_files
def command(what: str | None, target: str | None, plugins: tuple[str, ...]) -> int:
    """Print the JSON Schema (draft 2020-12) of a case file, or of a register as JSON.

    Without argument one object with both. The schema of a case knows the sections of the plugins in use; a case file is
    checked as JSON has it: dates and times of day are texts.
    """
    from loadworthy.cli.output import deliver
    from loadworthy.outputs.schema import schema_json

    deliver(schema_json(what, Bench(plugins).host.catalogue), target)
    return 0
