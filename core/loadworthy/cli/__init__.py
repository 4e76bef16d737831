"""The command line: one module per command, imported only when that command runs."""

from __future__ import annotations

from importlib import import_module
from typing import Any

import click

#: Command -> its line in the overview. The module of the same name holds it as ``command``.
COMMANDS = {
    "register": "The full register of one or several cases.",
    "why": "How a number of the register came about.",
    "check": "Read cases and report every error at once.",
    "plugins": "What is installed, and what did not load.",
    "limits": "Every limit with its value, source and mark.",
    "causes": "Every cause with prior, consequence, remedy and retest.",
}


class _Lazy(click.Group):
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
        if args and args[0] not in COMMANDS:
            from difflib import get_close_matches

            near = get_close_matches(args[0], COMMANDS, n=1)
            hint = f"; did you mean {near[0]}?" if near else f"; there are {', '.join(COMMANDS)}"
            ctx.fail(f"no such command: {args[0]}{hint}")
        return super().resolve_command(ctx, args)


def _version(ctx: click.Context, _: click.Parameter, value: bool) -> Any:
    if value:
        from loadworthy import __version__

        click.echo(f"loadworthy {__version__}")
        ctx.exit()


@click.group(cls=_Lazy, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80})
@click.option("--version", is_flag=True, is_eager=True, expose_value=False, callback=_version, help="Show the version.")
def group() -> None:
    """Decide from dated evidence whether a vehicle can carry a planned load.

    Exit codes: 0 done, whatever the outcome; 1 an outcome at least as bad as --fail-on; 2 bad input or usage; 3 an
    internal fault (a report is written, its place is printed).
    """


def run(arguments: list[str]) -> int:
    """Run one command and return its exit code: 0, 1, 2 or 3."""
    from loadworthy.errors import LoadworthyError

    try:
        code = group.main(arguments, prog_name="loadworthy", standalone_mode=False)
        return code if isinstance(code, int) else 0
    except click.exceptions.Exit as stop:
        return stop.exit_code
    except click.ClickException as error:
        error.show()
        return 2
    except click.Abort:
        click.echo("stopped", err=True)
        return 2
    except LoadworthyError as error:
        from loadworthy.cli.options import complain

        complain(error)
        return 2
    except BrokenPipeError:
        return _quiet()
    except Exception:
        from loadworthy.cli.fault import report

        return report()


def _quiet() -> int:
    """Whoever read our output has had enough: keep the interpreter from complaining about it while it shuts down."""
    import os
    import sys

    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return 0
