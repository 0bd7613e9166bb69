"""What the numbers of the studies give away: one file per family of checks."""

from __future__ import annotations

from collections.abc import Mapping

from steelyard.judging.integrity.arm_tests import arm_test_findings
from steelyard.judging.integrity.arms import arm_findings
from steelyard.judging.integrity.change_spreads import change_spread_findings
from steelyard.judging.integrity.changes import change_findings
from steelyard.judging.integrity.comparisons import comparison_findings
from steelyard.judging.integrity.correlations import correlation_findings
from steelyard.judging.integrity.duplicates import duplicate_findings
from steelyard.judging.integrity.figures import figure_findings
from steelyard.judging.integrity.finding import IntegrityFinding, suspect_results, suspects_of
from steelyard.judging.integrity.outlying import outlying_effects
from steelyard.judging.integrity.paired_tests import paired_test_findings
from steelyard.judging.integrity.peers import Peers
from steelyard.judging.integrity.ratios import ratio_findings
from steelyard.judging.integrity.reading import lay_out
from steelyard.judging.integrity.signs import sign_findings
from steelyard.judging.integrity.spreads import spread_findings
from steelyard.judging.integrity.standard_errors import standard_error_findings
from steelyard.judging.integrity.standardised import standardised_findings
from steelyard.judging.integrity.status import status_findings
from steelyard.judging.integrity.whole_numbers import whole_number_findings
from steelyard.records.study import Study

__all__ = [
    "IntegrityFinding",
    "integrity_findings",
    "outlying_effects",
    "suspect_results",
    "suspects_of",
]

_WITHIN_ONE_STUDY = (
    status_findings,
    whole_number_findings,
    correlation_findings,
    change_findings,
    arm_findings,
    spread_findings,
    figure_findings,
    paired_test_findings,
    comparison_findings,
    arm_test_findings,
    standardised_findings,
    ratio_findings,
    sign_findings,
)
_AMONG_PEERS = (standard_error_findings, change_spread_findings)


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
    peers = Peers(laid)
    findings: list[IntegrityFinding] = []
    for each in laid:
        for check in _WITHIN_ONE_STUDY:
            findings += check(each)
        for check in _AMONG_PEERS:
            findings += check(each, peers)
    order = {each.study.id: place for place, each in enumerate(laid)}
    findings += duplicate_findings(laid)
    return sorted(findings, key=lambda finding: order[finding.study])
