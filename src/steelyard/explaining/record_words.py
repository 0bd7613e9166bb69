"""A recommendation's own words in the language of an explanation, as far as they are there."""

from __future__ import annotations

from dataclasses import dataclass

from steelyard.explaining.explanation import Line
from steelyard.explaining.wording.catalogue import Catalogue, language_name
from steelyard.explaining.wording.claim import capital
from steelyard.records.recommendation import Recommendation, RecommendationWords

IN_THE_DOSE = ("order", "range_of_motion", "notes")


@dataclass(frozen=True, slots=True)
class RecordWords:
    """A recommendation whose words are translated where the record has a translation.

    Attributes
    ----------
    record : Recommendation
        With the translated words in place of its own; numbers and questions as they are.
    kept : frozenset of str
        Fields that stay in the language the library was written in.
    written_in : str
        That language's tag.
    words : Catalogue
    """

    record: Recommendation
    kept: frozenset[str]
    written_in: str
    words: Catalogue

    def lines(self, *names: str) -> list[Line]:
        """What the record says under these names; a last line says what is not translated."""
        found = [self.line(name, text) for name in names for text in self._texts(name)]
        if any(line.language for line in found):
            found.append(Line(self._only_in()))
        return found

    def line(self, name: str, text: str) -> Line:
        """One text of the record, marked with its language where that is another."""
        language = self.written_in if name in self.kept else ""
        return Line(capital(text), own_words=True, language=language)

    def note(self, *names: str) -> list[Line]:
        """Says that a part is in another language, if any of these names is said and is."""
        kept = any(name in self.kept and self._texts(name) for name in names)
        return [Line(self._only_in())] if kept else []

    def _only_in(self) -> str:
        name = language_name(self.written_in, self.words)
        return self.words.say("page.only_in", language=name)

    def _texts(self, name: str) -> tuple[str, ...]:
        part = self.record.dose if name in IN_THE_DOSE else self.record
        value = getattr(part, name)
        if value is None:
            return ()
        return value if isinstance(value, tuple) else (value,)


def in_language(record: Recommendation, words: Catalogue, *, written_in: str) -> RecordWords:
    """A recommendation's words in the language of a catalogue.

    Parameters
    ----------
    record : Recommendation
    words : Catalogue
    written_in : str
        Tag of the language of the library.
    """
    if words.tag == written_in:
        return RecordWords(record, frozenset(), written_in, words)
    there = record.translations.get(words.tag, RecommendationWords())
    given = {
        name: value
        for name in RecommendationWords.model_fields
        if (value := getattr(there, name)) not in (None, ())
    }
    kept = frozenset(RecommendationWords.model_fields.keys() - given.keys())
    dose = {name: given.pop(name) for name in IN_THE_DOSE if name in given}
    changed = record.model_copy(update={**given, "dose": record.dose.model_copy(update=dose)})
    return RecordWords(changed, kept, written_in, words)
