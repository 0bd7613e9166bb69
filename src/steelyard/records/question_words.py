"""A question may use only words that the library's vocabulary has."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from steelyard.errors import Finding
from steelyard.records.question import Question
from steelyard.records.reading import suggestion
from steelyard.records.unsound import judged, numbered
from steelyard.records.vocabulary import Vocabulary

VOCABULARY_FILE = "vocabulary.toml"
_KINDS = {"intervention": "tag", "comparator": "tag", "constructs": "construct", "sites": "site"}


def question_word_findings(
    question: Question, vocabulary: Vocabulary, *, file: str
) -> Iterator[Finding]:
    """A fault for every tag, construct and site that the vocabulary does not have.

    A question that failed validation is judged as `sound_part` gives it.
    """
    for path, kind in _KINDS.items():
        yield from judged(_unknown(getattr(question, path), path, kind, vocabulary, file))


def _unknown(
    words: Any, path: str, kind: str, vocabulary: Vocabulary, file: str
) -> Iterator[Finding]:
    known = vocabulary.words(kind)
    for _, word in numbered(words or ()):
        if word not in known:
            message = (
                f"expected a {kind} from {VOCABULARY_FILE}, found {word!r}{suggestion(word, known)}"
            )
            yield Finding(file, path, "fault", f"unknown-{kind}", message)
