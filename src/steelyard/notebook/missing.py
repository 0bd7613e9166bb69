"""Which answers a library cannot give, because of faults in its files."""

from __future__ import annotations

from dataclasses import dataclass

from steelyard.errors import Finding, RecordError, SteelyardError
from steelyard.library import Library
from steelyard.notebook.page import RecommendationPage
from steelyard.notebook.says import InShort


@dataclass(frozen=True, slots=True)
class Missing:
    """An answer that cannot be given.

    Attributes
    ----------
    file : str
        Of the recommendation or question, relative to the library.
    why : tuple of str
        A sentence per fault.
    """

    file: str
    why: tuple[str, ...]

    def __str__(self) -> str:
        return f"{self.file}: no answer: {'; '.join(self.why)}"


def missing_answers(library: Library) -> tuple[Missing, ...]:
    """Every recommendation, and question of none, that faults leave without an answer."""
    found: dict[str, list[str]] = {}
    rested_on = {each for record in library.recommendations.values() for each in record.questions}
    for fault in library.faults:
        kind, _, name = fault.file.partition("/")
        record_id = name.removesuffix(".toml")
        unread = kind == "recommendations" and record_id not in library.recommendations
        lonely = kind == "questions" and record_id not in {*library.questions, *rested_on}
        if unread or lonely:
            found.setdefault(fault.file, []).append(_in_words(fault))
    for each in library.recommendations:
        try:
            short_of(library, each)
        except RecordError as error:
            why = [f"{fault.file}: {_in_words(fault)}" for fault in error.findings]
            found[f"recommendations/{each}.toml"] = why
        except SteelyardError as error:
            found[f"recommendations/{each}.toml"] = [str(error)]
    return tuple(Missing(file, tuple(why)) for file, why in sorted(found.items()))


def left_out(library: Library) -> str:
    """Which studies no answer rests on, for faults in their files; empty for none."""
    files = sorted({fault.file for fault in library.faults if fault.file.startswith("studies/")})
    return f"left out of every answer, for faults: {', '.join(files)}" if files else ""


def short_of(library: Library, recommendation_id: str) -> InShort:
    """What a recommendation says in short.

    Raises
    ------
    SteelyardError
        If it cannot be said; a RecordError where faults are why.
    """
    short = RecommendationPage.of(library, recommendation_id).in_short()
    short._rows()  # what it says rests on more files than its own
    return short


def _in_words(fault: Finding) -> str:
    return f"{fault.path}: {fault.message}" if fault.path else fault.message
