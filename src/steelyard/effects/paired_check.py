"""What the variance of a paired design should be, held against simulation.

The handbook form for two conditions in the same people shrinks the part that comes from
estimating the SD by 2(1 − r); see `paired`. Here it stands beside the form used and beside what
many made-up trials show, so that nobody need take the choice on trust.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from steelyard.effects.groups import Group
from steelyard.effects.paired import standardised_paired_difference
from steelyard.show import Table, number

TRIALS, SEED = 20_000, 12
CASES = ((12, 0.9, 1.0), (12, 0.6, 0.5), (24, 0.9, 1.0), (24, 0.6, 0.5))
COLUMNS = ("people", "r", "effect", "SE seen in simulation", "SE used here", "SE in common use")
NOTE = (
    f"{TRIALS:,} made-up trials a row, normal scores, each true effect in SDs between people. Used "
    "here: the moments of a non-central t on 2(n − 1)/(1 + r²) degrees of freedom. In common "
    "use: √((1/n + d²/(2n))·2(1 − r)), which shrinks the error of the SD by how well the two "
    "conditions agree, though that has nothing to do with it."
)


@dataclass(frozen=True, slots=True)
class PairedCase:
    """Standard errors of one paired design.

    Attributes
    ----------
    people : int
    r : float
        Between the two conditions.
    effect : float
        True difference, in SDs between people.
    simulated, used, common : float
        SD of the effect over the trials; and the root of the mean variance that each formula gives
        them.
    """

    people: int
    r: float
    effect: float
    simulated: float
    used: float
    common: float


@lru_cache(maxsize=1)
def paired_check() -> tuple[PairedCase, ...]:
    """The shipped cases, simulated from a fixed seed."""
    return tuple(_case(*case, np.random.default_rng(SEED)) for case in CASES)


def _case(people: int, r: float, effect: float, rng: np.random.Generator) -> PairedCase:
    shared = np.sqrt((1 + r) / 2) * rng.standard_normal((TRIALS, people))
    own = np.sqrt((1 - r) / 2) * rng.standard_normal((TRIALS, people))
    first, second = shared + own + effect, shared - own
    groups = [Group(people, x.mean(axis=1), x.std(axis=1, ddof=1)) for x in (first, second)]
    used, common = (
        standardised_paired_difference(*groups, r=r, variance=form)
        for form in ("moments", "handbook")
    )
    errors = (float(np.sqrt(each.variance.mean())) for each in (used, common))
    return PairedCase(people, r, effect, float(used.effect.std(ddof=1)), *errors)


def paired_table() -> Table:
    """The cases as a table, each formula with its distance from what was simulated."""
    rows = tuple(
        (
            str(case.people),
            f"{case.r:g}",
            f"{case.effect:g} SD",
            number(case.simulated, decimals=3),
            _beside(case.used, case.simulated),
            _beside(case.common, case.simulated),
        )
        for case in paired_check()
    )
    return Table(
        "The same people under both: which standard error is right", COLUMNS, rows, (NOTE,)
    )


def _beside(value: float, seen: float) -> str:
    off = number(100 * (value / seen - 1), decimals=0, sign=True)
    return f"{number(value, decimals=3)} ({off} %)"
