"""Effects of one study that hold the same information, counted once.

Two kinds are told from the table itself:

- **One arm against several comparators.** Two intervention and two comparator arms give four
  contrasts, of which any three fix the fourth: their covariance cannot be inverted, or only just,
  and what then decides is rounding. So the contrasts of one intervention arm, on one outcome at
  one week, become one: their mean, each comparator by its people. With known variances in
  proportion to 1/n that is the comparison with all comparators as one group [1]_, from which the
  best estimate of a common difference does not differ. Each intervention arm then has one
  contrast, and these span as many dimensions as there are arms.
- **Numbers that repeat.** A second row of the same two arms with the very same effect and
  variance, from means and spreads, is the first one again under another name.

Whether effects nearly follow from each other for another reason (a correlation between outcomes
close to 1) is told from their covariance; their mean then stands for them.

References
----------
.. [1] Cochrane Handbook for Systematic Reviews of Interventions, 23.3.4 (several groups of one
       study combined). From memory.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from steelyard.pooling.covariance_blocks import CovarianceBlocks
from steelyard.show import count

# Own rule: with correlations of this least eigenvalue, a difference between two effects gets a
# hundred times the weight that independent effects would give it.
NEARLY_DEPENDENT = 0.01
# Contrasts formed from means and spreads; counts and printed correlations coincide by chance.
_FROM_SCORES = ("change", "post", "adjusted")


@dataclass(frozen=True, slots=True, eq=False)
class Parts:
    """Rows that make up effects, one or several each.

    Attributes
    ----------
    group : ndarray of int, shape (k,)
        Number of the effect that a row is part of, from 0, in order of first appearance.
    share : ndarray of float, shape (k,)
        Its share in that effect; adding up to 1 in each.
    """

    group: np.ndarray
    share: np.ndarray

    @property
    def size(self) -> int:
        """Effects made up."""
        return int(self.group.max(initial=-1)) + 1

    @property
    def joined(self) -> np.ndarray:
        """Whether a row shares its effect with another, shape (k,)."""
        return np.bincount(self.group, minlength=self.size)[self.group] > 1

    def effects(self, values) -> np.ndarray:
        """The effects, shape (size,), from values of shape (k,)."""
        return np.bincount(self.group, weights=self.share * values, minlength=self.size)

    def first(self) -> np.ndarray:
        """Position of the first row of each effect."""
        return np.unique(self.group, return_index=True)[1]

    def matrix(self) -> np.ndarray:
        """What turns rows into effects, shape (size, k)."""
        found = np.zeros((self.size, self.group.size))
        found[self.group, np.arange(self.group.size)] = self.share
        return found

    def weights(self, weights: np.ndarray) -> np.ndarray:
        """Weights of rows, shape (k,), from those of effects."""
        return weights[self.group] * self.share

    def then(self, further: Parts) -> Parts:
        """Rows as parts of what the effects are parts of."""
        return Parts(further.group[self.group], self.share * further.share[self.group])

    def covariance(self, blocks: CovarianceBlocks) -> CovarianceBlocks:
        """Covariance of the effects from that of the rows; every effect from inside one block."""
        places, found = [], []
        for rows, stack in zip(blocks.places, blocks.blocks, strict=True):
            groups = self.group[rows]
            whole = (np.diff(np.sort(groups, axis=1), axis=1) > 0).all(axis=1)
            if whole.any():
                places.append(groups[whole])
                found.append(stack[whole])
            for place in np.flatnonzero(~whole).tolist():
                numbers, inside = np.unique(groups[place], return_inverse=True)
                matrix = Parts(inside, self.share[rows[place]]).matrix()
                places.append(numbers[None])
                found.append((matrix @ stack[place] @ matrix.T)[None])
        return CovarianceBlocks(tuple(places), tuple(found))


def repeated(rows: pd.DataFrame) -> np.ndarray:
    """Which rows of an effect table give numbers that an earlier row of their study gives.

    Returns
    -------
    ndarray of bool, shape (k,)
    """
    return ~first_of(number_codes(rows))


def comparators_as_one(rows: pd.DataFrame) -> Parts:
    """The contrasts of each intervention arm, on one outcome at one week, as one effect.

    Parameters
    ----------
    rows : DataFrame
        Of an effect table.

    Returns
    -------
    Parts
        In proportion to the people in the comparators; equal where one number is not known.
    """
    return parts_by_people(contrast_codes(rows), rows["n_comparator"].to_numpy(float))


def number_codes(rows: pd.DataFrame) -> np.ndarray:
    """One code for all rows of a study that give the same numbers of the same arms, shape (k,)."""
    same = _codes(rows, ("study", "intervention", "comparator", "effect", "variance"))
    scores = rows["contrast"].isin(_FROM_SCORES).to_numpy()
    return np.where(scores, same, same.max(initial=0) + 1 + np.arange(len(rows)))


def contrast_codes(rows: pd.DataFrame) -> np.ndarray:
    """One code for all rows of one intervention arm, outcome and week of a study, shape (k,)."""
    return _codes(rows, ("study", "intervention", "outcome", "week"))


def first_of(codes: np.ndarray) -> np.ndarray:
    """Which entries are the first with their code, shape (k,)."""
    found = np.zeros(codes.size, dtype=bool)
    found[np.unique(codes, return_index=True)[1]] = True
    return found


def parts_by_people(codes: np.ndarray, people: np.ndarray) -> Parts:
    """Rows of one code as one effect, by people; equally where one number of people is NaN."""
    group = pd.factorize(codes)[0]
    if group.max(initial=-1) + 1 == group.size:
        return Parts(group, np.ones(group.size))
    unknown = np.bincount(group, weights=np.isnan(people))[group] > 0
    people = np.where(unknown, 1.0, people)
    return Parts(group, people / np.bincount(group, weights=people)[group])


def _codes(rows: pd.DataFrame, names: tuple[str, ...]) -> np.ndarray:
    codes = np.zeros(len(rows), dtype=np.int64)
    for name in names:
        own = pd.factorize(rows[name])[0]
        codes = pd.factorize(codes * (own.max(initial=0) + 2) + own)[0]
    return codes


def where_dependent(blocks: CovarianceBlocks) -> Parts:
    """Each effect by itself, but the mean of a study's where they nearly follow from each other."""
    group = np.arange(blocks.size)
    share = np.ones(blocks.size)
    for rows, stack in zip(blocks.places, blocks.blocks, strict=True):
        for place in np.flatnonzero(nearly_dependent(stack)).tolist():
            group[rows[place]] = rows[place].min()
            share[rows[place]] = 1 / rows.shape[1]
    return Parts(pd.factorize(group)[0], share)


def nearly_dependent(blocks: np.ndarray) -> np.ndarray:
    """Whether the effects of each block, shape (S, m, m), nearly follow from each other; (S,)."""
    if blocks.shape[-1] == 1:
        return np.zeros(len(blocks), dtype=bool)
    error = np.sqrt(np.diagonal(blocks, axis1=-2, axis2=-1))
    correlation = blocks / (error[..., :, None] * error[..., None, :])
    return np.linalg.eigvalsh(correlation)[..., 0] < NEARLY_DEPENDENT


def effects_counted(rows: pd.DataFrame) -> pd.Series:
    """How many effects each study gives once what holds the same is counted once."""
    once = rows[~repeated(rows)]
    firsts = once.iloc[comparators_as_one(once).first()]
    return firsts.groupby("study", sort=False).size()


def told_once(rows: pd.DataFrame) -> tuple[str, ...]:
    """What is counted once, in words, for the list of what a pool assumes."""
    again = repeated(rows)
    once = rows[~again]
    found = []
    if again.any():
        found.append(
            "rows that give an earlier row's numbers to the last digit are taken for the same "
            f"measurement and counted once: {_named(rows, again)}"
        )
    parts = comparators_as_one(once)
    if parts.size < len(once):
        joined = parts.joined
        left = np.unique(parts.group[joined]).size
        found.append(
            "several comparator arms of one study taken as one, each by its people: "
            f"{_named(once, joined)}, as {left}"
        )
    return tuple(found)


def _named(rows: pd.DataFrame, marked: np.ndarray) -> str:
    names = ", ".join(dict.fromkeys(rows.loc[marked, "study"]))
    return f"{names} ({count(int(marked.sum()), 'effect')})"
