"""Options and small doings that several commands have."""

from __future__ import annotations

import json

import click

from steelyard.cli.progress import counted
from steelyard.cli.root import EXIT_DATA
from steelyard.errors import Finding
from steelyard.records.harmless import guarded
from steelyard.show import count

library_option = click.option(
    "--library",
    "folder",
    metavar="DIR",
    default=None,
    help="The library; the one that ships if not given.",
)
format_option = click.option(
    "--format",
    "form",
    type=click.Choice(["table", "csv", "json"]),
    default="table",
    show_default=True,
    help="How to print the data.",
)


def open_with_progress(folder: str | None):
    """Open a library; tell on standard error how far it is once that takes long."""
    from steelyard.library import open_library

    with counted("reading records") as progress:
        return open_library(folder, progress=progress)


def open_and_tell(folder: str | None):
    """Open a library and tell its faults on standard error.

    What the other files allow is still done; the command then ends with `status_of`.
    """
    library = open_with_progress(folder)
    say_faults(library.faults)
    return library


def status_of(library) -> int:
    """Exit status of a command that did its work: 1 where the library has faults, else 0."""
    return EXIT_DATA if library.faults else 0


def print_json(data: object) -> None:
    """Print data as JSON, readable characters kept."""
    click.echo(json.dumps(data, ensure_ascii=False, indent=2, allow_nan=False))


def print_table(frame, form: str, *, columns: list[str] | None = None) -> None:
    """Print a DataFrame; `columns` narrows it on a terminal only."""
    if form == "json":
        from steelyard.pooling.weighing import plain

        rows = [
            {str(key): plain(value) for key, value in row.items()}
            for row in frame.to_dict("records")
        ]
        print_json(rows)
    elif form == "csv":
        click.echo(harmless(frame).to_csv(index=False), nl=False)
    else:
        shown = frame[columns] if columns else frame
        click.echo(shown.to_string(index=False) if len(shown) else "no rows")


def harmless(frame):
    """Text cells that a spreadsheet would run as a formula get a leading apostrophe."""
    return frame.map(lambda cell: guarded(cell) if isinstance(cell, str) else cell)


def say_faults(findings: tuple[Finding, ...]) -> None:
    """Tell on standard error which files have faults, once in a run."""
    context = click.get_current_context(silent=True)
    told = context.obj if context is not None and isinstance(context.obj, list) else []
    for finding in sorted(findings, key=lambda finding: finding.file):
        click.echo(str(finding), err=True)
        told.append(finding)
    if findings:
        files = len({finding.file for finding in findings})
        click.echo(
            f"steelyard: faults in {count(files, 'file')}, everything else is used; "
            "steelyard check lists warnings too",
            err=True,
        )
