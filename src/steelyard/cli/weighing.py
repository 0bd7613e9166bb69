"""``steelyard effects`` and ``steelyard weigh``."""

from __future__ import annotations

from dataclasses import dataclass

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
from steelyard.errors import DesignError

ON_TERMINAL = [
    *("study", "comparison", "outcome", "week", "contrast", "effect", "variance"),
    *("n_intervention", "n_comparator", "r_used", "r_from", "flags"),
]


@click.command("effects")
@click.argument("question", required=False)
@library_option
@format_option
def effects_command(question: str | None, folder: str | None, form: str) -> int:
    """Print the effect table of QUESTION, or of every question.

    Positive favours the intervention; ratios are on the log scale. The formats csv and json
    hold every column, with the route from the printed numbers.
    """
    library = open_and_tell(folder)
    with at_work(library, "forming effects"):
        rows = library.effects(question)
    columns = ON_TERMINAL if question else ["question", *ON_TERMINAL]
    print_table(rows, form, columns=columns)
    return status_of(library)


@click.command("weigh")
@click.argument("question")
@click.option(
    "--by",
    "moderators",
    multiple=True,
    metavar="MODERATOR",
    help="Also whether the effect goes with it, as age_mean or duration_weeks; may be repeated.",
)
@library_option
@format_option
def weigh_command(question: str, moderators: tuple[str, ...], folder: str | None, form: str) -> int:
    """Print the weighed answer to QUESTION.

    In json and csv, positive favours the intervention and ratios are on the log scale; json
    holds the moderators asked for, each by itself, and the curves of a question about a dose.
    """
    library = open_and_tell(folder)
    with at_work(library, f"weighing {question}"):
        weighing = library.weigh(question)
        by = [_moderated(weighing, library, name) for name in moderators]
        if form == "table":
            said = "\n\n".join(map(str, (weighing, *by)))
        else:
            said = weighing.as_json() | _dose(weighing, library)
            if by:
                said["moderators"] = [each.as_json() for each in by]
    if form == "json":
        print_json(said)
    elif form == "csv":
        import pandas as pd

        values = {name: value for name, value in said.items() if not isinstance(value, list | dict)}
        print_table(pd.DataFrame([values]), form)
    else:
        click.echo(said)
    return status_of(library)


@dataclass(frozen=True, slots=True)
class _Refused:
    """A moderator that the studies cannot tell of."""

    name: str
    why: str

    def __str__(self) -> str:
        return f"By {self.name}: cannot be told, since {self.why}"

    def as_json(self) -> dict:
        return {"moderators": [self.name], "refused": self.why}


def _moderated(weighing, library, name: str):
    from steelyard.pooling.moderator_values import moderator_names
    from steelyard.pooling.moderators import moderate

    if name not in moderator_names():
        known = ", ".join(moderator_names())
        raise click.BadParameter(f"no moderator {name!r}; there are {known}", param_hint="--by")
    try:
        return moderate(weighing, library.studies, [name])
    except DesignError as refused:
        return _Refused(name, str(refused))


def _dose(weighing, library) -> dict:
    if weighing.question.dose is None:
        return {}
    from steelyard.pooling.dose_answer import dose_answer

    try:
        return {"dose_response": dose_answer(weighing, library.studies.values()).as_json()}
    except DesignError as refused:
        return {"dose_response": {"refused": str(refused)}}
