"""Threshold words for sizes, always beside the table they are from, and only where it holds.

A word is never a headline: what is small on average can be large for a purpose.
"""

from __future__ import annotations

from dataclasses import dataclass

from steelyard.errors import DesignError

DIFFERENCE = "a difference between programmes"
CHANGE = "a change inside one group"
CORRELATION = "a correlation"


@dataclass(frozen=True, slots=True)
class Cut:
    """Where a word begins: at an edge or, with `beyond`, only above it, as a printed ``>`` says."""

    at: float
    word: str
    beyond: bool = False


@dataclass(frozen=True, slots=True)
class ThresholdTable:
    """Cut-points for sizes of one kind.

    Attributes
    ----------
    name : str
        Author and year, to print beside the word.
    below : str
        The word under the first cut.
    cuts : tuple of Cut
        Rising.
    applies_to : tuple of str
        What it may be used for: `DIFFERENCE`, `CHANGE`, `CORRELATION`.
    about : str
        What the table is made of.
    sourced : str
        How well its cut-points are sourced.
    why : str
        Why it holds for nothing else; said where it is refused.
    """

    name: str
    below: str
    cuts: tuple[Cut, ...]
    applies_to: tuple[str, ...]
    about: str
    sourced: str
    why: str

    def word(self, size: float, *, of: str) -> str:
        """The word for a size, whichever way it points.

        Parameters
        ----------
        size : float
            In the unit of the table: standard deviations, or a correlation.
        of : str
            What the size is of: `DIFFERENCE`, `CHANGE` or `CORRELATION`.

        Raises
        ------
        DesignError
            If the table does not hold for that, or for NaN.
        """
        if of not in self.applies_to:
            raise DesignError(
                f"{self.name} holds for {' and '.join(self.applies_to)}, not for {of}: {self.why}"
            )
        if size != size:
            raise DesignError("size must be a number; it is NaN")
        found = self.below
        for cut in self.cuts:
            if abs(size) > cut.at or (abs(size) == cut.at and not cut.beyond):
                found = cut.word
        return found

    def named(self, size: float, *, of: str) -> str:
        """The word with its table in brackets."""
        return f"{self.word(size, of=of)} ({self.name})"


# Quartiles of 3,874 differences between programmes in 417 studies; read in the abstract of the
# preprint, doi 10.51224/SRXIV.202.
BETWEEN_PROGRAMMES = ThresholdTable(
    "Swinton & Murphy 2022",
    "below small",
    (Cut(0.14, "small"), Cut(0.29, "medium"), Cut(0.51, "large")),
    (DIFFERENCE,),
    "differences between programmes in strength and conditioning, 417 studies",
    "cut-points seen in its abstract",
    "its cut-points are quartiles of such differences, which are far smaller than gains",
)


def _rhea(people: str, small: float, moderate: float, *large: Cut) -> ThresholdTable:
    return ThresholdTable(
        f"Rhea 2004, {people}",
        "trivial",
        (Cut(small, "small"), Cut(moderate, "moderate"), *large),
        (CHANGE,),
        "gains in strength inside one group over its own SD before training",
        "values recalled, not seen",
        "people gain inside a group by practice and time too, so that a gain is larger than what "
        "one programme adds to another",
    )


# Rhea, M. R. (2004). Determining the magnitude of treatment effects in strength training research
# through the use of the effect size. J Strength Cond Res 18, 918-920, Table 1: heading seen, values
# from memory. Its first column prints moderate up to 1.9 and large above 2.0; what lies between
# is called so here.
RHEA = {
    "untrained": _rhea(
        "untrained",
        0.50,
        1.25,
        Cut(1.9, "between moderate and large", beyond=True),
        Cut(2.0, "large", beyond=True),
    ),
    "recreational": _rhea("recreationally trained", 0.35, 0.80, Cut(1.5, "large", beyond=True)),
    "highly-trained": _rhea("highly trained", 0.25, 0.50, Cut(1.0, "large", beyond=True)),
}
"""By training status as a study records it. ``trained`` may mean either of the last two, and has
no table."""


def _hopkins(cuts: tuple[float, ...], *, of: tuple[str, ...], **words: str) -> ThresholdTable:
    names = ("small", "moderate", "large", "very large", "extremely large")
    made = [Cut(at, name, at == cuts[-1]) for at, name in zip(cuts, names, strict=True)]
    return ThresholdTable("Hopkins et al. 2009", "trivial", tuple(made), of, **words)


# Hopkins, W. G., Marshall, S. W., Batterham, A. M., & Hanin, J. (2009). Progressive statistics for
# studies in sports medicine and exercise science. Med Sci Sports Exerc 41, 3-12.
ANY_FIELD = _hopkins(
    (0.2, 0.6, 1.2, 2.0, 4.0),
    of=(DIFFERENCE, CHANGE),
    about="a scale for any field, by convention",
    sourced="cut-points recalled, not seen",
    why="its cut-points count standard deviations",
)
CORRELATIONS = _hopkins(
    (0.1, 0.3, 0.5, 0.7, 0.9),
    of=(CORRELATION,),
    about="a scale for any field, by convention",
    sourced="cut-points seen on a page that cites them",
    why="its cut-points count correlation",
)
