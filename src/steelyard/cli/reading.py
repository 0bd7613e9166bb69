"""``steelyard read``."""

from __future__ import annotations

import click

from steelyard.cli.options import (
    format_option,
    library_option,
    open_and_tell,
    print_json,
    print_table,
    status_of,
)


@click.command("read")
@click.argument("study")
@library_option
@format_option
def read_command(study: str, folder: str | None, form: str) -> int:
    """Read one STUDY fairly: all its outcomes, and what they can and cannot show.

    In json and csv, positive favours the intervention and ratios are on the log scale; csv
    holds the effects alone.
    """
    library = open_and_tell(folder)
    reading = library.read(study)
    if form == "json":
        print_json(reading.as_json())
    elif form == "csv":
        print_table(reading.effects, form)
    else:
        click.echo(str(reading))
    return status_of(library)
