"""``steelyard add``."""

from __future__ import annotations

from pathlib import Path

import click

from steelyard.cli.options import library_option
from steelyard.show import count


@click.command("add")
@click.argument("file")
@library_option
@click.option("--dry-run", is_flag=True, help="Show what would be added; write nothing.")
def add_command(file: str, folder: str | None, dry_run: bool) -> int:
    """Put FILE into the library: a table (csv, xlsx) or a study record (toml).

    All or nothing: if any row is not understood, every such row is listed and nothing is
    written.
    """
    from steelyard.library import shipped_library
    from steelyard.records.adding import add_file

    target = Path(folder) if folder is not None else shipped_library()
    report = add_file(target, Path(file), dry_run=dry_run)
    for problem in report.problems:
        click.echo(str(problem), err=True)
    if report.problems:
        click.echo(
            f"steelyard: {count(len(report.problems), 'problem')}; nothing written", err=True
        )
        return 1
    verb = "would add" if dry_run else "added"
    for study in report.studies:
        click.echo(f"{verb} studies/{study}.toml")
    for word in report.new_words:
        click.echo(f"{verb} {word} to vocabulary.toml")
    return 0
