"""``steelyard report``."""

from __future__ import annotations

from pathlib import Path

import click

from steelyard.cli.options import library_option, open_and_tell, status_of
from steelyard.cli.progress import at_work
from steelyard.cli.root import EXIT_DATA
from steelyard.errors import SteelyardError, UsageError


@click.command("report")
@library_option
@click.option(
    "--out",
    metavar="DIR",
    default="report",
    show_default=True,
    help="Where the pages go; made if not there.",
)
def report_command(folder: str | None, out: str) -> int:
    """Run every notebook against the library and write the pages.

    Prints every answer, and where the page of all answers is. The notebooks themselves are not
    changed. Exit status 1 if a notebook fails or the library has faults; all that can be
    answered is written all the same, and what cannot is named.
    """
    from steelyard.explaining.page_mime import PHONE_VARIABLE
    from steelyard.notebook.missing import missing_answers
    from steelyard.notebook.report import pages_of, write_pages
    from steelyard.notebook.running import Job, run_notebooks
    from steelyard.notebook.workbook import notebooks_for, workbook_of

    library = open_and_tell(folder)
    workbook = workbook_of(library)
    kept = [library.folder / kind for kind in ("studies", "questions", "recommendations")]
    target = _checked(Path(out), forbidden=(workbook, *kept))
    jobs = [
        Job(name.removesuffix(".ipynb"), book)
        for name, book in notebooks_for(library, workbook).items()
    ]
    runs = run_notebooks(
        jobs,
        library=library.folder,
        folder=workbook,
        started=lambda number, of, name: click.echo(f"running {number} of {of}: {name}", err=True),
        variables={PHONE_VARIABLE: "1"},
    )
    with at_work(library, "writing pages"):
        index = write_pages(runs, library=library, out=target)
        said = [*map(str, pages_of(library)), *map(str, missing_answers(library))]
    for text in said:
        click.echo(f"{text}\n")
    for run in runs:
        if run.failure:
            click.echo(f"steelyard: notebook {run.name}: {run.failure}", err=True)
    click.echo(f"{len(runs)} pages; begin with {index}")
    return EXIT_DATA if any(run.failure for run in runs) else status_of(library)


def _checked(out: Path, *, forbidden: tuple[Path, ...]) -> Path:
    if out.exists() and not out.is_dir():
        raise UsageError(f"--out {str(out)!r} is a file; expected a folder")
    for folder in forbidden:
        if out.resolve().is_relative_to(folder.resolve()):
            raise UsageError(
                f"--out {str(out)!r} lies in {str(folder)!r}; pages are not written among the "
                "library's or the workbook's own files"
            )
    try:
        out.mkdir(parents=True, exist_ok=True)
    except OSError as refused:
        raise SteelyardError(f"--out {str(out)!r} cannot be made: {refused.strerror}") from refused
    return out
