"""How much of a weighing's weight comes from studies of low, some and high concern."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import pandas as pd

from steelyard.judging.appraisal.appraise import Appraised, appraise, gravest
from steelyard.judging.appraisal.rules import CONCERNS, AppraisalRules, appraisal_rules
from steelyard.judging.repool import used_rows
from steelyard.pooling.weighing import Weighing
from steelyard.records.study import Study
from steelyard.show import Shown

IN_ALL = "in all"


@dataclass(frozen=True, slots=True, eq=False)
class ConcernWeights(Shown):
    """Weight by concern.

    Attributes
    ----------
    shares : DataFrame, a row per domain and a last one ``in all``
        ``domain, low, some, high`` (fractions of the weight of the studies it is asked of),
        ``asked`` (fraction of all weight that it is asked of).
    studies : DataFrame, a row per pooled study
        ``study, label, weight, concern`` and a column per domain (empty where not asked): the
        gravest over the study's outcomes that are pooled.
    appraised : tuple of Appraised
        Every study by outcome.
    """

    shares: pd.DataFrame
    studies: pd.DataFrame
    appraised: tuple[Appraised, ...]

    def share(self, concern: str, *, domain: str = IN_ALL) -> float:
        """Fraction of weight with a concern."""
        return float(self.shares.set_index("domain").at[domain, concern])

    @property
    def unanswered(self) -> float:
        """Fraction of weight from studies whose appraisal nobody has answered yet."""
        open_studies = {each.study for each in self.appraised if not each.answered}
        return float(self.studies.loc[self.studies["study"].isin(open_studies), "weight"].sum())

    def _title(self) -> str:
        return "Weight by concern"

    def _rows(self) -> list[tuple[str, str]]:
        return [
            (
                row.domain,
                ", ".join(f"{concern} {100 * getattr(row, concern):.0f} %" for concern in CONCERNS),
            )
            for row in self.shares.itertuples()
        ]


def concern_weights(
    weighing: Weighing, studies: Mapping[str, Study], *, rules: AppraisalRules | None = None
) -> ConcernWeights:
    """Appraise every pooled study on its pooled outcomes and add up the weight.

    Parameters
    ----------
    weighing : Weighing
    studies : mapping of str to Study
    rules : AppraisalRules, optional

    Returns
    -------
    ConcernWeights
    """
    rules = rules or appraisal_rules()
    weights = used_rows(weighing).set_index("study")["weight"]
    used = weighing.effects[weighing.effects["used"]]
    appraised, rows = [], []
    for study_id, part in used.groupby("study", sort=False):
        study = studies[study_id]
        each = [appraise(study, outcome, rules=rules) for outcome in part["outcome"].unique()]
        appraised += each
        row = {
            "study": study_id,
            "label": study.label,
            "weight": float(weights[study_id]),
            "concern": gravest(found.concern for found in each),
        }
        for domain in rules.domain_names():
            found = [one.judgement(domain) for one in each]
            asked = [judgement.concern for judgement in found if judgement]
            row[domain] = gravest(asked) if asked else ""
        rows.append(row)
    frame = pd.DataFrame(rows)
    shares = [_share(frame, domain, domain) for domain in rules.domain_names()]
    shares = [row for row in shares if row["asked"] > 0]
    shares.append(_share(frame, IN_ALL, "concern"))
    return ConcernWeights(pd.DataFrame(shares), frame, tuple(appraised))


def _share(frame: pd.DataFrame, name: str, column: str) -> dict:
    weights, found = frame["weight"].to_numpy(float), frame[column].to_numpy()
    asked = float(weights[found != ""].sum())
    parts = dict.fromkeys(CONCERNS, 0.0)
    for concern in CONCERNS if asked else ():
        parts[concern] = float(weights[found == concern].sum()) / asked
    return {"domain": name, **parts, "asked": asked}
