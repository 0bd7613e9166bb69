"""Words that come into a vocabulary: new ones, and slips of the pen that are none."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from steelyard.errors import Finding
from steelyard.records.editing import edited
from steelyard.records.question_words import VOCABULARY_FILE
from steelyard.records.reading import parse
from steelyard.records.tables.reading import TableWord
from steelyard.records.vocabulary import Vocabulary
from steelyard.records.writing import set_values

# Words this alike are one word and a slip of the pen, unless a person says otherwise.
SLIP = 0.85
_PLURALS = {"construct": "constructs", "site": "sites", "tag": "tags"}


def sort_words(
    words: Iterable[TableWord], vocabulary: Vocabulary, *, file: str
) -> tuple[list[TableWord], list[Finding]]:
    """Words the vocabulary lacks: those that are new, and findings on those like a known one."""
    new: list[TableWord] = []
    slips: list[Finding] = []
    known = {kind: vocabulary.words(kind) for kind in _PLURALS}
    for word in words:
        if word.id in known[word.kind]:
            continue
        near = difflib.get_close_matches(word.id, sorted(known[word.kind]), n=1, cutoff=SLIP)
        if near:
            message = (
                f"expected a {word.kind} from {VOCABULARY_FILE}, found {word.id!r}: did you mean "
                f"{near[0]!r}? If it is a word of its own, add it to {VOCABULARY_FILE} first"
            )
            slips.append(Finding(file, word.place, "fault", f"unknown-{word.kind}", message))
        else:
            new.append(word)
            known[word.kind].add(word.id)
    return new, slips


def with_words(text: str, words: Sequence[TableWord]) -> str:
    """A vocabulary's text with words added; comments and order stay."""
    entries: dict[str, list[dict[str, Any]]] = {}
    for word in words:
        entries.setdefault(word.kind, []).append({"id": word.id, "label": word.label})
    return _with_entries(text, entries)


def with_vocabulary(text: str, other: Vocabulary) -> str:
    """A vocabulary's text with every word of another that it lacks, and all said of that word."""
    values = parse(text, file=VOCABULARY_FILE)
    entries: dict[str, list[dict[str, Any]]] = {}
    for kind, plural in _PLURALS.items():
        known = {entry["id"] for key in (kind, plural) for entry in values.get(key, ())}
        new = [word for word in getattr(other, plural) if word.id not in known]
        entries[kind] = [dict(set_values(word)) for word in new]
    return _with_entries(text, entries)


def _with_entries(text: str, new: Mapping[str, Sequence[Mapping[str, Any]]]) -> str:
    values = parse(text, file=VOCABULARY_FILE)
    changes: dict[str, Any] = {}
    for kind, plural in _PLURALS.items():
        entries = list(new.get(kind, ()))
        key = plural if plural in values else kind
        count = len(values.get(key, ()))
        if count:
            changes |= {f"{key}[{count + n}]": entry for n, entry in enumerate(entries, 1)}
        elif entries:
            changes[key] = entries
    return edited(text, changes, file=VOCABULARY_FILE) if changes else text
