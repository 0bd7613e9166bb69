"""``steelyard review``."""

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
from steelyard.cli.wrapping import echo_wrapped
from steelyard.errors import NoEarlierStateError, UsageError

EXIT_USAGE = 2


@click.command("review")
@library_option
@format_option
@click.option("--at", metavar="FINGERPRINT|DATE", help="Hold an earlier state against now.")
@click.option(
    "--mark", metavar="RECOMMENDATION", help="Mark one as reviewed and write the new told."
)
@click.option("--by", metavar="NAME", help="Who reviewed it; with --mark.")
@click.option("--note", metavar="TEXT", help="What they found; with --mark.")
def review_command(
    folder: str | None,
    form: str,
    at: str | None,
    mark: str | None,
    by: str | None,
    note: str | None,
) -> int:
    """Hold what every recommendation was told with against the evidence as it is now.

    With --at, the library is taken from version control as it stood on a date, or when a
    question had a fingerprint, and the difference to now is shown. With --mark, --by and
    --note, one recommendation is marked as reviewed today.
    """
    if at and mark:
        raise UsageError("--at and --mark cannot go together: the past is not reviewed again")
    if (by or note) and not mark:
        raise UsageError("--by and --note say who marks what: they need --mark RECOMMENDATION")
    library = open_and_tell(folder)
    if mark:
        _mark(library, mark, by=by or "", note=note or "")
        return status_of(library)
    if at:
        try:
            with at_work(library, f"looking for the library of {at}"):
                then = library.at(at)
        except NoEarlierStateError as error:
            if form != "table":
                raise
            click.echo(f"steelyard: {error}; what holds now:\n", err=True)
            echo_wrapped(str(library.review()))
            return EXIT_USAGE
        _show_then(library, then, form)
        return status_of(library)
    with at_work(library, "reviewing"):
        reviews = library.review()
        said = str(reviews) if form == "table" else reviews.as_json()
    if form == "json":
        print_json(said)
    elif form == "csv":
        lines = [{**row, **answer} for row in said for answer in row["answers"] or [{}]]
        print_table(_flat(lines, ("told", "now")), form)
    else:
        echo_wrapped(said)
    return status_of(library)


def _mark(library, recommendation: str, *, by: str, note: str) -> None:
    from steelyard.judging.mark import mark_reviewed
    from steelyard.judging.told import told_of

    library.records.find("recommendation", recommendation)
    review = library.review().review(recommendation)
    if review.first is None or review.first.now is None:
        raise UsageError(f"{recommendation!r} has no answer to be told: {review.problem}")
    told = {each.question: told_of(each.now) for each in review.answers if each.now is not None}
    mark_reviewed(library.folder, recommendation, by=by, note=note, told=told)
    for answer in review.answers:
        name = review.name_of(answer)
        if answer.now is None:
            click.echo(f"{name}: nothing told, for there is no answer: {answer.problem}", err=True)
        else:
            click.echo(f"{name}: told {answer.standing_text(answer.now)}, reviewed by {by}")


def _show_then(library, then, form: str) -> None:
    from steelyard.judging.between_states import then_and_now

    found = then_and_now(
        then,
        library,
        then_recommendations=then.recommendations,
        now_recommendations=library.recommendations,
    )
    state = {"at": then.state.date.isoformat(), "state": then.state.commit}
    if form == "table":
        click.echo(f"The library of {then.state.date} ({then.state.commit[:12]}) against now")
        for each in found:
            echo_wrapped(f"\n{each}")
        return
    rows = [{**each.as_json(), **state} for each in found]
    if form == "json":
        print_json(rows)
    else:
        print_table(_flat(rows, ("then", "now")), form)


def _flat(rows: list[dict], nested: tuple[str, str]):
    """One line per answer: nested numbers get a name such as ``told_low``."""
    import pandas as pd

    lines = []
    for row in rows:
        line = {}
        for key, value in row.items():
            if key in nested:
                parts = value or {}
                line |= {f"{key}_{name}": part for name, part in parts.items()}
            elif isinstance(value, list):
                line[key] = "; ".join(str(part) for part in value if not isinstance(part, dict))
            else:
                line[key] = value
        for nested_list in ("moves", "answers"):
            line.pop(nested_list, None)
        lines.append(line)
    return pd.DataFrame(lines)
