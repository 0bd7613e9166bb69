"""Read a study: each method shows one thing that it does or does not say."""

from __future__ import annotations

from dataclasses import dataclass

from steelyard.library import Library
from steelyard.notebook.drawn import Drawn
from steelyard.notebook.fit import PICTURES_FIT
from steelyard.notebook.stack import Folded, NothingYet, Sentence
from steelyard.notebook.told import Told, lines
from steelyard.pooling.reading_groups import in_own_unit
from steelyard.pooling.reading_rows import as_printed, effect_name
from steelyard.pooling.study_reading import StudyReading
from steelyard.show import Table

EFFECTS = ("outcome", "difference", "could have told from none", "so it is", "to mind")
CHANGES = ("outcome", "own change", "in its unit", "to mind")
STUDIES = ("study", "id", "outcomes")
MOST_UNFOLDED = 4


@dataclass(frozen=True, slots=True, repr=False)
class ReadPage:
    """One study, read whole."""

    library: Library
    study_id: str
    reading: StudyReading

    @classmethod
    def of(cls, library: Library, study_id: str | None = None) -> ReadPage | Sentence:
        """The page of one study, or of the one that measured most."""
        if study_id is None:
            if not library.studies:
                return NothingYet("This library has no study yet.")
            study_id = max(library.studies, key=lambda each: len(library.studies[each].outcomes))
        return cls(library, study_id, library.read(study_id))

    def outcomes(self) -> Told:
        """Every outcome it measured, a scale for each way of telling them."""
        data = self.library.reading(self.study_id)
        if not data.panels:
            return Told(data.subtitle, (), self._left_out())
        table = self._changes() if self.reading.effects.empty else self._effects()
        return Told(data.subtitle, (Drawn(data, "reading_picture"),), (table, *self._left_out()))

    def findings(self) -> Told:
        """What the study shows and does not show."""
        found = self.reading.findings_in_parts
        parts = (
            ("Inside the groups: their own changes, no effects of training", found.inside),
            ("Who responds, outcome by outcome", found.responses),
        )
        tables = tuple(_said(title, rows) for title, rows in parts if rows)
        return Told(lines(*found.first, *found.last), (), tables)

    def together(self) -> Told:
        """Its outcomes of one kind taken together, each kind on one scale."""
        reading = self.reading
        if reading.composites.empty:
            return Told("No effects of this study can be taken together.")
        rows = tuple(
            (
                reading.vocabulary.label("construct", row.construct),
                str(row.outcomes),
                reading.groups[row.scale].told(row.effect, row.low, row.high),
                row.verdict,
            )
            for row in reading.composites.itertuples()
        )
        notes = (
            f"Correlation {reading.r_between_outcomes:.2f} between outcomes assumed. Each outcome "
            "at its last week; what stands on different scales is never taken together.",
        )
        columns = ("kind of outcome", "outcomes", "together", "so it is")
        return Told("", (), (Table("Taken together", columns, rows, notes),))

    def _effects(self) -> Table:
        reading, rows = self.reading, []
        for row in reading.effects.itertuples():
            group = reading.groups[row.scale]
            told, printed = group.told(row.effect, row.low, row.high), as_printed(row)
            rows.append(
                (
                    effect_name(reading, row),
                    f"{told}; {printed}" if printed else told,
                    group.detectable(row.detectable),
                    row.verdict,
                    row.flags,
                )
            )
        notes = ("Could have told from none: 8 times in 10, with the people it had.",)
        return Table(f"Effects in {reading.study.label}", EFFECTS, tuple(rows), notes)

    def _changes(self) -> Table:
        reading, rows = self.reading, []
        for group in reading.groups:
            for row in reading.own_changes.iloc[list(group.places)].itertuples():
                rows.append(
                    (
                        f"{reading.study.outcome(row.outcome).name}, week {row.week:g}",
                        group.told(row.change, row.low, row.high),
                        in_own_unit(row.own_unit, 0.0, row.better, row.unit),
                        row.flags,
                    )
                )
        notes = ("A group's own change is no effect of training.",)
        return Table(f"Changes in {reading.study.label}", CHANGES, tuple(rows), notes)

    def _left_out(self) -> tuple[Table, ...]:
        missing = self.reading.not_formed
        rows = tuple((each.what, each.reason) for each in missing)
        return (Table("Left out", ("what", "why"), rows),) if rows else ()

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


def _said(title: str, sentences: tuple[str, ...]) -> Table | Folded:
    """Sentences of one kind under a heading; folded where they are many."""
    rows = tuple((sentence,) for sentence in sentences)
    if len(rows) <= MOST_UNFOLDED:
        return Table(title, ("finding",), rows)
    return Folded(f"{title} ({len(rows)})", Table("", ("finding",), rows))


def studies_to_read() -> Table:
    """Every study of the library with what it measured."""
    from steelyard.notebook.opening import library_in_use

    rows = tuple(
        (study.label, each, ", ".join(dict.fromkeys(o.name for o in study.outcomes)))
        for each, study in library_in_use().studies.items()
    )
    return Table("Studies in the library", STUDIES, rows)
