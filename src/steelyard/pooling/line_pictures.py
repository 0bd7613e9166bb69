"""What the pictures of second rank show, in the units a person reads."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from steelyard.pooling.picture_parts import EffectAxis, Worded


@dataclass(frozen=True, slots=True, kw_only=True)
class BendingData(Worded):
    """How far each study lies from the others, and how far it moves the answer.

    Attributes
    ----------
    studies : DataFrame
        ``study, label, distance`` (in standard deviations, signed), ``move`` (in standard errors
        of the answer, 0 or more), ``weight`` (percent).
    far : float
        Distance beyond which a study is far.
    below, above : str
        What it means to lie below and above the others.
    """

    studies: pd.DataFrame
    far: float
    below: str
    above: str


@dataclass(frozen=True, slots=True, kw_only=True)
class GatheringData(Worded):
    """The answer after each further study, in one order or several.

    Attributes
    ----------
    steps : DataFrame
        ``order`` (in words), ``studies`` (so far), ``label``, ``estimate, low, high``.
    level : float
        Of the intervals.
    """

    axis: EffectAxis
    steps: pd.DataFrame
    level: float = 0.95


@dataclass(frozen=True, slots=True, kw_only=True)
class PriorsData(Worded):
    """A chance under many priors.

    Attributes
    ----------
    curves : DataFrame
        ``words`` (what was believed of the effect), ``spread`` (expected between studies, as a
        multiple of what is worth having), ``chance`` (percent).
    spread_title, chance_title : str
    """

    curves: pd.DataFrame
    spread_title: str
    chance_title: str
