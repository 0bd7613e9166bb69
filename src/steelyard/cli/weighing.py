"""``steelyard effects`` and ``steelyard weigh``."""

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
@library_option
@format_option
def weigh_command(question: str, folder: str | None, form: str) -> int:
    """Print the weighed answer to QUESTION.

    In json and csv, positive favours the intervention and ratios are on the log scale.
    """
    library = open_and_tell(folder)
    with at_work(library, f"weighing {question}"):
        weighing = library.weigh(question)
        said = str(weighing) if form == "table" else weighing.as_json()
    if form == "json":
        print_json(said)
    elif form == "csv":
        import pandas as pd

        values = {name: value for name, value in said.items() if not isinstance(value, list | dict)}
        print_table(pd.DataFrame([values]), form)
    else:
        click.echo(said)
    return status_of(library)
