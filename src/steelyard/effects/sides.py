"""The two things a question compares, in the vocabulary's words."""

from __future__ import annotations

from steelyard.records.question import Question
from steelyard.records.vocabulary import Vocabulary


def sides_in_words(question: Question, vocabulary: Vocabulary) -> tuple[str, str]:
    """Intervention and comparator; for a dose question, more of it and fewer."""
    if question.dose is not None:
        what = question.dose.replace("_per_week", "").replace("_", " ")
        weekly = " a week" if question.dose.endswith("_per_week") else ""
        return f"more {what}{weekly}", f"fewer {what}{weekly}"
    one, other = (
        " or ".join(vocabulary.label("tag", word) for word in words or ())
        for words in (question.intervention, question.comparator)
    )
    return one, other
