"""``steelyard export``."""

from __future__ import annotations

from pathlib import Path

import click

from steelyard.cli.options import library_option, open_and_tell, status_of
from steelyard.cli.progress import counted
from steelyard.show import count


@click.command("export")
@click.argument("file")
@library_option
def export_command(file: str, folder: str | None) -> int:
    """Write the whole library to FILE (csv, xlsx), which must not be there yet.

    The table has a row for each study, arm, outcome and result, and a row for each line of the
    other files: questions, recommendations, the vocabulary, settings, second readings. Added to
    an empty library it makes the same library; only comments within studies are left behind.
    """
    from steelyard.records.exporting import export_file
    from steelyard.records.library_files import library_texts

    library = open_and_tell(folder)
    with counted("writing studies") as progress:
        texts = dict(library_texts(library.records))
        notes = export_file(library.studies, Path(file), texts=texts, progress=progress)
    studies = count(len(library.studies), "study", "studies")
    click.echo(f"{studies} and {count(len(texts), 'other file')} written to {file}")
    for note in notes:
        click.echo(note, err=True)
    return status_of(library)
