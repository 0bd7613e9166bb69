"""The command ``steelyard``: thin, and lazy with imports so that help comes at once."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence

import click

from steelyard import __version__
from steelyard.errors import Finding, RecordError, SteelyardError, UsageError

EXIT_DATA = 1
EXIT_USAGE = 2

COMMANDS = {
    "open": ("steelyard.cli.opening", "Start the workbook in JupyterLab, on this computer only."),
    "report": ("steelyard.cli.reporting", "Run every notebook and write the pages: the main job."),
    "check": ("steelyard.cli.checking", "List every fault and warning in the library."),
    "effects": ("steelyard.cli.weighing", "Print the effect table of a question, or of all."),
    "weigh": ("steelyard.cli.weighing", "Print the weighed answer to a question."),
    "read": ("steelyard.cli.reading", "Print one study, read fairly."),
    "review": ("steelyard.cli.reviewing", "Hold what was told against the evidence as it is now."),
    "explain": ("steelyard.cli.explaining", "Explain a recommendation in words for a client."),
    "new": ("steelyard.cli.making", "Make a recommendation from answers to plain questions."),
    "add": ("steelyard.cli.adding", "Put a table or a record into the library."),
    "export": (
        "steelyard.cli.exporting",
        "Write the library to one table that add reads back.",
    ),
}


class LazyGroup(click.Group):
    """Commands that are imported when they are run, not when help is asked for."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        from importlib import import_module

        module = import_module(COMMANDS[cmd_name][0])
        return getattr(module, f"{cmd_name}_command")

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl([(name, text) for name, (_, text) in COMMANDS.items()])


@click.group(cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="steelyard")
def steelyard() -> None:
    """Weigh training studies: records in, an honest answer and its forest plot out.

    Exit status: 0 done, 1 faults in data, 2 wrong usage. Where a file of the library has
    faults, a command tells them, does its work with all others, and ends with status 1.
    """


def main() -> None:
    """Run the command; every error on purpose is one plain message, never a traceback."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(encoding="utf-8", errors="replace")
    told: list[Finding] = []
    try:
        status = steelyard.main(standalone_mode=False, obj=told)
        sys.stdout.flush()
    except click.exceptions.Exit as left:
        status = left.exit_code
    except click.ClickException as wrong:
        wrong.show()
        status = wrong.exit_code
    except (click.Abort, KeyboardInterrupt):
        click.echo("stopped", err=True)
        status = 130
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        status = 0
    except SteelyardError as error:
        tell(error, told)
        status = EXIT_USAGE if isinstance(error, UsageError) else EXIT_DATA
    sys.exit(status if isinstance(status, int) else 0)


def tell(error: SteelyardError, told: Sequence[Finding] = ()) -> None:
    """Print an error to standard error; of faults only those not told before."""
    if not isinstance(error, RecordError):
        click.echo(f"steelyard: {error}", err=True)
        return
    for finding in error.findings:
        if finding not in told:
            click.echo(str(finding), err=True)
    if any(finding in told for finding in error.findings):
        files = ", ".join(sorted({finding.file for finding in error.findings}))
        click.echo(f"steelyard: nothing to show, for it needs {files}", err=True)
