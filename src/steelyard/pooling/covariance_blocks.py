"""Sampling covariance that is zero between studies, held study by study."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from steelyard.errors import DesignError
from steelyard.pooling.checking import numbers
from steelyard.pooling.study_layout import StudyLayout

# Below this, with variances of 1, some effects of a study repeat others or follow from them.
SINGULAR = 1e-10


@dataclass(frozen=True, slots=True, eq=False)
class CovarianceBlocks:
    """A k × k covariance as the blocks along its diagonal; memory grows with their sizes alone.

    Attributes
    ----------
    places : tuple of ndarray of int, shape (blocks of m effects, m)
        Which effects each block is of, one array per size; together every effect once.
    blocks : tuple of ndarray of float, shape (blocks of m effects, m, m)
        Covariance of these effects, in the order of `places`.
    """

    places: tuple[np.ndarray, ...]
    blocks: tuple[np.ndarray, ...]

    @property
    def size(self) -> int:
        """Effects, k."""
        return sum(rows.size for rows in self.places)

    def variances(self) -> np.ndarray:
        """The diagonal, shape (k,)."""
        found = np.empty(self.size)
        for rows, blocks in zip(self.places, self.blocks, strict=True):
            found[rows] = np.diagonal(blocks, axis1=1, axis2=2)
        return found


def covariance_blocks(places, blocks) -> CovarianceBlocks:
    """Put blocks of equal size beside each other; check shapes, and which effects they are of.

    Parameters
    ----------
    places : sequence of array_like of int, shape (m,)
        Which effects each block is of.
    blocks : sequence of array_like of float, shape (m, m)
        Their sampling covariance. Whether it can be one is looked at where it is used.

    Raises
    ------
    DesignError
        If a shape is wrong, or effects are not each in one block.
    """
    places = [np.atleast_1d(np.asarray(rows, dtype=int)) for rows in places]
    blocks = [numbers(block, name="block", ndim=2) for block in blocks]
    if len(places) != len(blocks):
        raise DesignError(
            f"each block needs its places; {len(blocks)} blocks, {len(places)} lists of places"
        )
    for rows, block in zip(places, blocks, strict=True):
        if block.shape != (rows.size, rows.size):
            raise DesignError(
                f"a block of {rows.size} effects must have shape ({rows.size}, {rows.size}); "
                f"it has {block.shape}"
            )
    every = np.sort(np.concatenate(places)) if places else np.empty(0, dtype=int)
    if not np.array_equal(every, np.arange(every.size)):
        raise DesignError("every effect must be in one block, and in one only")
    by_size: dict[int, list[int]] = {}
    for number_of_block, rows in enumerate(places):
        by_size.setdefault(rows.size, []).append(number_of_block)
    alike = list(by_size.values())
    return CovarianceBlocks(
        tuple(np.stack([places[each] for each in same]) for same in alike),
        tuple(np.stack([blocks[each] for each in same]) for same in alike),
    )


def as_covariance(covariance, *, size: int) -> np.ndarray | CovarianceBlocks:
    """Accept variances (k,), a covariance (k, k), or its blocks, for `size` effects."""
    if isinstance(covariance, CovarianceBlocks):
        if covariance.size != size:
            raise DesignError(f"covariance has {covariance.size} effects; {size} are given")
        return covariance
    values = numbers(covariance, name="covariance", ndim=np.ndim(covariance) or 1)
    if values.shape not in ((size,), (size, size)):
        raise DesignError(
            f"covariance must have shape ({size},) or ({size}, {size}); it has {values.shape}"
        )
    return values


def variances_of(covariance: np.ndarray | CovarianceBlocks) -> np.ndarray:
    """The variances, shape (k,), of what `as_covariance` gives."""
    if isinstance(covariance, CovarianceBlocks):
        return covariance.variances()
    return covariance if covariance.ndim == 1 else np.diag(covariance)


def stacked_covariance(
    covariance: np.ndarray | CovarianceBlocks, layout: StudyLayout
) -> tuple[np.ndarray, ...]:
    """Covariance of each study, a stack (studies of m effects, m, m) per stack of the layout.

    Raises
    ------
    DesignError
        If effects of different studies covary, or a study's covariance is not finite,
        symmetric and positive definite.
    """
    if isinstance(covariance, CovarianceBlocks):
        found = _cut(covariance, layout)
    elif covariance.ndim == 1:
        found = []
        for stack in layout.stacks:
            block = np.zeros((*stack.shape, stack.shape[1]))
            each = np.arange(stack.shape[1])
            block[:, each, each] = covariance[layout.order[stack]]
            found.append(block)
        return tuple(found)
    else:
        _refuse_across(covariance, layout)
        found = []
        for stack in layout.stacks:
            rows = layout.order[stack]
            found.append(covariance[rows[:, :, None], rows[:, None, :]])
    return tuple(
        checked_stack(blocks, layout.order[stack])
        for blocks, stack in zip(found, layout.stacks, strict=True)
    )


def checked_stack(blocks: np.ndarray, rows: np.ndarray) -> np.ndarray:
    """Refuse blocks (S, m, m) that cannot be inverted as covariances; `rows` (S, m) name them.

    Returns
    -------
    ndarray, shape (S, m, m)
        The same, exactly symmetric.
    """
    if not np.isfinite(blocks).all():
        raise DesignError("covariance must be finite throughout")
    error = np.sqrt(np.diagonal(blocks, axis1=1, axis2=2))
    correlation = blocks / (error[:, :, None] * error[:, None, :])
    if not np.allclose(correlation, correlation.transpose(0, 2, 1), rtol=0, atol=1e-8):
        raise DesignError("covariance must be symmetric")
    lowest = np.linalg.eigvalsh((correlation + correlation.transpose(0, 2, 1)) / 2)[:, 0]
    if (lowest < -1e-8).any():
        raise DesignError(
            "covariance must be positive semidefinite; its correlations have the eigenvalue "
            f"{lowest.min():.3g}"
        )
    if (lowest < SINGULAR).any():
        place = int(lowest.argmin())
        raise DesignError(
            "covariance must be invertible within each study; among the effects "
            f"{rows[place].tolist()} some repeat others or follow from them, so that less than "
            "all of them are to be given, or one in place of several"
        )
    return (blocks + blocks.transpose(0, 2, 1)) / 2


def _owners(size: int, layout: StudyLayout) -> np.ndarray:
    """The study, by its number, of each of `size` effects; -1 where absent."""
    owner = np.full(size, -1)
    owner[layout.order] = np.repeat(
        np.arange(layout.start.size), np.diff(np.append(layout.start, layout.order.size))
    )
    return owner


def _refuse_between_studies(first: int, second: int, value: float) -> None:
    raise DesignError(
        "covariance between effects of different studies must be 0; "
        f"covariance[{first}, {second}] = {value:g}"
    )


def _refuse_across(matrix: np.ndarray, layout: StudyLayout) -> None:
    owner = _owners(len(matrix), layout)
    for row in np.sort(layout.order).tolist():
        across = (matrix[row] != 0) & (owner >= 0) & (owner != owner[row])
        if across.any():
            column = int(np.flatnonzero(across)[0])
            _refuse_between_studies(row, column, matrix[row, column])


def _cut(covariance: CovarianceBlocks, layout: StudyLayout) -> list[np.ndarray]:
    """Blocks in the order of the layout, less effects that are absent."""
    owner = _owners(covariance.size, layout)
    found = [np.zeros((*stack.shape, stack.shape[1])) for stack in layout.stacks]
    stack_of = np.full(covariance.size, -1)
    row_of, inside = np.zeros_like(stack_of), np.zeros_like(stack_of)
    for number_of_stack, stack in enumerate(layout.stacks):
        rows = layout.order[stack]
        stack_of[rows] = number_of_stack
        row_of[rows] = np.arange(len(stack))[:, None]
        inside[rows] = np.arange(stack.shape[1])
    for rows, blocks in zip(covariance.places, covariance.blocks, strict=True):
        owners = owner[rows]
        plain = (owners == owners[:, :1]).all(axis=1) & (owners[:, 0] >= 0)
        target = np.where(plain, stack_of[rows[:, 0]], -1)
        for number_of_stack, values in enumerate(found):
            taken = target == number_of_stack
            at = rows[taken]
            values[row_of[at][:, :, None], inside[at][:, :, None], inside[at][:, None, :]] = blocks[
                taken
            ]
        for place in np.flatnonzero(~plain).tolist():
            _cut_across(rows[place], blocks[place], owners[place], found, stack_of, row_of, inside)
    return found


def _cut_across(rows, block, owners, found, stack_of, row_of, inside) -> None:
    """Hand out a block that has absent effects or effects of several studies."""
    across = (owners[:, None] != owners) & (owners >= 0) & (owners >= 0)[:, None] & (block != 0)
    if across.any():
        i, j = (int(place) for place in np.argwhere(across)[0])
        _refuse_between_studies(int(rows[i]), int(rows[j]), block[i, j])
    for study in np.unique(owners[owners >= 0]).tolist():
        kept = np.flatnonzero(owners == study)
        at = rows[kept]
        target = found[stack_of[at[0]]][row_of[at[0]]]
        target[inside[at][:, None], inside[at]] = block[kept[:, None], kept]
