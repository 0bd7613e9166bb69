"""``steelyard new``."""

from __future__ import annotations

from pathlib import Path

import click

from steelyard.cli.options import library_option, open_and_tell, status_of


@click.group("new")
def new_command() -> None:
    """Make something new in the library, from answers to plain questions."""


@new_command.command("recommendation")
@library_option
@click.option(
    "--answers",
    "file",
    metavar="FILE.toml",
    help="Take the answers from a file: the keys of a recommendation, and a group [question].",
)
def new_recommendation(folder: str | None, file: str | None) -> int:
    """Make a recommendation, the question it rests on, and its notebook.

    Asks in the terminal; what may be left out is left out with Enter, and Ctrl-C leaves the
    library as it was. All is written, or nothing.
    """
    from steelyard.cli.plain_questions import ask
    from steelyard.library import open_library
    from steelyard.notebook.new_notebook import new_notebook
    from steelyard.notebook.page import RecommendationPage
    from steelyard.records.making import make_recommendation

    library = open_and_tell(folder)
    answers = _from_file(Path(file)) if file else ask(library)
    made = make_recommendation(
        library.records, answers, beside=lambda name: new_notebook(library, name)
    )
    for path in made.files:
        click.echo(f"made {_near(path, library.folder)}")
    after = open_library(library.folder)
    click.echo(f"\n{RecommendationPage.of(after, made.recommendation).in_short()}")
    for sentence in _doubts(after, made.recommendation):
        click.echo(f"  dose: {sentence}")
    click.echo(
        f"\nNobody has been told yet: read it, then steelyard review --mark {made.recommendation} "
        "--by NAME --note TEXT",
        err=True,
    )
    return status_of(library)


def _doubts(library, name: str) -> list[str]:
    """What of the dose the studies did not test, or is other than common practice."""
    from steelyard.errors import DesignError, EmptyQuestionError
    from steelyard.judging.dose import INSIDE, check_dose

    record = library.recommendations[name]
    try:
        weighing = library.weigh(record.questions[0])
    except (DesignError, EmptyQuestionError):
        return []
    checks = check_dose(record, weighing, library.studies)
    return [check.sentence for check in checks if check.mark != INSIDE]


def _from_file(path: Path) -> dict:
    from steelyard.errors import UsageError
    from steelyard.records.reading import parse, read_text

    if not path.exists():
        raise UsageError(f"there is no file {str(path)!r}")
    return parse(read_text(path, file=path.name), file=path.name)


def _near(path: Path, folder: Path) -> Path:
    for base in (folder, folder.parent):
        if path.is_relative_to(base):
            return path.relative_to(base)
    return path
