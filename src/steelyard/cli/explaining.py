"""``steelyard explain``."""

from __future__ import annotations

import json
from pathlib import Path

import click

from steelyard.cli.options import library_option, open_with_progress, say_faults
from steelyard.errors import SteelyardError

FORMS = ("text", "json", "markdown", "html", "bibtex", "ris", "csl-json")


@click.command("explain")
@click.argument("recommendation")
@library_option
@click.option(
    "--format",
    "form",
    type=click.Choice(FORMS),
    default="text",
    show_default=True,
    help="How to write it; the last three write its references alone.",
)
@click.option("--language", default=None, help="en or de; as the settings say if not given.")
@click.option(
    "--profile",
    metavar="FILE.toml|CODE",
    default=None,
    help="A client's file, or the code it has in the folder of clients.",
)
@click.option(
    "--style",
    default=None,
    help="Of citations: apa, ama, chicago, harvard, nature, vancouver.",
)
@click.option("--trace", "traced", is_flag=True, help="Follow every number to studies' cells.")
@click.option("--out", metavar="FILE", default=None, help="Write there instead of printing.")
def explain_command(
    recommendation: str,
    folder: str | None,
    form: str,
    language: str | None,
    profile: str | None,
    style: str | None,
    traced: bool,
    out: str | None,
) -> int:
    """Explain RECOMMENDATION in words for a client.

    One sentence, a paragraph, and a page; html is a handout that prints to one sheet. Words
    that client text avoids are told on standard error, with the record to change.
    """
    from steelyard.explaining.explain import explain
    from steelyard.explaining.profile import read_profile
    from steelyard.records.settings import read_settings

    library = open_with_progress(folder)
    say_faults(library.records.faults)
    settings = read_settings(library.folder)
    client = None if profile is None else read_profile(profile, settings)
    found = explain(
        library,
        recommendation,
        profile=client,
        settings=settings,
        language=language,
        style=style,
    )
    for slip in found.slips:
        click.echo(f"steelyard: {slip.rule}: {slip.message}: {slip.found}".rstrip(": "), err=True)
    text = _traced(found, form) if traced else _written(found, form, settings)
    if out is None:
        click.echo(text, nl=not text.endswith("\n"))
        return 0
    try:
        Path(out).write_text(text if text.endswith("\n") else f"{text}\n", encoding="utf-8")
    except OSError as refused:
        raise SteelyardError(f"--out {out!r} cannot be written: {refused.strerror}") from refused
    return 0


def _written(found, form: str, settings) -> str:
    if form == "json":
        return json.dumps(found.as_json(), ensure_ascii=False, indent=2, allow_nan=False)
    if form == "html":
        from steelyard.explaining.handout import handout

        return handout(found, settings=settings)
    if form == "markdown":
        from steelyard.explaining.handout_text import markdown

        return markdown(found, settings=settings)
    if form == "text":
        return str(found)
    from steelyard.explaining.references_out import references_out

    used = {
        study.id: study for each in found.evidence if each.weighing for study in each.used_studies
    }
    return references_out(used.values(), form=form)


def _traced(found, form: str) -> str:
    from steelyard.explaining.trace import trace

    followed = trace(found)
    if form == "json":
        return json.dumps(followed.as_json(), ensure_ascii=False, indent=2, allow_nan=False)
    return str(followed)
