"""``steelyard export``."""

from __future__ import annotations

from pathlib import Path

import click

from steelyard.cli.options import library_option, open_with_progress, say_faults, shown_progress
from steelyard.show import count


@click.command("export")
@click.argument("file")
@library_option
def export_command(file: str, folder: str | None) -> int:
    """Write every study to FILE (csv, xlsx), which must not be there yet.

    The table holds all that the records say, comments aside: added to another library it makes
    the same studies. Questions, recommendations and the vocabulary are short text files of
    their own and stay where they are.
    """
    from steelyard.records.exporting import export_file

    library = open_with_progress(folder)
    say_faults(library.records.faults)
    with shown_progress("writing studies") as progress:
        notes = export_file(library.studies, Path(file), progress=progress)
    click.echo(f"{count(len(library.studies), 'study', 'studies')} written to {file}")
    for note in notes:
        click.echo(note, err=True)
    return 0
