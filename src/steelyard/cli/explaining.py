"""``steelyard explain``."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import click

from steelyard.cli.options import library_option, open_and_tell, status_of
from steelyard.cli.progress import at_work
from steelyard.errors import SteelyardError, UsageError

FORMS = ("text", "json", "markdown", "html", "bibtex", "ris", "csl-json")
# What is no explanation, but hangs on one, is written as text or JSON.
SHORT_FORMS = ("text", "json")


@click.command("explain")
@click.argument("recommendation", required=False)
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
@click.option("--choose", is_flag=True, help="Lay its two options side by side.")
@click.option(
    "--prefers", type=click.Choice(["a", "b"]), default=None, help="With --choose: the liked one."
)
@click.option(
    "--result",
    metavar="FILE.toml",
    default=None,
    help="A client's tests: before, after and typical_error.",
)
@click.option(
    "--plan", metavar="FILE", default=None, help="Check a week's plan, csv or xlsx, instead."
)
@click.option("--out", metavar="FILE", default=None, help="Write there instead of printing.")
def explain_command(
    recommendation: str | None,
    folder: str | None,
    form: str,
    language: str | None,
    profile: str | None,
    style: str | None,
    traced: bool,
    choose: bool,
    prefers: str | None,
    result: str | None,
    plan: str | None,
    out: str | None,
) -> int:
    """Explain RECOMMENDATION in words for a client.

    One sentence, a paragraph, and a page; html is a handout that prints to one sheet. Words
    that client text avoids are told on standard error, with the record to change.
    """
    choose = choose or prefers is not None
    asked = {"--trace": traced, "--choose": choose, "--result": result, "--plan": plan}
    one = [name for name, given in asked.items() if given not in (None, False)]
    if len(one) > 1:
        raise UsageError(f"{' and '.join(one)} do not go together; give one of them")
    if one and form not in SHORT_FORMS:
        raise UsageError(f"{one[0]} is written as text or json, not as {form}")
    if (recommendation is None) != (plan is not None):
        raise UsageError(
            "name a recommendation, or give --plan FILE to check a plan"
            if recommendation is None
            else "--plan is held against every recommendation; leave the name out"
        )
    from steelyard.records.settings import read_settings

    library = open_and_tell(folder)
    settings = read_settings(library.folder)
    with at_work(library, "explaining") as progress:
        if plan is not None:
            from steelyard.explaining.plan_check import check_of

            text = _shown(check_of(library, plan, settings=settings, language=language), form)
        else:
            text = _text(
                library,
                recommendation,
                form,
                settings=settings,
                language=language,
                profile=profile,
                style=style,
                traced=traced,
                choose=choose,
                prefers=prefers,
                result=result,
                say=progress.say,
            )
    _put(text, out)
    return status_of(library)


def _text(
    library,
    recommendation: str,
    form: str,
    *,
    settings,
    language: str | None,
    profile: str | None,
    style: str | None,
    traced: bool,
    choose: bool,
    prefers: str | None,
    result: str | None,
    say: Callable[[str], None],
) -> str:
    """The explanation of one recommendation, or what is asked in its place."""
    from steelyard.explaining.profile import read_profile

    client = None if profile is None else read_profile(profile, settings)
    asked = {"profile": client, "settings": settings, "language": language}
    if choose:
        from steelyard.explaining.two_options import two_options

        return _shown(two_options(library, recommendation, prefers=prefers, **asked), form)
    from steelyard.explaining.explain import explain

    found = explain(library, recommendation, style=style, **asked)
    if result is not None:
        from steelyard.explaining.own_result_of import own_result_of, read_tests

        return _shown(own_result_of(found, **read_tests(result).numbers()), form)
    for slip in found.slips:
        say(f"steelyard: {slip.rule}: {slip.message}: {slip.found}".rstrip(": "))
    return _traced(found, form) if traced else _written(found, form, settings)


def _put(text: str, out: str | None) -> None:
    if out is None:
        click.echo(text, nl=not text.endswith("\n"))
        return
    try:
        Path(out).write_text(text if text.endswith("\n") else f"{text}\n", encoding="utf-8")
    except OSError as refused:
        raise SteelyardError(f"--out {out!r} cannot be written: {refused.strerror}") from refused


def _shown(found, form: str) -> str:
    if form == "json":
        return json.dumps(found.as_json(), ensure_ascii=False, indent=2, allow_nan=False)
    return str(found)


def _written(found, form: str, settings) -> str:
    if form in SHORT_FORMS:
        return _shown(found, form)
    if form == "html":
        from steelyard.explaining.handout import handout

        return handout(found, settings=settings)
    if form == "markdown":
        from steelyard.explaining.handout_text import markdown

        return markdown(found, settings=settings)
    from steelyard.explaining.references_out import references_out

    used = {
        study.id: study for each in found.evidence if each.weighing for study in each.used_studies
    }
    return references_out(used.values(), form=form)


def _traced(found, form: str) -> str:
    from steelyard.explaining.trace import trace

    return _shown(trace(found), form)
