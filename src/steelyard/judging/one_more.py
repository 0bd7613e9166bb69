"""What one more study of usual size could do to an answer."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.special import ndtri

from steelyard.judging.repool import pooled_rows, used_rows
from steelyard.pooling.pool import pool
from steelyard.pooling.verdict import verdict
from steelyard.pooling.weighing import Weighing


@dataclass(frozen=True, slots=True)
class OneMore:
    """The answer after a further study of usual size at either end of what it may find.

    Attributes
    ----------
    people : int
        Median people of the pooled studies.
    finds_low, finds_high : float
        Where 95 in 100 such studies would land; machine scale.
    estimate_low, estimate_high : float
        Pooled estimate after each.
    verdict_low, verdict_high : str
        Verdict after each; empty without a smallest worthwhile effect.
    sentence : str
    """

    people: int
    finds_low: float
    finds_high: float
    estimate_low: float
    estimate_high: float
    verdict_low: str
    verdict_high: str
    sentence: str


def one_more_study(weighing: Weighing) -> OneMore:
    """Add a study of median variance at either end, and pool again.

    Notes
    -----
    What such a study finds is taken as normal around the estimate with variance
    τ² + SE² + v, v the median sampling variance of the pooled studies (own choice; small
    numbers of studies make τ² itself uncertain, which this leaves out).
    """
    used = used_rows(weighing)
    variance = float(np.median(used["variance"]))
    people = int(np.median(used["people"]))
    spread = np.sqrt(weighing.tau2 + weighing.standard_error**2 + variance)
    reach = float(ndtri(0.975) * spread)
    ends = (weighing.estimate - reach, weighing.estimate + reach)
    estimates, words = [], []
    for end in ends:
        rows = pd.concat(
            [
                used[["effect", "variance"]],
                pd.DataFrame({"effect": [end], "variance": [variance]}),
            ],
            ignore_index=True,
        )
        pooled = pooled_rows(weighing, rows)
        ninety = pool(
            rows["effect"].to_numpy(float),
            rows["variance"].to_numpy(float),
            between=weighing.question.model.between,
            interval=weighing.question.model.interval,
            level=0.90,
        )
        found = verdict(
            low=pooled.low,
            high=pooled.high,
            low_90=ninety.low,
            high_90=ninety.high,
            worthwhile=weighing.worthwhile,
        )
        estimates.append(pooled.estimate)
        words.append(found.word)
    return OneMore(
        people=people,
        finds_low=ends[0],
        finds_high=ends[1],
        estimate_low=estimates[0],
        estimate_high=estimates[1],
        verdict_low=words[0],
        verdict_high=words[1],
        sentence=_sentence(weighing, people, estimates, words),
    )


def _sentence(weighing: Weighing, people: int, estimates: list[float], words: list[str]) -> str:
    text = (
        f"one more study of {people} people, the middle size here, would put the estimate "
        f"anywhere from {weighing.span(*estimates)}"
    )
    now = weighing.verdict.word
    others = [word for word in dict.fromkeys(words) if word and word != now]
    if not now:
        return text
    if others:
        return f"{text} and could turn {now!r} into {' or '.join(map(repr, others))}"
    return f"{text}; the verdict would stay {now!r}"
