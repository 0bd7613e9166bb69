"""Read a study: each method shows one thing that it does or does not say."""

from __future__ import annotations

from dataclasses import dataclass

from steelyard.errors import EmptyQuestionError
from steelyard.library import Library
from steelyard.notebook.drawn import Drawn
from steelyard.notebook.fit import PICTURES_FIT
from steelyard.notebook.stack import Sentence
from steelyard.notebook.told import Told, nothing
from steelyard.pooling.reading_words import span, text
from steelyard.pooling.study_reading import StudyReading
from steelyard.show import Table

EFFECTS = ("outcome", "difference", "could have told from none", "so it is", "to mind")
STUDIES = ("study", "id", "outcomes")


@dataclass(frozen=True, slots=True, repr=False)
class ReadPage:
    """One study, read whole."""

    library: Library
    study_id: str
    reading: StudyReading | None
    why_not: str = ""

    @classmethod
    def of(cls, library: Library, study_id: str | None = None) -> ReadPage | Sentence:
        """The page of one study, or of the one that measured most."""
        if study_id is None:
            if not library.studies:
                return Sentence("This library has no study yet.")
            study_id = max(library.studies, key=lambda each: len(library.studies[each].outcomes))
        try:
            return cls(library, study_id, library.read(study_id))
        except EmptyQuestionError as refused:
            return cls(library, study_id, None, str(refused))

    def outcomes(self) -> Told:
        """Every outcome it measured, on one scale."""
        if self.reading is None:
            return nothing(self.why_not)
        data = self.library.reading(self.study_id)
        if not len(data.rows):
            return Told("Its effects are on a scale that this picture does not draw.")
        return Told(data.subtitle, (Drawn(data, "reading_picture"),), (self._effects(),))

    def findings(self) -> Told:
        """What the study shows and does not show."""
        if self.reading is None:
            return nothing(self.why_not)
        rows = tuple((sentence,) for sentence in self.reading.findings)
        return Told("", (), (Table("What it shows, and what not", ("finding",), rows),))

    def together(self) -> Told:
        """Its outcomes of one kind taken together."""
        if self.reading is None:
            return nothing(self.why_not)
        reading = self.reading
        rows = tuple(
            (
                reading.vocabulary.label("construct", row.construct),
                str(row.outcomes),
                f"{text(reading, row.effect)} ({span(reading, row.low, row.high)})",
                row.verdict,
            )
            for row in reading.composites.itertuples()
        )
        note = f"Correlation {reading.r_between_outcomes:.2f} between outcomes assumed."
        columns = ("kind of outcome", "outcomes", "together", "so it is")
        return Told("", (), (Table("Taken together", columns, rows, (note,)),))

    def _effects(self) -> Table:
        reading = self.reading
        several = reading.effects["comparison"].nunique() > 1
        rows = []
        for row in reading.effects.itertuples():
            name = f"{reading.study.outcome(row.outcome).name}, week {row.week:g}"
            if several:
                arms = [reading.study.arm(arm).name for arm in (row.intervention, row.comparator)]
                name = f"{name}: {arms[0]} v {arms[1]}"
            rows.append(
                (
                    name,
                    f"{text(reading, row.effect)} ({span(reading, row.low, row.high)})",
                    text(reading, row.detectable),
                    row.verdict,
                    row.flags,
                )
            )
        notes = ("Could have told from none: 8 times in 10, with the people it had.",)
        return Table(f"Effects in {reading.study.label}", EFFECTS, tuple(rows), notes)

    def __repr__(self) -> str:
        study = self.library.studies[self.study_id]
        return f"{study.label}: {study.source.title}"

    def _repr_html_(self) -> str:
        return PICTURES_FIT + Sentence(repr(self))._repr_html_()


def read(study_id: str | None = None) -> ReadPage | Sentence:
    """The page of one study; of the one that measured most if none is named.

    Raises
    ------
    UsageError
        If the library has none by that id; names the nearest.
    """
    from steelyard.notebook.opening import library_in_use

    return ReadPage.of(library_in_use(), study_id)


def studies_to_read() -> Table:
    """Every study of the library with what it measured."""
    from steelyard.notebook.opening import library_in_use

    rows = tuple(
        (study.label, each, ", ".join(dict.fromkeys(o.name for o in study.outcomes)))
        for each, study in library_in_use().studies.items()
    )
    return Table("Studies in the library", STUDIES, rows)
