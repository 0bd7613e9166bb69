"""``steelyard check``."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

import click

from steelyard.cli.options import (
    format_option,
    harmless,
    library_option,
    open_with_progress,
    print_json,
)
from steelyard.cli.progress import at_work
from steelyard.errors import Finding
from steelyard.show import count

NOTES_OF_A_RULE = 5


@click.command("check")
@library_option
@format_option
@click.option("--all", "every", is_flag=True, help="List every note, however many of a kind.")
def check_command(folder: str | None, form: str, every: bool) -> int:
    """List every fault and warning in the library; exit status 1 if there is a fault.

    Of notes of one kind a table lists the first few and counts the rest; csv and json list all.
    """
    library = open_with_progress(folder)
    with at_work(library, "checking"):
        findings = library.check()
    fields = ("file", "path", "severity", "rule", "message")
    rows = [{name: getattr(finding, name) for name in fields} for finding in findings]
    faults = sum(finding.severity == "fault" for finding in findings)
    if form == "json":
        print_json(rows)
    elif form == "csv":
        import pandas as pd

        click.echo(harmless(pd.DataFrame(rows, columns=list(fields))).to_csv(index=False), nl=False)
    else:
        for line in _lines(findings, every=every):
            click.echo(line)
        warnings = sum(finding.severity == "warning" for finding in findings)
        notes = len(findings) - faults - warnings
        click.echo(
            f"{count(len(library.studies), 'study', 'studies')}, "
            f"{count(len(library.questions), 'question')}, "
            f"{count(len(library.recommendations), 'recommendation')} usable; "
            f"{count(faults, 'fault')}, {count(warnings, 'warning')}, {count(notes, 'note')}"
        )
    return 1 if faults else 0


def _lines(findings: Sequence[Finding], *, every: bool) -> Iterator[str]:
    """A line per finding; beyond the first few notes of one rule, one line that counts them."""
    notes = Counter(finding.rule for finding in findings if finding.severity == "note")
    shown: Counter[str] = Counter()
    for finding in findings:
        if finding.severity == "note" and not every:
            shown[finding.rule] += 1
            if shown[finding.rule] > NOTES_OF_A_RULE:
                continue
        yield str(finding)
    for rule, amount in notes.items():
        more = amount - NOTES_OF_A_RULE
        if more > 0 and not every:
            yield (
                f"note: {count(more, 'more note', 'more notes')} of this kind [{rule}]; "
                f"--all lists {'it' if more == 1 else 'them'}"
            )
