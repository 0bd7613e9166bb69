"""What the numbers of the studies give away: one file per family of checks."""

from __future__ import annotations

from collections.abc import Mapping

from steelyard.judging.integrity.correlations import correlation_findings
from steelyard.judging.integrity.finding import IntegrityFinding, suspect_results
from steelyard.judging.integrity.reading import lay_out
from steelyard.judging.integrity.status import status_findings
from steelyard.records.study import Study

__all__ = ["IntegrityFinding", "integrity_findings", "suspect_results"]

_WITHIN_ONE_STUDY = (status_findings, correlation_findings)


def integrity_findings(studies: Mapping[str, Study]) -> list[IntegrityFinding]:
    """Everything the checks find in a set of studies, in the order of the studies.

    Parameters
    ----------
    studies : mapping of str to Study
        Studies by id; validated, but any field that may be missing can be.

    Returns
    -------
    list of IntegrityFinding
        Of severity ``warning`` or ``note``: what is found is a question to the record, and
        may have a good answer.
    """
    laid = [lay_out(study) for study in studies.values()]
    return [finding for each in laid for check in _WITHIN_ONE_STUDY for finding in check(each)]
