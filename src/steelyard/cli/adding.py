"""``steelyard add``."""

from __future__ import annotations

from pathlib import Path

import click

from steelyard.cli.options import library_option
from steelyard.cli.progress import counted
from steelyard.show import count


@click.command("add")
@click.argument("file")
@library_option
@click.option("--dry-run", is_flag=True, help="Show what would be added; write nothing.")
def add_command(file: str, folder: str | None, dry_run: bool) -> int:
    """Put FILE into the library: a table (csv, xlsx), a study record (toml) or references.

    References (bib, ris, CSL-JSON as json) become drafts to be filled in: a study without
    results is none.

    All or nothing: if any row is not understood, every such row is listed and nothing is
    written.
    """
    from steelyard.library import shipped_library
    from steelyard.records.adding import add_file

    target = Path(folder) if folder is not None else shipped_library()
    with counted("adding") as progress:
        report = add_file(target, Path(file), dry_run=dry_run, progress=progress)
    for problem in report.problems:
        click.echo(str(problem), err=True)
    if report.problems:
        for word in report.new_words:
            click.echo(f"{word} would be added to vocabulary.toml", err=True)
        click.echo(
            f"steelyard: {count(len(report.problems), 'problem')}; nothing written", err=True
        )
        return 1
    verb = "would add" if dry_run else "added"
    for name in report.added:
        click.echo(f"{verb} {name}")
    for word in report.new_words:
        click.echo(f"{verb} {word} to vocabulary.toml")
    for title in report.drafts:
        click.echo(f"{verb} a draft: {title}")
    if report.drafts:
        click.echo(
            f"{count(len(report.drafts), 'draft')} to be filled in, no study yet: open the "
            "notebook 01-enter-a-study, which offers them",
            err=True,
        )
    for note in report.notes:
        click.echo(note, err=True)
    return 0
