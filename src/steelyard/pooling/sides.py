"""The two sides of no effect in words, for each kind of question."""

from __future__ import annotations

from dataclasses import dataclass

from steelyard.records.question import SPREAD_METRICS


@dataclass(frozen=True, slots=True)
class Sides:
    """What lies above and below no effect.

    Attributes
    ----------
    ahead, behind : str
        Clauses for effects above and below no effect: who does better, what varies more.
    which : str
        The open question between the two.
    towards_ahead, towards_behind : str
        Which way a difference would point that cannot be ruled out.
    above, below : str
        Words for the two sides of a scale.
    more, less : str
        The two in a word or two, for tables.
    """

    ahead: str
    behind: str
    which: str
    towards_ahead: str
    towards_behind: str
    above: str
    below: str
    more: str
    less: str


def sides(*, metric: str, intervention: str, comparator: str, dose: bool = False) -> Sides:
    """The two sides of one question.

    Parameters
    ----------
    metric : str
        Of the question: a ratio of spreads says who varies more, which is neither better nor
        worse; a correlation says what goes together.
    intervention, comparator : str
        Names of the two things compared.
    dose : bool
        Whether more of something is held against less of it.

    Returns
    -------
    Sides
    """
    one, other = intervention, comparator
    if metric in SPREAD_METRICS:
        mean = " relative to their mean" if metric.startswith("relative") else ""
        return Sides(
            ahead=f"people vary more{mean} with {one} than with {other}",
            behind=f"people vary less{mean} with {one} than with {other}",
            which=f"with which of the two people vary more{mean}",
            towards_ahead=f"towards more spread{mean} with {one}",
            towards_behind=f"towards less spread{mean} with {one}",
            above=f"people vary more{mean} with {one}",
            below=f"people vary less{mean} with {one}",
            more=f"varies more{' relative to its mean' if mean else ''}",
            less=f"varies less{' relative to its mean' if mean else ''}",
        )
    if metric == "correlation":
        return Sides(
            ahead="the one goes with the other",
            behind="the one goes against the other",
            which="whether the one goes with the other or against it",
            towards_ahead="of going together",
            towards_behind="of going against each other",
            above="the one goes with the other",
            below="the one goes against the other",
            more="together",
            less="against each other",
        )
    return Sides(
        ahead=f"{one} does better",
        behind=f"{other} does better",
        which="which of the two does better",
        towards_ahead=f"in favour of {one}",
        towards_behind=f"in favour of {other}",
        above="more does better" if dose else f"favours {one}",
        below="more does worse" if dose else f"favours {other}",
        more="better",
        less="worse",
    )
