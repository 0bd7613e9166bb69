"""Every number an explanation says: as it is written, as it is, and what it comes from."""

from __future__ import annotations

from dataclasses import dataclass, field

from steelyard.explaining.wording.catalogue import Catalogue
from steelyard.explaining.wording.rounding import out_of_100, rounded_to_support


@dataclass(frozen=True, slots=True)
class ToldNumber:
    """One number of an explanation.

    Attributes
    ----------
    name : str
        What it is, such as ``average.low``.
    text : str
        As written.
    value : float
        Before rounding.
    unit : str
    rests_on : str
        ``studies`` (the pooled effects and what they are turned into a unit by), or the record
        and key it stands in, such as ``questions/x.toml client.baseline``.
    question : str
        Whose studies they are; a recommendation may rest on several questions.
    """

    name: str
    text: str
    value: float
    unit: str
    rests_on: str
    question: str = ""


STUDIES = "studies"
FIXED = "set by this page, not by a study"


@dataclass(slots=True)
class Ledger:
    """Writes numbers and keeps each; a number not written through it is not in an explanation.

    Attributes
    ----------
    words : Catalogue
    numbers : list of ToldNumber
        Each once.
    question : str
        Whose numbers are being written.
    """

    words: Catalogue
    numbers: list[ToldNumber] = field(default_factory=list)
    question: str = ""
    _written: list[ToldNumber] = field(default_factory=list)

    def taken(self) -> tuple[ToldNumber, ...]:
        """What was written since this was last asked: the numbers of one part of a page."""
        written = tuple(dict.fromkeys(self._written))
        self._written.clear()
        return written

    def three(self, name: str, value: float, low: float, high: float, *, unit: str) -> dict:
        """A value with its interval, all at one rounding."""
        rounding = rounded_to_support(value, low, high, low=low, high=high)
        ends = ("value", "low", "high")
        texts = {
            end: self._keep(
                f"{name}.{end}",
                self.words.number(shown, decimals=rounding.decimals),
                exact,
                unit,
                STUDIES,
            )
            for end, shown, exact in zip(ends, rounding.values, (value, low, high), strict=True)
        }
        return texts

    def span(self, name: str, low: float, high: float, *, unit: str) -> None:
        """Two ends that are written without sign, as so much less and so much more."""
        rounding = rounded_to_support(low, high, low=low, high=high)
        for end, shown, exact in zip(("low", "high"), rounding.values, (low, high), strict=True):
            text = self.words.number(abs(shown), decimals=rounding.decimals)
            self._keep(f"{name}.{end}", text, exact, unit, STUDIES)

    def people(self, name: str, value: float) -> str:
        """People out of 100, whole."""
        return self._keep(name, str(out_of_100(value)), value, "of 100", STUDIES)

    def whole(self, name: str, value: float, *, unit: str = "", rests_on: str = STUDIES) -> str:
        """A whole number."""
        return self._keep(name, self.words.number(value, decimals=0), value, unit, rests_on)

    def given(self, name: str, value, *, unit: str = "", rests_on: str) -> str:
        """A number as a record gives it."""
        exact = float(value)
        text = f"{exact:g}".replace("-", "−").replace(".", self.words.decimal_mark)
        return self._keep(name, text, exact, unit, rests_on)

    def wrote(self, name: str, text: str, value: float, *, unit: str, rests_on: str) -> None:
        """Keep a number that was written elsewhere."""
        self._keep(name, text, value, unit, rests_on)

    def _keep(self, name: str, text: str, value: float, unit: str, rests_on: str) -> str:
        told = ToldNumber(name, text, float(value), unit, rests_on, self.question)
        self._written.append(told)
        if told not in self.numbers:
            self.numbers.append(told)
        return text
