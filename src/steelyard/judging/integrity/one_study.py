"""The checks for one study among others that do not change, as while it is typed."""

from __future__ import annotations

from collections.abc import Iterable

from steelyard.judging.integrity import _AMONG_PEERS, _WITHIN_ONE_STUDY
from steelyard.judging.integrity.duplicates import duplicate_findings
from steelyard.judging.integrity.finding import IntegrityFinding
from steelyard.judging.integrity.peers import Peers
from steelyard.judging.integrity.reading import lay_out
from steelyard.records.study import Study


class AmongOthers:
    """Other studies laid out once, to hold one study against them again and again.

    Parameters
    ----------
    others : iterable of Study
        Without the study in question.
    """

    def __init__(self, others: Iterable[Study]) -> None:
        self._laid = [lay_out(study) for study in others]
        self._peers = Peers(self._laid)

    def findings(self, study: Study) -> tuple[IntegrityFinding, ...]:
        """What `integrity_findings` says of this study among the others."""
        one = lay_out(study)
        found: list[IntegrityFinding] = []
        for check in _WITHIN_ONE_STUDY:
            found += check(one)
        for check in _AMONG_PEERS:
            found += check(one, self._peers)
        found += duplicate_findings([*self._laid, one])
        return tuple(finding for finding in found if finding.study == study.id)
