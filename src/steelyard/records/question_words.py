"""A question may use only words that the library's vocabulary has."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from steelyard.errors import Finding
from steelyard.records.question import Question
from steelyard.records.reading import suggestion
from steelyard.records.unsound import identifiers_in
from steelyard.records.vocabulary import Vocabulary

VOCABULARY_FILE = "vocabulary.toml"
_KINDS = {"intervention": "tag", "comparator": "tag", "constructs": "construct", "sites": "site"}


def question_word_findings(
    question: Question, vocabulary: Vocabulary, *, file: str
) -> Iterator[Finding]:
    """A fault for every tag, construct and site that the vocabulary does not have."""
    words = {key: getattr(question, key) or () for key in _KINDS}
    yield from _findings(words, vocabulary, file=file)


def unsound_question_findings(
    values: Mapping[str, Any], vocabulary: Vocabulary, *, file: str
) -> Iterator[Finding]:
    """The same of a question that failed validation, from its plain values."""
    words = {key: identifiers_in(values.get(key)) for key in _KINDS}
    yield from _findings(words, vocabulary, file=file)


def _findings(
    words: Mapping[str, Iterable[str]], vocabulary: Vocabulary, *, file: str
) -> Iterator[Finding]:
    for path, kind in _KINDS.items():
        known = vocabulary.words(kind)
        for word in words[path]:
            if word not in known:
                message = (
                    f"expected a {kind} from {VOCABULARY_FILE}, found {word!r}"
                    f"{suggestion(word, known)}"
                )
                yield Finding(file, path, "fault", f"unknown-{kind}", message)
