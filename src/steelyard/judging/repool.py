"""Some of a weighing's studies pooled again, as its question asks."""

from __future__ import annotations

import pandas as pd

from steelyard.pooling.pool import PoolResult, pool
from steelyard.pooling.weighing import Weighing


def pooled_rows(weighing: Weighing, rows: pd.DataFrame) -> PoolResult:
    """The pool of study rows (``effect``, ``variance``) under the weighing's model and level."""
    model = weighing.question.model
    return pool(
        rows["effect"].to_numpy(float),
        rows["variance"].to_numpy(float),
        between=model.between,
        interval=model.interval,
        level=weighing.pooled.level,
    )


def used_rows(weighing: Weighing) -> pd.DataFrame:
    """The rows of the studies that are pooled."""
    return weighing.studies[weighing.studies["used"]]
