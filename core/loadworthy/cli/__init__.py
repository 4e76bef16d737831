"""The command line: one module per command, imported only when that command runs."""

from __future__ import annotations

import sys
from importlib import import_module
from typing import Any

import click

#: Command -> its line in the overview. The module of the same name holds it as ``command``.
COMMANDS = {
    "register": "The full register of one or several cases.",
    "why": "How a number of the register came about.",
    "new": "Make a new case.",
    "record": "Write a sheet, a repair or another entry into a case.",
    "check": "Read cases and report every error at once.",
    "plugins": "What is installed, and what did not load.",
    "limits": "Every limit with its value, source and mark.",
    "causes": "Every cause with prior, consequence, remedy and retest.",
    "schema": "JSON Schema of a case and of a register.",
}
#: What an exit code means; of several the highest wins.
EXIT_CODES = {
    0: "done, whatever the outcome",
    1: "an outcome is at least as bad as --fail-on",
    2: "bad input or usage; a message says what to mend",
    3: "an internal fault; a report is written, its place is printed",
}
#: Ended from the keyboard: 128 and the number of the signal, as shells have it.
INTERRUPTED = 130


class _Lazy(click.Group):
    """A group that imports a command only to run it, and that ends with our exit codes and no traceback."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        found: click.Command = import_module(f"loadworthy.cli.{cmd_name}").command
        return found

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        if args and args[0] not in COMMANDS and not args[0].startswith("-"):
            from difflib import get_close_matches

            near = get_close_matches(args[0], COMMANDS, n=1)
            hint = f"did you mean {near[0]}?" if near else f"there are {', '.join(COMMANDS)}"
            ctx.fail(f"no such command: {args[0]}; {hint}")
        return super().resolve_command(ctx, args)

    # click overloads it on ``standalone_mode``; one signature that takes both is enough here.
    def main(  # type: ignore[override]
        self, args: Any = None, prog_name: str | None = None, *, standalone_mode: bool = True, **extra: Any
    ) -> Any:
        """Run one command; unless ``standalone_mode`` is false the process then ends with its exit code."""
        if not standalone_mode:
            return super().main(args, prog_name, standalone_mode=False, **extra)
        sys.exit(run(list(sys.argv[1:] if args is None else args)))


def run(arguments: list[str]) -> int:
    """Run one command and return its exit code (`EXIT_CODES`), whatever is raised."""
    from loadworthy.errors import LoadworthyError

    try:
        code = main.main(arguments, "loadworthy", standalone_mode=False)
        return code if isinstance(code, int) else 0
    except click.Abort:
        return INTERRUPTED
    except click.ClickException as error:
        from loadworthy.cli.output import complain_of_usage

        complain_of_usage(error)
        return 2
    except LoadworthyError as error:
        from loadworthy.cli.output import complain_of

        complain_of(error)
        return 2
    except SystemExit:
        # Whoever reads our output has had enough.
        return 0
    except Exception as error:
        from loadworthy.cli.fault import report
        from loadworthy.cli.output import complain_of_full_disk

        if isinstance(error, OSError) and complain_of_full_disk(error):
            return 2
        return report()


def _version(ctx: click.Context, _: click.Parameter, value: bool) -> None:
    if value:
        from loadworthy import __version__

        click.echo(f"loadworthy {__version__}")
        ctx.exit()


@click.group(
    "loadworthy",
    cls=_Lazy,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80},
    epilog="Exit codes, of which the highest wins: "
    + "; ".join(f"{code} {text}" for code, text in EXIT_CODES.items())
    + ".",
)
@click.option("--version", is_flag=True, is_eager=True, expose_value=False, callback=_version, help="Show the version.")
def main() -> None:
    """Decide from dated evidence whether a vehicle can carry a planned load.

    A case is a text file (TOML) with what was measured on one vehicle and what its owner wants. Make one with
    `loadworthy new FILE`, add to it with `loadworthy record FILE SECTION`, or write it in an editor and `loadworthy
    check` it. Then `loadworthy register FILE`, and ask `loadworthy why FILE ID` for what stands in brackets there.
    """
