"""Several groups into one, and one control group shared out over several comparisons."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

from steelyard.errors import DesignError
from steelyard.reporting.number import Number, printed
from steelyard.reporting.refusals import above, at_least, finite


@dataclass(frozen=True, slots=True)
class Combined:
    """Size, mean and SD of the people of several groups taken as one group."""

    n: Number
    mean: Number
    sd: Number


def combine_groups(groups: Sequence[tuple[float, float, float]]) -> Combined:
    """Groups as one, exactly as if the SD had been computed from all people together.

    N = Σn, M = Σn·m/N, SD² = [Σ(n − 1)s² + Σn(m − M)²]/(N − 1); for two groups this is the
    formula of the Handbook [1]_, which applied in turn gives the same for more.

    Parameters
    ----------
    groups : sequence of (n, mean, sd)
        At least two; n ≥ 2 and SD > 0 in each; raw units.

    Returns
    -------
    Combined
        Derived; raw units.

    Raises
    ------
    DesignError
        If there are fewer than two groups or a number breaks its rule.

    References
    ----------
    .. [1] Cochrane Handbook for Systematic Reviews of Interventions, 6.5.2.10, Table 6.5.a.
    """
    if len(groups) < 2:
        raise DesignError(f"there must be at least two groups to combine; got {len(groups)}")
    sizes, means, sds = (
        [float(value) for value in column]
        for column in (
            [at_least(n, 2, f"n of group {i}") for i, (n, _, _) in enumerate(groups, 1)],
            [finite(mean, f"mean of group {i}") for i, (_, mean, _) in enumerate(groups, 1)],
            [above(sd, 0, f"SD of group {i}") for i, (_, _, sd) in enumerate(groups, 1)],
        )
    )
    people = sum(sizes)
    mean = sum(n * m for n, m in zip(sizes, means, strict=True)) / people
    squares = sum(
        (n - 1) * sd**2 + n * (m - mean) ** 2 for n, m, sd in zip(sizes, means, sds, strict=True)
    )
    sd = sqrt(squares / (people - 1))
    listed = "; ".join(
        f"n {printed(n)}, mean {printed(m)}, SD {printed(s)}"
        for n, m, s in zip(sizes, means, sds, strict=True)
    )

    def derived(value, name):
        return Number(value, "derived", (f"combined ({listed}) → {name} {printed(value)}",))

    return Combined(derived(people, "n"), derived(mean, "mean"), derived(sd, "SD"))


def split_control(n, *, comparisons) -> Number:
    """People of a shared control that count for each of several comparisons: n/comparisons [1]_.

    Mean and SD stay as they are. With equal SDs and equally many people in the other arms, the
    comparisons pooled as if independent then have the variance of those arms taken as one against
    the whole control, which is what the split should give. A stopgap: it removes the double
    counting but leaves the comparisons correlated; a covariance between them is better where it
    can be carried.

    Parameters
    ----------
    n : float
        People in the control group.
    comparisons : int
        How many comparisons share it, ≥ 2; at least two people must be left for each.

    Returns
    -------
    Number
        Derived; people, not rounded.

    Raises
    ------
    DesignError
        If there are fewer than two comparisons, or fewer than two people for each.

    References
    ----------
    .. [1] Cochrane Handbook for Systematic Reviews of Interventions, 23.3.4.
    """
    comparisons = float(at_least(comparisons, 2, "number of comparisons"))
    n = float(at_least(n, 2, "n of the control group"))
    share = float(at_least(n / comparisons, 2, "n of the control group for each comparison"))
    step = (
        f"control n {printed(n)} / {printed(comparisons)} comparisons = {printed(share)} for each"
    )
    return Number(share, "derived", (step, "mean and SD of the control kept"))
