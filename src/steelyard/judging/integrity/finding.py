"""What an integrity check hands back, and which results it casts doubt on."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from steelyard.errors import Finding
from steelyard.records.question import Question


@dataclass(frozen=True, slots=True)
class IntegrityFinding(Finding):
    """One thing the numbers of a study give away; a question to the record, no accusation.

    Attributes
    ----------
    study : str
        Id of the study.
    outcome : str
        Id of the outcome; empty where the whole study is meant.
    arithmetic : str
        The calculation, so that a person can follow it with a pocket calculator.
    suspect : bool
        Whether the evidence is strong enough to see the answer also without this outcome.
    """

    study: str
    outcome: str
    arithmetic: str
    suspect: bool


OUTLYING = "outlying-effect"
REASONS = {
    "standard-error-as-sd": "an SD that looks like a standard error",
    "small-change-sd": "an SD of change that looks like a standard error",
    "impossible-correlation": "SDs that no pre-post correlation allows",
    "standardised-mismatch": "a sign that contradicts the arms",
    "adjusted-sign": "a sign that contradicts the arms",
    "test-sign": "a sign that contradicts the arms",
    OUTLYING: "an effect far from those of its peers",
}
"""Why a suspect finding of each rule casts doubt on a result, in few words."""


def found(
    study: str,
    path: str,
    rule: str,
    message: str,
    *,
    severity: str = "note",
    outcome: str = "",
    arithmetic: str = "",
    suspect: bool = False,
) -> IntegrityFinding:
    """A finding in the file of one study."""
    return IntegrityFinding(
        f"studies/{study}.toml", path, severity, rule, message, study, outcome, arithmetic, suspect
    )


def suspect_results(findings: Iterable[Finding]) -> dict[tuple[str, str], str]:
    """Which outcomes of which studies are suspect, and why.

    Parameters
    ----------
    findings : iterable of Finding
        Findings of another kind are passed over.

    Returns
    -------
    dict
        From (study id, outcome id) to a short reason.
    """
    reasons: dict[tuple[str, str], list[str]] = {}
    for finding in findings:
        if not isinstance(finding, IntegrityFinding) or not finding.suspect:
            continue
        reason = REASONS.get(finding.rule, finding.rule.replace("-", " "))
        reasons.setdefault((finding.study, finding.outcome), []).append(reason)
    return {key: "; ".join(dict.fromkeys(words)) for key, words in reasons.items()}


def suspects_of(question: Question, findings: Iterable[Finding]) -> dict[tuple[str, str], str]:
    """As `suspect_results`, for the weighing of one question.

    A study is never held out for disagreeing with its peers: the one that overturns an answer
    looks just so. Where suspect results are kept in, one far from its peers is named with them
    and the answer is shown without it too.
    """
    if question.model.suspect == "hold-out":
        findings = (finding for finding in findings if finding.rule != OUTLYING)
    return suspect_results(findings)
