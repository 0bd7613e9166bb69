"""Bring what the shipped recommendations were told up to date, save one on purpose.

Run as ``python -m tests.invented.refresh_told``. Statements, dates and notes are a person's and
stay as they are; only the ``[told]`` block is rewritten, in its place, comments kept.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from types import MappingProxyType

from steelyard import Library, open_library
from steelyard.judging.mark import told_changes
from steelyard.judging.told import Standing, standing_now, told_of
from steelyard.records.editing import edit_record
from steelyard.records.recommendation import Recommendation

EVIDENCE = Path(__file__).resolve().parents[2] / "evidence"

# Told before this study was in the library, which its review note says: it shows what a review
# finds when the evidence has moved.
OLDER = {"rest-between-sets": "yarrowick-2024"}


def library_for(library: Library, recommendation_id: str) -> Library:
    """The library as it was when a recommendation was told: whole, or without its later study."""
    later = OLDER.get(recommendation_id)
    if later is None:
        return library
    studies = {name: study for name, study in library.studies.items() if name != later}
    if len(studies) == len(library.studies):
        raise LookupError(f"{recommendation_id} is told without {later}, which is not there")
    return Library(replace(library.records, studies=MappingProxyType(studies)))


def standings_of(library: Library, recommendation: Recommendation) -> dict[str, Standing]:
    """The answer to each question, and the certainty of it as the recommendation has it."""
    then = library_for(library, recommendation.id)
    return {
        question: standing_now(
            then.weigh(question), then.certainty(question, recommendation=recommendation).word
        )
        for question in recommendation.questions
    }


def refresh_told(folder: Path) -> dict[str, bool]:
    """Rewrite what was told in every record of a library; says of each whether its text changed."""
    library = open_library(folder)
    changed = {}
    for recommendation in library.recommendations.values():
        path = folder / "recommendations" / f"{recommendation.id}.toml"
        before = path.read_bytes()
        standings = standings_of(library, recommendation)
        told = {question: told_of(standing) for question, standing in standings.items()}
        edit_record(path, told_changes(recommendation, told))
        changed[recommendation.id] = path.read_bytes() != before
    return changed


if __name__ == "__main__":
    for name, changed in refresh_told(EVIDENCE).items():
        print(f"{name}: {'told anew' if changed else 'as it was'}")
