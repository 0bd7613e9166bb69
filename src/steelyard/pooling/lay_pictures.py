"""What pictures for lay readers show, in units they know."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from steelyard.pooling.picture_parts import Worded


@dataclass(frozen=True, slots=True, kw_only=True)
class HundredData(Worded):
    """What would happen to a hundred people.

    Attributes
    ----------
    better, same, worse : int
        People; together 100.
    better_words, same_words, worse_words : str
        What each means for a person.
    of_100_words : str
        How a count and what it means are put together.
    pairs : bool
        Whether each of the hundred is a pair of people, the first of them with the change.
    """

    better: int
    same: int
    worse: int
    better_words: str
    same_words: str
    worse_words: str
    of_100_words: str = "{count} of 100 {words}"
    pairs: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class HillsData(Worded):
    """Two overlapping groups of people, and where one client stands.

    Attributes
    ----------
    curves : DataFrame
        ``value, usual, changed``: how many people end where, in any one unit.
    axis_title : str
        With the unit.
    usual_words, changed_words : str
        What each group did.
    client : float
        Where the client stands, before any training; NaN if not known.
    client_words : str
    decimals : int
    """

    curves: pd.DataFrame
    axis_title: str
    usual_words: str
    changed_words: str
    client: float = float("nan")
    client_words: str = "you, before training"
    decimals: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class StripData(Worded):
    """Ranges in a unit the client knows.

    Attributes
    ----------
    ranges : DataFrame
        ``words`` (``"the average"``, ``"the next group"``, ``"one person"``), ``estimate, low,
        high, numbers`` (the range in words, with its unit).
    unit : str
    worthwhile : float
        From here on the difference is worth having; NaN if not known.
    worthwhile_words, from_here_words : str
        Beside the mark, in the reader's language.
    axis_title, zero_words : str
        Above the scale (from the unit if empty), and at zero.
    left_words, right_words : str
    decimals : int
    """

    ranges: pd.DataFrame
    unit: str
    left_words: str
    right_words: str
    worthwhile: float = float("nan")
    worthwhile_words: str = "worth the work"
    from_here_words: str = ""
    axis_title: str = ""
    zero_words: str = ""
    decimals: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class PlainForestData(Worded):
    """Where the studies stand, for a reader who does not read statistics.

    Attributes
    ----------
    studies : DataFrame
        ``label, estimate, low, high, people`` (how many took part), ``flags`` (plain words).
    zone : tuple of float
        Bounds of about the same.
    worse_words, same_words, better_words : str
        Names of the three fields.
    estimate, low, high : float
        All studies together.
    together_words : str
        The answer in words.
    people_words, together_title : str
        Beside each study, with a place for the count; and above the answer.
    dot_words, poised_words, cut_words : str
        The legend: a study's dot and bar; all together; a bar that goes on past the edge.
    kind, no_effect
        As in `EffectAxis`.
    """

    studies: pd.DataFrame
    zone: tuple[float, float]
    estimate: float
    low: float
    high: float
    together_words: str
    worse_words: str = "worse"
    same_words: str = "about the same"
    better_words: str = "better"
    people_words: str = "{count} people"
    together_title: str = "All together"
    dot_words: str = "what a study found; the longer the bar, the less sure"
    poised_words: str = "all studies together"
    cut_words: str = "the bar goes on past the edge"
    kind: str = "linear"
    no_effect: float = 0.0
