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
from steelyard.cli.progress import at_work


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
    with at_work(library, f"reading {study}"):
        reading = library.read(study)
        said = reading.as_json() if form == "json" else str(reading)
    if form == "json":
        print_json(said)
    elif form == "csv":
        print_table(reading.effects, form)
    else:
        click.echo(said)
    return status_of(library)
