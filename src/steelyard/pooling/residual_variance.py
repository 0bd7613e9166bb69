"""Between-study variance left after moderators, for many regressions at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

SEARCH_FACTOR = 1.5
TOLERANCE = 1e-13
# Effects worked on together: few enough for their arrays to stay in the processor's cache.
EFFECTS_AT_ONCE = 24_000


@dataclass(frozen=True, slots=True, eq=False)
class _Sums:
    q: np.ndarray
    pull: np.ndarray
    trace: np.ndarray
    cubic: np.ndarray
    trace_square: np.ndarray
    weight: np.ndarray
    weight_square: np.ndarray
    height: np.ndarray


@dataclass(frozen=True, slots=True, eq=False)
class _Regressions:
    """Effects less their plain least squares fit, variances and an orthonormal basis."""

    y: np.ndarray
    v: np.ndarray
    basis: np.ndarray

    def sums(self, row: np.ndarray, t: np.ndarray) -> _Sums:
        """The sums of analyses `row`, each at its own variance `t`, in parts."""
        if len(self.y) == row.size == 1:
            return _sums(self.y, self.v, self.basis, t)
        at_once = max(1, EFFECTS_AT_ONCE // self.y.shape[1])
        parts = [
            _sums(self.y[rows], self.v[rows], self.basis[rows], t[begin : begin + at_once])
            for begin in range(0, max(row.size, 1), at_once)
            for rows in (row[begin : begin + at_once],)
        ]
        if len(parts) == 1:
            return parts[0]
        return _Sums(
            *(np.concatenate([getattr(each, n) for each in parts]) for n in _Sums.__slots__)
        )


def residual_between_study_variance(y, v, design, *, between: str) -> float:
    """Between-study variance about one regression line, never below zero.

    Parameters
    ----------
    y, v : ndarray, shape (k,)
        Effects and sampling variances.
    design : ndarray, shape (k, p)
        Of full rank, ``p < k``.
    between : str
        As in `residual_between_study_variances`.

    Returns
    -------
    float
        Squared unit of `y`.
    """
    found = residual_between_study_variances(y[None], v[None], design[None], between=between)
    return float(found[0])


def residual_between_study_variances(y, v, design, *, between: str) -> np.ndarray:
    """Between-study variance about the line of each of many regressions, never below zero.

    Parameters
    ----------
    y, v : ndarray, shape (analyses, k)
        Effects and sampling variances; where an effect is absent, 0 and infinite.
    design : ndarray, shape (analyses, k, p)
        Of full rank, with ``p`` below the number of effects present; 0 where absent.
    between : str
        ``reml``, ``ml``, ``pm``, ``dl`` (method of moments) or ``common``.

    Returns
    -------
    ndarray, shape (analyses,)
        Squared unit of `y`.

    Notes
    -----
    With ``W = diag(1/(v + t))`` and ``P = W - W X (X'WX)⁻¹ X'W``: ``dl`` is
    ``(y'Py - (k - p)) / tr P`` at t = 0; ``pm`` solves ``y'Py = k - p``; ``reml`` and ``ml``
    are the highest maxima of their likelihoods, whose slopes are half of ``y'PPy - tr P``
    and of ``y'PPy - tr W``. Search and bound are those of `between_study_variance`, with
    k - p in place of k - 1.

    References
    ----------
    .. [1] Thompson, S. G., & Sharp, S. J. (1999). Explaining heterogeneity in meta-analysis: a
           comparison of methods. Stat Med 18, 2693-2708.
    """
    if between == "common":
        return np.zeros(len(y))
    unit = v.min(axis=1)
    y, v = y / np.sqrt(unit)[:, None], v / unit[:, None]
    free = np.isfinite(v).sum(axis=1) - design.shape[2]
    basis = np.linalg.qr(design)[0]
    y = y - _fitted(basis, y)
    data = _Regressions(y, v, basis)
    if between == "dl":
        at_zero = data.sums(np.arange(len(y)), np.zeros(len(y)))
        return unit * np.maximum(0.0, (at_zero.q - free) / at_zero.trace)
    if between == "pm":
        return unit * _where_q_equals(data, free)
    return unit * _highest(data, free, restricted=between == "reml")


def variances_where_q_equals(y, v, design, targets) -> np.ndarray:
    """Variance between studies at which Q about one regression line takes given values.

    Parameters
    ----------
    y, v : ndarray, shape (k,)
    design : ndarray, shape (k, p)
        Of full rank, ``p < k``.
    targets : ndarray, shape (n,)
        Each above 0.

    Returns
    -------
    ndarray, shape (n,)
        Squared unit of `y`; 0 where Q at 0 is not above the target.
    """
    unit, n = v.min(), len(targets)
    basis = np.linalg.qr(design)[0][None]
    y = (y / np.sqrt(unit))[None]
    y = y - _fitted(basis, y)
    data = _Regressions(
        np.repeat(y, n, axis=0),
        np.repeat(v[None] / unit, n, axis=0),
        np.repeat(basis, n, axis=0),
    )
    return unit * _where_q_equals(data, np.asarray(targets, dtype=float))


def _fitted(basis: np.ndarray, values: np.ndarray) -> np.ndarray:
    """Projection of values (A, k) on the columns of an orthonormal basis (A, k, p)."""
    return (basis @ (basis.swapaxes(1, 2) @ values[..., None]))[..., 0]


def _where_q_equals(data: _Regressions, target: np.ndarray) -> np.ndarray:
    # Newton on 1/Q, which is concave and rising in t: it climbs and never overshoots.
    t = np.zeros(target.shape)
    going = np.arange(t.size)
    for _ in range(500):
        sums = data.sums(going, t[going])
        above = sums.q > target[going]
        step = np.where(above, sums.q * (sums.q / target[going] - 1), 0.0)
        step = step / np.where(above, sums.pull, 1.0)
        t[going] += step
        going = going[above & (step > TOLERANCE * (1 + t[going]))]
        if not going.size:
            break
    return t


def _highest(data: _Regressions, free: np.ndarray, *, restricted: bool) -> np.ndarray:
    s = (data.y**2).sum(axis=1) / free
    largest = np.where(np.isfinite(data.v), data.v, 1.0).max(axis=1)
    bound = np.maximum((s + np.sqrt(s * s + 4 * s * (largest - 1))) / 2, 1.0)
    steps = np.ceil(np.log(bound) / np.log(SEARCH_FACTOR)).astype(int)
    factors = SEARCH_FACTOR ** np.arange(steps.max(initial=0) + 1.0)
    row, place = np.nonzero(np.arange(factors.size) <= steps[:, None])
    last = place == steps[row]
    points = np.where(last, bound[row], factors[place]) - 1
    # Beyond the bound the likelihood falls, whatever rounding says of it there.
    rising = np.zeros(row.size, dtype=bool)
    inner = np.flatnonzero(~last)
    rising[inner] = _slope(data.sums(row[inner], points[inner]), restricted) > 0
    falls = np.flatnonzero(rising[:-1] & ~rising[1:] & (row[:-1] == row[1:]))
    maximum = _refine(data, row[falls], points[falls], points[falls + 1], restricted=restricted)
    from_zero = np.flatnonzero((place == 0) & ~rising)
    owner = np.append(row[from_zero], row[falls])
    candidates = np.append(np.zeros(from_zero.size), maximum)

    sums = data.sums(owner, candidates)
    total = data.v[owner] + candidates[:, None]
    height = -np.log(np.where(np.isfinite(total), total, 1.0)).sum(axis=1) - sums.q
    if restricted:
        height += sums.height
    # The highest candidate of each analysis comes last, the earliest of equals at that.
    order = np.lexsort((-np.arange(owner.size), height, owner))
    best = order[np.flatnonzero(np.append(np.diff(owner[order]) > 0, True))]
    return candidates[best]


def _refine(data: _Regressions, row, low, high, *, restricted: bool) -> np.ndarray:
    """Newton's steps inside a bracket that they may not leave, halving it otherwise."""
    found = (low + high) / 2
    t, which = found.copy(), np.arange(found.size)
    for step_number in range(1, 200):
        if not which.size:
            break
        sums = data.sums(row[which], t)
        slope = _slope(sums, restricted)
        low, high = np.where(slope > 0, t, low), np.where(slope > 0, high, t)
        expected = sums.trace if restricted else sums.weight
        squares = sums.trace_square if restricted else sums.weight_square
        bend = 2 * expected * sums.cubic - sums.pull * squares
        usable = bend > 0
        new = t + sums.pull * slope / np.where(usable, bend, 1.0)
        close = usable & (np.abs(new - t) <= TOLERANCE * (1 + t))
        done = close | (high - low <= TOLERANCE * (1 + t))
        found[which[done]] = np.clip(np.where(usable, new, high), low, high)[done]
        inside = usable & (low < new) & (new < high)
        if step_number > 12 and step_number % 2:
            inside[:] = False
        t = np.where(inside, new, (low + high) / 2)
        which, low, high, t = which[~done], low[~done], high[~done], t[~done]
    found[which] = t
    return found


def _slope(sums: _Sums, restricted: bool) -> np.ndarray:
    return sums.pull - (sums.trace if restricted else sums.weight)


def _sums(y, v, basis, t) -> _Sums:
    # Sums of products without arrays of the products: with many effects memory is the cost.
    w = 1 / (v + t[:, None])
    root = np.sqrt(w)
    q_matrix, r_matrix = np.linalg.qr(root[..., None] * basis)

    def press(values):
        scaled = root * values
        return root * (scaled - _fitted(q_matrix, scaled))

    pressed = press(y)
    leverage = np.einsum("akp,akp->ak", q_matrix, q_matrix)
    core = np.einsum("akp,ak,akq->apq", q_matrix, w, q_matrix)
    diagonal = np.abs(np.diagonal(r_matrix, axis1=1, axis2=2))
    weight_square = np.einsum("ak,ak->a", w, w)
    return _Sums(
        q=np.einsum("ak,ak->a", pressed, y),
        pull=np.einsum("ak,ak->a", pressed, pressed),
        trace=np.einsum("ak,ak->a", w, 1 - leverage),
        cubic=np.einsum("ak,ak->a", pressed, press(pressed)),
        trace_square=weight_square
        - 2 * np.einsum("ak,ak,ak->a", w, w, leverage)
        + (core**2).sum(axis=(1, 2)),
        weight=w.sum(axis=1),
        weight_square=weight_square,
        height=-2 * np.log(diagonal).sum(axis=1),
    )
