"""``steelyard check``."""

from __future__ import annotations

import click

from steelyard.cli.options import (
    format_option,
    harmless,
    library_option,
    open_with_progress,
    print_json,
)
from steelyard.show import count


@click.command("check")
@library_option
@format_option
def check_command(folder: str | None, form: str) -> int:
    """List every fault and warning in the library; exit status 1 if there is a fault."""
    library = open_with_progress(folder)
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
        for finding in findings:
            click.echo(str(finding))
        warnings = sum(finding.severity == "warning" for finding in findings)
        notes = len(findings) - faults - warnings
        click.echo(
            f"{count(len(library.studies), 'study', 'studies')}, "
            f"{count(len(library.questions), 'question')}, "
            f"{count(len(library.recommendations), 'recommendation')} usable; "
            f"{count(faults, 'fault')}, {count(warnings, 'warning')}, {count(notes, 'note')}"
        )
    return 1 if faults else 0
