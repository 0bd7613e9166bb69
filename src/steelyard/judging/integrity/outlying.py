"""Effects far from those of their peers in an effect table."""

from __future__ import annotations

import numpy as np
from pandas import DataFrame

from steelyard.judging.integrity import thresholds as limits
from steelyard.judging.integrity.finding import OUTLYING, IntegrityFinding, found
from steelyard.judging.integrity.rounded import told

_NORMAL_MAD = 0.6745  # MAD of a standard normal distribution, Φ⁻¹(3/4)


def robust_z(effect, variance, *, of=None):
    """Distance of each effect from the others' median, in robust SDs.

    z_i = (y_i − median of the others) / √(v_i + s²), with s = MAD of the others / 0.6745 less
    what sampling explains, s² = max(0, (MAD/0.6745)² − median of the others' v). An effect is
    not its own yardstick, so one wild value cannot hide itself.

    Parameters
    ----------
    effect, variance : array_like of float, shape (k,)
        k ≥ 3; variances > 0.
    of : array_like of int, shape (j,), optional
        Places of the effects that are asked of; all of them where none are named.

    Returns
    -------
    z : ndarray of float, shape (k,) or (j,)
        Unitless.
    """
    y, v = np.asarray(effect, float), np.asarray(variance, float)
    places = np.arange(len(y)) if of is None else np.asarray(of, int)
    z = np.empty(len(places))
    for n, i in enumerate(places):
        others, spread = np.delete(y, i), np.delete(v, i)
        centre = np.median(others)
        seen = (np.median(np.abs(others - centre)) / _NORMAL_MAD) ** 2
        z[n] = (y[i] - centre) / np.sqrt(v[i] + max(0.0, seen - np.median(spread)))
    return z


def outlying_effects(rows: DataFrame, *, of: str = "") -> list[IntegrityFinding]:
    """Effects that stand far from the rest of an effect table.

    Parameters
    ----------
    rows : DataFrame
        An effect table of one question: at least ``study, outcome, metric, effect, variance``.
    of : str, optional
        Id of the one study that is asked of; empty for all.

    Returns
    -------
    list of IntegrityFinding
        A suspect warning per effect with |z| above 3.5; empty for fewer than 5 usable effects
        of a metric.
    """
    needed = ("study", "outcome", "effect", "variance")
    if rows.empty or any(name not in rows.columns for name in needed):
        return []
    usable = rows[np.isfinite(rows["effect"]) & np.isfinite(rows["variance"])]
    usable = usable[usable["variance"] > 0]
    groups = usable.groupby("metric") if "metric" in usable.columns else [("", usable)]
    findings = []
    for _, group in groups:
        if len(group) < limits.OUTLIER_ROWS:
            continue
        asked = np.flatnonzero((group["study"] == of) | (of == ""))
        distances = robust_z(group["effect"], group["variance"], of=asked)
        middle = float(np.median(group["effect"]))
        for (_, row), z in zip(group.iloc[asked].iterrows(), distances, strict=True):
            if abs(z) > limits.OUTLIER_Z:
                findings.append(_far_off(row, float(z), middle))
    return findings


def _far_off(row, z: float, middle: float) -> IntegrityFinding:
    effect, se = float(row["effect"]), float(np.sqrt(row["variance"]))
    named = f"{row['comparison']}, " if row.get("comparison") else ""
    message = (
        f"the effect {told(effect)} ({named}{row['outcome']}) lies {told(abs(z))} robust SDs from "
        f"its peers, whose median is {told(middle)}: check its SDs, signs and units first; if "
        "they are right, see the answer with and without it"
    )
    return found(
        str(row["study"]),
        "",
        OUTLYING,
        message,
        severity="warning",
        outcome=str(row["outcome"]),
        arithmetic=f"effect {told(effect)}, SE {told(se)}, robust z = {told(z)}",
        suspect=True,
    )
