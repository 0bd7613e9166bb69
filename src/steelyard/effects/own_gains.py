"""What each arm gained over its own SD before training, as tables of gains count it."""

from __future__ import annotations

import pandas as pd

from steelyard.records.study import Study
from steelyard.reporting.default_correlation import is_resting
from steelyard.reporting.summary import find_result, summarise

COLUMNS = ("outcome", "arm", "week", "gain")


def own_gains(rows: pd.DataFrame, study: Study) -> pd.DataFrame:
    """Gain of each arm that trains: (post mean − pre mean)/SD before training of that arm [1]_.

    Not corrected for small samples, and over each arm's own SD, so that the difference of two
    gains is no effect.

    Parameters
    ----------
    rows : DataFrame
        With ``outcome, arm, week``, such as `arm_changes` gives; what repeats counts once.
    study : Study

    Returns
    -------
    DataFrame
        `COLUMNS`; ``gain`` in SDs, positive where the outcome got better. Arms that rest, or
        whose paper gives no mean before or after or no SD before, are absent.

    References
    ----------
    .. [1] Rhea, M. R. (2004). Determining the magnitude of treatment effects in strength
           training research through the use of the effect size. J Strength Cond Res 18,
           918-920. Formula from memory.
    """
    weeks = {float(result.week): result.week for result in study.results}
    found = []
    for outcome, arm, week in rows[["outcome", "arm", "week"]].drop_duplicates().itertuples(False):
        result = find_result(study, outcome=outcome, arm=arm, week=weeks.get(week))
        if result is None or is_resting(study.arm(arm)):
            continue
        summary = summarise(study, result)
        pre, post = summary.pre, summary.post
        if pre is None or post is None or pre.sd is None or not pre.sd.value > 0:
            continue
        turn = -1.0 if study.outcome(outcome).better == "lower" else 1.0
        gain = turn * (post.mean.value - pre.mean.value) / pre.sd.value
        found.append((outcome, arm, week, float(gain)))
    return pd.DataFrame(found, columns=list(COLUMNS))
