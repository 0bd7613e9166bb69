"""An explanation: what a client reads, in one sentence, a short paragraph, and one page."""

from __future__ import annotations

from dataclasses import dataclass
from math import isnan

from steelyard.explaining.citations import Citations
from steelyard.explaining.client_sizes import ClientSizes
from steelyard.explaining.evidence import Evidence
from steelyard.explaining.ledger import ToldNumber
from steelyard.explaining.wording.catalogue import catalogue
from steelyard.explaining.wording.lint import Slip
from steelyard.pooling.posterior import Posterior
from steelyard.records.recommendation import Recommendation
from steelyard.show import Shown


@dataclass(frozen=True, slots=True)
class Line:
    """One sentence or entry of a section.

    Attributes
    ----------
    text : str
    own_words : bool
        Whether it is a record's own wording.
    language : str
        Tag of its language where that is not the explanation's; else empty.
    """

    text: str
    own_words: bool = False
    language: str = ""


@dataclass(frozen=True, slots=True)
class Section:
    """A part of the page under one heading, with the numbers that its lines say."""

    key: str
    heading: str
    lines: tuple[Line, ...]
    numbers: tuple[ToldNumber, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Explanation(Shown):
    """What a client reads about one recommendation.

    Attributes
    ----------
    recommendation : Recommendation
        Its words in the explanation's language, as far as the record has them.
    language, statement_language : str
        The second is the library's own where the statement is not translated.
    sentence, paragraph : str
    sections : tuple of Section
        The page, in order; cautions are always among them.
    cautions : tuple of str
    certainty : str
        ``high`` to ``very low``; of the first question.
    certainty_line : str
    caption : str
        Ready to print under a picture.
    sizes : ClientSizes or None
    believed : Posterior or None
        Of the first question, under a prior that hardly says anything.
    evidence : tuple of Evidence
        One per question; the first leads.
    harms : tuple of Evidence
        Of other questions of the library, on harms that studies of the first one counted too.
    citations : Citations
    numbers : tuple of ToldNumber
        Every number in the text that does not stand in a record's own words.
    sentence_numbers : tuple of ToldNumber
        Those of the one sentence.
    slips : tuple of Slip
        Where the text holds a word to avoid, a long sentence or a high grade; for the coach.
    invented : bool
    invented_line : str
        Says so; empty where nothing is.
    fingerprint : str
        Of the evidence; of several questions, joined.
    """

    recommendation: Recommendation
    language: str
    statement_language: str
    sentence: str
    paragraph: str
    sections: tuple[Section, ...]
    cautions: tuple[str, ...]
    certainty: str
    certainty_line: str
    caption: str
    sizes: ClientSizes | None
    believed: Posterior | None
    evidence: tuple[Evidence, ...]
    harms: tuple[Evidence, ...]
    citations: Citations
    numbers: tuple[ToldNumber, ...]
    sentence_numbers: tuple[ToldNumber, ...]
    slips: tuple[Slip, ...]
    invented: bool
    invented_line: str
    fingerprint: str

    def section(self, key: str) -> Section | None:
        """A section by its key, such as ``do``."""
        return next((each for each in self.sections if each.key == key), None)

    def as_json(self) -> dict:
        """The machine's view. Positive favours the intervention in `size` and `prediction`."""
        sizes, first = self.sizes, self.evidence[0]
        return {
            "recommendation": self.recommendation.id,
            "statement": self.recommendation.statement,
            "language": self.language,
            "sentence": self.sentence,
            "paragraph": self.paragraph,
            "size": self._size(),
            "prediction": self._prediction(),
            "certainty": self.certainty,
            "certainty_line": self.certainty_line,
            "verdict": first.weighing.verdict.word if first.weighing else None,
            "chance_better": self._chances(),
            "further_sizes": [] if sizes is None else [size.as_json() for size in sizes.sizes()],
            "threshold_word": "" if sizes is None else sizes.word,
            "threshold_word_any_field": "" if sizes is None else sizes.word_any_field,
            "sections": [
                {
                    "key": part.key,
                    "heading": part.heading,
                    "lines": [line.text for line in part.lines],
                }
                for part in self.sections
            ],
            "harms_from": [each.question.id for each in self.harms],
            "cautions": list(self.cautions),
            "caption": self.caption,
            "citations": self.citations.as_json(),
            "numbers": [
                {
                    "name": number.name,
                    "text": number.text,
                    "value": number.value,
                    "unit": number.unit,
                    "rests_on": number.rests_on,
                    "question": number.question,
                }
                for number in self.numbers
            ],
            "invented": self.invented,
            "fingerprint": self.fingerprint,
        }

    def _size(self) -> dict | None:
        if self.sizes is None or self.sizes.average is None:
            return None
        found = self.sizes.average.as_json()
        percent = self.sizes.percent
        return found | {
            "percent": None if percent is None else percent.as_json(),
            "without": self.sizes.without,
            "weeks": self.evidence[0].weeks[1],
            "direction": "people with the event"
            if self.sizes.without is not None
            else "positive favours the intervention",
        }

    def _chances(self) -> dict | None:
        """Chances of doing better: between two people, on average, and in a next group."""
        if self.believed is None:
            return None
        found: dict = {}
        if self.sizes is not None and self.sizes.chance is not None:
            found["gains_more"] = self.sizes.chance.as_json()
            found["ahead_at_the_end"] = self.sizes.chance_at_end.as_json()
        parts = (("average", self.believed.effect), ("next_group", self.believed.next_study))
        for name, part in parts:
            chances = {
                "better": part.positive,
                "better_by_enough": part.above,
                "about_the_same": part.within,
                "worse_by_enough": part.below,
            }
            found[name] = {key: None if isnan(value) else value for key, value in chances.items()}
        return found

    def _prediction(self) -> dict | None:
        if self.sizes is None:
            return None
        bands = (("next_group", self.sizes.next_group), ("one_person", self.sizes.one_person))
        found = {
            name: {"low": band.low, "high": band.high, "unit": self.sizes.unit}
            for name, band in bands
            if band is not None
        }
        return found or None

    def _title(self) -> str:
        return self.recommendation.statement

    def _rows(self) -> list[tuple[str, str]]:
        words = catalogue(self.language)
        rows = [(words.say("heading.short"), self.paragraph)]
        for part in self.sections:
            # What the paragraph says is not said twice, nor as the beginning of a line.
            texts = [
                line.text
                for line in part.lines
                if line.text.casefold() not in self.paragraph.casefold()
            ]
            rows += [(part.heading if at == 0 else "", text) for at, text in enumerate(texts)]
        rows.append((words.say("heading.sources"), self.caption))
        if self.invented:
            rows.append(("", self.invented_line))
        return rows
