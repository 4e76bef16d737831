"""Write the reference pages from the declarations: run ``python docs/generate.py`` after changing one of them."""

from __future__ import annotations

import inspect
import tomllib
from importlib import import_module
from pathlib import Path
from types import UnionType
from typing import TYPE_CHECKING

import click

from loadworthy import core_fields, hookspecs, sdk
from loadworthy.cli import COMMANDS, EXIT_CODES, main
from loadworthy.host import Host
from loadworthy.outputs.spreadsheet_rows import ITEMS, WHAT
from loadworthy.outputs.words import shown
from loadworthy.units import KINDS, units_of

if TYPE_CHECKING:
    from collections.abc import Iterable

    from loadworthy.declarations import Catalogue, Field

DOCS = Path(__file__).parent
HEAD = "<!-- written by docs/generate.py -->\n\n"
EXITS = "\n".join(
    (
        "## Exit codes\n",
        "| code | meaning |",
        "|---|---|",
        *(f"| {code} | {text} |" for code, text in EXIT_CODES.items()),
        "",
        "The highest number wins. Outcomes from best to worst: clear, limited, incomplete, hold.\n",
    )
)


OUTPUTS = """# Forms of a register

`loadworthy register CASE... --format text|markdown|csv|json`. `limits`, `causes` and `plugins` take `--format` too.

| form | for | units | several cases |
|---|---|---|---|
| `text` | reading at 80 columns | `--units` | one after the other |
| `markdown` | tickets, wikis, mails | `--units` | one after the other |
| `csv` | filtering several cars in a spreadsheet | `--units`, named in `unit` | one table |
| `json` | programs | always SI, named in `unit` | a list |

## Units

Everything that a person is shown follows `--units`. Left as they were written: what stands in quotes (a value as it
stands in the case, an example of what to write), what people wrote into the case, and published sources. Plugins word
their texts in metric units; a quantity in them (`12.3 bar`, `70 to 100 degC`) is converted when it is shown. A plugin
that gives a number in `K` had better name the kind, `temperature` or `temperature_difference`: of the bare unit nobody
knows which it is.

## Markdown

CommonMark with the pipe tables of GitHub Flavored Markdown, the same content in the same order as the text. Names,
notes and reasons of a case come out as text, whatever they hold: HTML, links, emphasis, pipes and backticks are
escaped, control characters and marks of direction become blanks. A stream that is not UTF-8 gets other characters as
numeric references (`&#233;`), which render as they should. Mail addresses, and names behind an `@`, some programs
turn into links by themselves.

## CSV

As RFC 4180 has it: commas, quotes doubled, lines ending with CR LF, always UTF-8 without a mark. Texts stand in quotes,
numbers bare with a decimal point, empty cells empty. A text that a spreadsheet would run as a formula (it begins with
`=`, `+`, `-`, `@`, also behind blanks, quotes or a semicolon) gets an apostrophe before it; programs that read the
table need not expect other marks. In a spreadsheet that wants semicolons or a decimal comma import the file (data, from
text) instead of opening it.

One row is one thing; filter by `item`. Of the demand the table has what is asked at the planned torque; the grid over
load is in the JSON.

| column | holds |
|---|---|
{columns}

| item | is |
|---|---|
{items}

## JSON

`loadworthy/register/1`: one object for one case, a list for several. Numbers are SI with their unit beside them, 12
significant digits, keys sorted; the same bytes for the same input on every machine.

## Schemas

`loadworthy schema` prints the JSON Schema (draft 2020-12) of a case and of a register; `loadworthy schema case` or
`register` one of them. The schema of a case is made of the fields of the plugins in use and refuses unknown keys,
missing dates, numbers without a unit and words that are no choice; that ids exist, that a unit fits and that a quantity
is possible only `loadworthy check` says. Dates and times of day, which TOML knows, are texts in it. The schema of a
register has every key and refuses others.

## Progress

Work on several cases that takes longer than about a second says how far it has come, "12 of 240", on the error stream
if that is a terminal. The line is rewritten and at last erased; with `NO_COLOR` or `TERM=dumb` whole lines are said
instead, one in ten seconds.
"""


def bundled() -> Host:
    """Return a host with the bundled plugins alone."""
    project = tomllib.loads((DOCS.parent / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    modules = project["entry-points"]["loadworthy"]
    return Host({id: import_module(module) for id, module in modules.items()}, entry_points=False)


def cell(text: str) -> str:
    """Return text fit for a table cell."""
    return " ".join(text.split()).replace("|", "\\|")


def commands() -> str:
    """Every command with its help, as the program prints it."""
    parent = click.Context(main, info_name="loadworthy", terminal_width=80, **main.context_settings)
    out = ["# Commands\n", f"```text\n{main.get_help(parent)}\n```\n"]
    for name in COMMANDS:
        command = main.get_command(parent, name)
        assert command is not None
        # The context of the group decides on the names of the help option, which a command keeps for good.
        context = click.Context(command, info_name=name, parent=parent)
        out.append(f"## {name}\n\n```text\n{command.get_help(context)}\n```\n")
    return "\n".join((*out, EXITS))


def hooks() -> str:
    """Every hook with its arguments."""
    out = [f"# Hooks\n\nContract version {hookspecs.HOOK_VERSION}. {cell(hookspecs.__doc__ or '')}\n"]
    for name, function in vars(hookspecs).items():
        if hasattr(function, "loadworthy_spec"):
            arguments = ", ".join(inspect.signature(function).parameters)
            out.append(f"## {name}({arguments})\n\n{inspect.cleandoc(function.__doc__ or '')}\n")
    out.append("## What a plugin imports\n\nFrom `loadworthy.sdk`, and nothing else of the core:\n")
    out.append("| name | what |\n|---|---|")
    for name in sorted(sdk.__all__, key=str.lower):
        out.append(f"| `{name}` | {cell(_summary(getattr(sdk, name)))} |")
    return "\n".join(out) + "\n"


def _summary(value: object) -> str:
    """Return the first sentence of a docstring; a text, a tuple or a union of types shows what it is."""
    if isinstance(value, (str, tuple, UnionType)) or hasattr(value, "__args__"):
        members = getattr(value, "__args__", value if isinstance(value, tuple) else (value,))
        return ", ".join(getattr(one, "__name__", str(one)) for one in members)
    own = value if callable(value) else type(value)
    return inspect.cleandoc(own.__doc__ or "").split("\n\n")[0].split(". ")[0].rstrip(".") + "."


def limits(catalogue: Catalogue) -> str:
    """Every limit with source and mark."""
    rows = ["# Limits\n", "| limit | default | worse | grade | what | source | mark |", "|---|---|---|---|---|---|---|"]
    for id in sorted(catalogue.limits):
        one = catalogue.limits[id]
        value = "none" if one.value is None else shown(one.value, one.kind)
        what = f"{one.text}; {one.applies}" if one.applies else one.text
        rows.append(
            f"| `{id}` | {value} | {one.worse} | {one.grade or '-'} | {cell(what)} | {cell(one.source)} | {one.mark} |"
        )
    return "\n".join(rows) + "\n"


def causes(catalogue: Catalogue) -> str:
    """Every cause with prior, consequence, remedy and retest."""
    rows = [
        "# Causes\n",
        "| cause | what | prior | severity | hazard | driver | remedy | retest |",
        "|---|---|---|---|---|---|---|---|",
    ]
    for id in sorted(catalogue.causes):
        one = catalogue.causes[id]
        retest = ", ".join(one.retest)
        rows.append(
            f"| `{id}` | {cell(one.text)} | {one.prior:g} | {one.severity} | {one.hazard} | {one.driver} "
            f"| {cell(one.remedy)} | {retest} |"
        )
    return "\n".join(rows) + "\n"


def case_file(catalogue: Catalogue) -> str:
    """Every table and key of a case file."""
    out = [
        "# Case file\n",
        "TOML, UTF-8, at most 4 MB. Values carry their unit; `+- x` states limits of error; the key `u` of a sheet",
        "states standard uncertainties by field. A list in place of a value is repeats. Sheets, repairs and events",
        "are added, never edited; a sheet entered wrongly is struck out by a `[[void]]`. A table of a list that says",
        "`unfinished = true` may lack what is required. [Writing a case](recording.md) tells how commands write it.\n",
        # A catalogue of a host holds the core's own fields too.
        _fields("[vehicle]", catalogue.vehicle.values()),
        _fields("[plan]", catalogue.plan.values()),
        _fields("Keys of every sheet", core_fields.SHEET),
    ]
    out += [_fields(f"[[{id}]]", section.fields, section.text) for id, section in catalogue.sections.items()]
    out += [_fields(f"[[{id}]]", fields) for id, fields in core_fields.LISTS.items()]
    return "\n".join(out)


def _fields(title: str, fields: Iterable[Field], text: str = "") -> str:
    rows = [f"## {title}\n"]
    if text:
        rows.append(f"{text}\n")
    rows += ["| key | value | what |", "|---|---|---|"]
    for one in fields:
        value = one.type
        if one.type == "quantity" and one.kind in KINDS:
            value = f"{KINDS[one.kind].name}: {', '.join(units_of(one.kind)[:4])}"
        elif one.choices and len(one.choices) < 30:
            value = ", ".join(one.choices)
        per = f", per {one.per}" if one.per else ""
        rows.append(f"| `{one.name}`{' (required)' if one.required else ''} | {cell(value)}{per} | {cell(one.text)} |")
    return "\n".join(rows) + "\n"


def outputs() -> str:
    """Every form of a register, with the columns of the table for spreadsheets."""
    columns = "\n".join(f"| `{name}` | {cell(text)} |" for name, text in WHAT.items())
    items = "\n".join(f"| {name} | {cell(text)} |" for name, text in ITEMS.items())
    return OUTPUTS.format(columns=columns, items=items)


def pages() -> dict[str, str]:
    """Return every generated page by file name."""
    catalogue = bundled().catalogue
    found = {
        "commands.md": commands(),
        "hooks.md": hooks(),
        "limits.md": limits(catalogue),
        "causes.md": causes(catalogue),
        "case-file.md": case_file(catalogue),
        "outputs.md": outputs(),
    }
    return {name: HEAD + text for name, text in found.items()}


if __name__ == "__main__":
    for name, text in pages().items():
        (DOCS / name).write_text(text, encoding="utf-8")
