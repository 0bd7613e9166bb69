"""What became of a paper after it was printed."""

from __future__ import annotations

from collections.abc import Iterator

from steelyard.judging.integrity.finding import IntegrityFinding, found
from steelyard.judging.integrity.reading import Laid

_WORDS = {
    "retracted": (
        "warning",
        "the paper is retracted: expected none of its numbers in an answer; "
        "keep the record, so that nobody adds it again",
    ),
    "corrected": (
        "note",
        "the paper was corrected: check that the numbers here are those of the correction",
    ),
    "preprint": (
        "note",
        "the paper is a preprint: look whether a reviewed version is out and take its numbers",
    ),
}


def status_findings(laid: Laid) -> Iterator[IntegrityFinding]:
    """A retracted, corrected or not yet reviewed paper."""
    source = laid.study.source
    if source.status not in _WORDS:
        return
    severity, message = _WORDS[source.status]
    if source.status_note:
        message = f"{message} ({source.status_note})"
    yield found(
        laid.study.id, "source.status", f"paper-{source.status}", message, severity=severity
    )
