"""How much of the weight rests on doubtful ground, as a picture shows it."""

from __future__ import annotations

import pandas as pd

from steelyard.judging.appraisal.rules import CONCERNS
from steelyard.judging.appraisal.weights import IN_ALL, ConcernWeights
from steelyard.judging.certainty.wording import share_text
from steelyard.pooling.forest_data import TITLE_NOTE_INVENTED
from steelyard.pooling.pictures import ConcernData
from steelyard.pooling.weighing import Weighing

# An average over all weight would hide a domain that only some studies are asked about.
ASKED_OF_ALL = 1 - 1e-9
GRAVEST = (
    "In all, a study counts with its gravest concern: a chain holds no more than its weakest link."
)

ROUNDED = "Shares are rounded, each by itself, so that parts may miss their sum by 1 %."


def concern_data(concerns: ConcernWeights, weighing: Weighing) -> ConcernData:
    """Weight by concern, a bar per domain and one in all.

    Parameters
    ----------
    concerns : ConcernWeights
    weighing : Weighing
        Whose weight it is.

    Returns
    -------
    ConcernData
        Percent of the weight that a domain is asked of.
    """
    rows = []
    for row in concerns.shares.to_dict("records"):
        name = row["domain"]
        words = "in all" if name == IN_ALL else name
        if row["asked"] < ASKED_OF_ALL:
            words += f" (asked of {share_text(row['asked'])} of the weight)"
        parts = {concern: 100 * row[concern] for concern in CONCERNS}
        rows.append({"domain": words[:1].upper() + words[1:], **parts})
    notes = [TITLE_NOTE_INVENTED] if weighing.invented else []
    notes.append(GRAVEST)
    if concerns.unanswered > 0:
        notes.append(
            f"{share_text(concerns.unanswered)} of the weight comes from studies whose appraisal "
            "nobody has answered yet; what a record does not say counts as some concern."
        )
    notes.append(ROUNDED)
    return ConcernData(
        title="How much of the weight rests on doubtful ground?",
        subtitle=_sentence(concerns),
        notes=tuple(notes),
        domains=pd.DataFrame(rows, columns=["domain", *CONCERNS]),
    )


def _sentence(concerns: ConcernWeights) -> str:
    high = concerns.share("high")
    sentence = (
        f"{share_text(high + concerns.share('some'))} of the weight comes from studies of some or "
        f"high concern, {share_text(high)} from those of high concern"
    )
    domains = concerns.shares[concerns.shares["domain"] != IN_ALL]
    doubted = domains.assign(doubt=(domains["some"] + domains["high"]) * domains["asked"])
    if doubted["doubt"].max() <= 0:
        return f"{sentence}."
    most = doubted.loc[doubted["doubt"].idxmax(), "domain"]
    return f"{sentence}; most of it is about {most}."
