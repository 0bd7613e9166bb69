"""A question may use only words that the library's vocabulary has."""

from __future__ import annotations

from collections.abc import Iterator

from steelyard.errors import Finding
from steelyard.records.question import Question
from steelyard.records.reading import suggestion
from steelyard.records.vocabulary import Vocabulary

VOCABULARY_FILE = "vocabulary.toml"


def question_word_findings(
    question: Question, vocabulary: Vocabulary, *, file: str
) -> Iterator[Finding]:
    """A fault for every tag, construct and site that the vocabulary does not have."""
    wanted = [
        *(("intervention", "tag", word) for word in question.intervention or ()),
        *(("comparator", "tag", word) for word in question.comparator or ()),
        *(("constructs", "construct", word) for word in question.constructs),
        *(("sites", "site", word) for word in question.sites or ()),
    ]
    for path, kind, word in wanted:
        known = vocabulary.words(kind)
        if word not in known:
            message = (
                f"expected a {kind} from {VOCABULARY_FILE}, found {word!r}{suggestion(word, known)}"
            )
            yield Finding(file, path, "fault", f"unknown-{kind}", message)
