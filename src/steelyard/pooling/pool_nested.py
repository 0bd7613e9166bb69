"""Pool effects that are nested in studies."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import chdtrc, ndtri, stdtrit

from steelyard.errors import DesignError
from steelyard.pooling.checking import (
    choice,
    level_between_zero_and_one,
    numbers,
    present_effects,
)
from steelyard.pooling.composite import checked_covariance
from steelyard.pooling.nested_variance import Blocks, nested_variances
from steelyard.pooling.prediction import prediction_interval
from steelyard.pooling.robust_variance import robust_variance
from steelyard.show import Shown, count, number
from steelyard.show import interval as shown_interval

METHODS = ("reml", "ml")


@dataclass(frozen=True, slots=True, eq=False)
class NestedPoolResult(Shown):
    """A pooled effect over studies that gave several effects each.

    Attributes
    ----------
    estimate, standard_error, df : float
        ``estimate ± t(df) * standard_error`` is the interval; infinite `df` is the normal one.
    level : float
        Of all intervals.
    low, high : float
        Interval for the mean of true effects.
    prediction_low, prediction_high : float
        Interval for one true effect in a further study; NaN with fewer than three studies.
    variance_between_studies, variance_within_studies : float
        Of study means about the overall mean, and of effects about their study's mean.
    tau2 : float
        The sum of these two.
    tau2_low, tau2_high : float
        NaN: no interval for the sum is given.
    i2 : float
        ``max(0, (Q - df) / Q)``, a fraction from 0 to 1.
    q, q_df, q_p : float, int, float
        Q about the common-effect mean under the sampling covariance, k - 1, and its p.
    k, studies : int
        Effects and studies pooled.
    weights : ndarray, shape of the effects given
        Sum to 1; 0 for an effect left out. One that repeats another closely can be negative.
    between, interval : str
        Estimation method (``reml`` or ``ml``); ``cluster-robust`` or ``normal``.
    log_likelihood : float
        At the estimates, for comparing models of the same effects.
    notes : tuple of str
        What could not be estimated, and what was used instead.
    """

    estimate: float
    standard_error: float
    df: float
    level: float
    low: float
    high: float
    prediction_low: float
    prediction_high: float
    variance_between_studies: float
    variance_within_studies: float
    tau2: float
    tau2_low: float
    tau2_high: float
    i2: float
    q: float
    q_df: int
    q_p: float
    k: int
    studies: int
    weights: np.ndarray
    between: str
    interval: str
    log_likelihood: float
    notes: tuple[str, ...]

    def _title(self) -> str:
        return f"Pool of {count(self.k, 'effect')} in {count(self.studies, 'study', 'studies')}"

    def _rows(self) -> list[tuple[str, str]]:
        robust = self.interval == "cluster-robust"
        rows = [
            (
                "estimate",
                f"{number(self.estimate, decimals=3, sign=True)}, {100 * self.level:g} % interval "
                f"{shown_interval(self.low, self.high, decimals=3)}",
            ),
            (
                "next study",
                "no prediction interval"
                if self.prediction_low != self.prediction_low
                else shown_interval(self.prediction_low, self.prediction_high, decimals=3),
            ),
            (
                "between studies",
                f"SD {number(self.variance_between_studies**0.5, decimals=3)}; within studies "
                f"SD {number(self.variance_within_studies**0.5, decimals=3)}",
            ),
            ("scatter", f"Q {number(self.q)} on {self.q_df} df"),
            (
                "method",
                f"effects within studies, {self.between.upper()}; "
                + (f"study as cluster, {number(self.df, decimals=1)} df" if robust else "normal"),
            ),
        ]
        return rows + [("note", note) for note in self.notes]


def pool_nested(
    effect, covariance, *, study, method: str = "reml", robust: bool = True, level: float = 0.95
) -> NestedPoolResult:
    """Pool effects of which several come from one study.

    Parameters
    ----------
    effect : array_like of float, shape (k,)
        Effects; NaN is absent and left out with a note.
    covariance : array_like of float, shape (k,) or (k, k)
        Sampling variances, or the sampling covariance with zeros between studies. Positive
        definite within each study.
    study : sequence, length k
        Which study each effect is from; any labels.
    method : str
        ``reml`` or ``ml``.
    robust : bool
        Give the cluster-robust standard error (CR2, study as cluster) with t on Satterthwaite
        degrees of freedom; otherwise the model's standard error with the normal interval.
    level : float
        Of all intervals; between 0 and 1.

    Returns
    -------
    NestedPoolResult

    Raises
    ------
    DesignError
        Without any effect, for an unknown method, impossible variances, covariance between
        studies, or labels that do not match the effects.

    Notes
    -----
    The model is ``y = mean + study + effect + error`` with normal deviations; `study` and
    `effect` have the two variances estimated, `error` the covariance given. Everything is
    worked out study by study. As in `pool`, the interval is never narrower than the normal
    common-effect interval, and the prediction interval is
    ``estimate ± t sqrt(tau2 + SE**2)`` with the model's standard error and t on
    ``studies - 2`` degrees of freedom.
    """
    method = choice(method, name="method", among=METHODS)
    level = level_between_zero_and_one(level)
    effect = numbers(effect, name="effect", ndim=1)
    matrix = _as_matrix_or_variances(covariance, size=effect.size)
    variances = matrix if matrix.ndim == 1 else np.diag(matrix)
    present = present_effects(effect, variances, names=("effect", "covariance"))
    if not present.any():
        raise DesignError(
            f"effect must have at least one value to pool; {effect.size} given, none present"
        )
    places = studies_in_order(study, present)
    order = np.concatenate(places)
    blocks_v = _blocks_of_covariance(matrix, places)
    y = effect[order]
    start = np.cumsum([0, *(len(rows) for rows in places[:-1])])
    blocks = _turned(y, blocks_v, start)

    k, studies = y.size, len(places)
    fitted = nested_variances(blocks, restricted=method == "reml")
    working = [
        v + fitted.within * np.eye(len(v)) + fitted.between
        if v.ndim == 2
        else np.diag(v + fitted.within) + fitted.between
        for v in blocks_v
    ]
    marginal = [np.linalg.solve(f, np.ones(len(f))) for f in working]
    raw = np.concatenate(marginal)
    shares = raw / raw.sum()
    estimate = float(y[0] + shares @ (y - y[0]))
    model_error = float(1 / np.sqrt(raw.sum()))

    at_zero = [np.linalg.solve(v, np.ones(len(v))) if v.ndim == 2 else 1 / v for v in blocks_v]
    common = np.concatenate(at_zero)
    common_error = float(1 / np.sqrt(common.sum()))
    common_mean = float(y[0] + common @ (y - y[0]) / common.sum())
    residual = blocks.y - common_mean * blocks.ones
    q = float((residual**2 / blocks.v).sum())

    z = float(ndtri((1 + level) / 2))
    standard_error, df, half, interval = model_error, np.inf, z * model_error, "normal"
    notes = _notes(present, k=k, studies=studies, robust=robust)
    if robust and studies > 1:
        pieces = [slice(b, b + len(v)) for b, v in zip(start, blocks_v, strict=True)]
        sandwich = robust_variance(
            design=[np.ones((len(v), 1)) for v in blocks_v],
            residual=[y[piece] - estimate for piece in pieces],
            working=working,
        )
        robust_error, robust_df = float(np.sqrt(sandwich.covariance[0, 0])), float(sandwich.df[0])
        robust_half = float(stdtrit(robust_df, (1 + level) / 2)) * robust_error
        if np.isnan(robust_df):
            notes.append(
                "one study outweighs all others: a cluster-robust interval cannot be formed, and "
                "the model's normal interval is given"
            )
        elif robust_half < z * common_error:
            standard_error, half, interval = common_error, z * common_error, "cluster-robust"
            notes.append(
                "the cluster-robust interval was narrower than the common-effect interval, so "
                "the width of the common-effect interval is given"
            )
        else:
            standard_error, df, half = robust_error, robust_df, robust_half
            interval = "cluster-robust"
            if df < 4:
                notes.append(
                    f"{number(df, decimals=1)} degrees of freedom: with fewer than 4 a "
                    "cluster-robust interval is not to be relied on (Tipton 2015)"
                )
    tau2 = float(fitted.between + fitted.within)
    low, high = estimate - half, estimate + half
    further = prediction_interval(
        np.array([estimate]),
        model_standard_error=model_error,
        tau2=tau2,
        count=np.array([studies]),
        level=level,
        low=low,
        high=high,
    )
    weights = np.zeros(effect.size)
    weights[order] = shares
    return NestedPoolResult(
        estimate=estimate,
        standard_error=standard_error,
        df=df,
        level=level,
        low=low,
        high=high,
        prediction_low=float(further.low[0]),
        prediction_high=float(further.high[0]),
        variance_between_studies=fitted.between,
        variance_within_studies=fitted.within,
        tau2=tau2,
        tau2_low=float("nan"),
        tau2_high=float("nan"),
        i2=max(0.0, q - (k - 1)) / max(q, k - 1, 1),
        q=q,
        q_df=k - 1,
        q_p=float(chdtrc(k - 1, q)) if k > 1 else float("nan"),
        k=k,
        studies=studies,
        weights=weights,
        between=method,
        interval=interval,
        log_likelihood=fitted.log_likelihood,
        notes=tuple(notes),
    )


def studies_in_order(study, present: np.ndarray) -> list[np.ndarray]:
    """Places of the effects present, study by study, in order of first appearance."""
    labels = list(study)
    if len(labels) != present.size:
        raise DesignError(
            f"study must have one label per effect; {len(labels)} labels, {present.size} effects"
        )
    rows: dict = {}
    for place in np.flatnonzero(present):
        label = labels[place]
        if label is None or label != label:
            raise DesignError(f"every effect needs a study; study[{int(place)}] is {label!r}")
        rows.setdefault(label, []).append(int(place))
    return [np.array(places) for places in rows.values()]


def _as_matrix_or_variances(covariance, *, size: int) -> np.ndarray:
    values = numbers(covariance, name="covariance", ndim=np.ndim(covariance) or 1)
    if values.shape not in ((size,), (size, size)):
        raise DesignError(
            f"covariance must have shape ({size},) or ({size}, {size}); it has {values.shape}"
        )
    return values


def _blocks_of_covariance(matrix: np.ndarray, places: list[np.ndarray]) -> list[np.ndarray]:
    """Variances (1-d) or covariance (2-d) of each study, refused unless positive definite."""
    if matrix.ndim == 1:
        return [matrix[rows] for rows in places]
    owner = np.full(len(matrix), -1)
    for number_of_study, rows in enumerate(places):
        owner[rows] = number_of_study
    kept = owner >= 0
    across = kept[:, None] & kept & (owner[:, None] != owner) & (matrix != 0)
    if across.any():
        i, j = (int(place) for place in np.argwhere(across)[0])
        raise DesignError(
            "covariance between effects of different studies must be 0; "
            f"covariance[{i}, {j}] = {matrix[i, j]:g}"
        )
    blocks = []
    for rows in places:
        block = checked_covariance(matrix[np.ix_(rows, rows)], size=rows.size)
        error = np.sqrt(np.diag(block))
        if np.linalg.eigvalsh(block / np.outer(error, error))[0] < 1e-10:
            raise DesignError(
                "covariance must be invertible within each study; effects "
                f"{rows.tolist()} repeat each other exactly"
            )
        blocks.append(block)
    return blocks


def _turned(y: np.ndarray, blocks_v: list[np.ndarray], start: np.ndarray) -> Blocks:
    turned, ones, v = y.copy(), np.ones(y.size), np.empty(y.size)
    for begin, block in zip(start, blocks_v, strict=True):
        piece = slice(begin, begin + len(block))
        if block.ndim == 1:
            v[piece] = block
            continue
        v[piece], vectors = np.linalg.eigh(block)
        turned[piece], ones[piece] = vectors.T @ y[piece], vectors.sum(axis=0)
    return Blocks(turned, ones, v, start)


def _notes(present: np.ndarray, *, k: int, studies: int, robust: bool) -> list[str]:
    notes = []
    absent = np.flatnonzero(~present)
    if absent.size:
        places = ", ".join(str(int(place)) for place in absent)
        notes.append(
            f"{count(absent.size, 'effect')} of {present.size} absent and left out (index {places})"
        )
    if studies == 1:
        notes.append(
            "one study: no variance between studies can be estimated"
            + ("; the model's normal interval is given" if robust else "")
        )
    elif k == studies:
        notes.append(
            "every study has one effect: variance within studies cannot be told from variance "
            "between them and is taken as zero"
        )
    if studies == 2:
        notes.append("two studies: no prediction interval can be formed")
    return notes
