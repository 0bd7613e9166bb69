"""Words the form adds to the vocabulary, kept with the draft until the study is saved."""

from __future__ import annotations

import unicodedata

from steelyard.notebook.entry.problem import Problem
from steelyard.notebook.entry.state import FormState
from steelyard.records.adding import sort_words
from steelyard.records.slugs import slug
from steelyard.records.tables.reading import TableWord
from steelyard.records.vocabulary import Construct, Site, Tag, Vocabulary

LONGEST_WORD = 80
_KINDS = {"construct": Construct, "site": Site, "tag": Tag}


class NewWords:
    """The library's vocabulary and what one form adds to it."""

    def __init__(self, vocabulary: Vocabulary, state: FormState) -> None:
        self._library, self._state = vocabulary, state
        self._insisted = ""

    @property
    def vocabulary(self) -> Vocabulary:
        """All words."""
        grown = {f"{kind}s": list(getattr(self._library, f"{kind}s")) for kind in _KINDS}
        for word in self.table_words():
            if word.id not in {known.id for known in grown[f"{word.kind}s"]}:
                grown[f"{word.kind}s"].append(_KINDS[word.kind](id=word.id, label=word.label))
        return Vocabulary(**{name: tuple(words) for name, words in grown.items()})

    def table_words(self) -> list[TableWord]:
        """The words added here, as the library takes them."""
        return [
            TableWord(word["kind"], slug(word["label"], kind=word["kind"]), word["label"], "")
            for word in self._state.new_words
            # A draft kept by hand, or by an earlier form, may hold what is no word.
            if word.get("kind") in _KINDS and not why_no_word(word.get("label", ""))
        ]

    def add(self, kind: str, label: str) -> Problem:
        """Add a word, and say what came of it.

        One that is like a known word is taken only when it is asked for a second time.
        """
        label = " ".join(label.split())
        field = "word.label"
        wrong = why_no_word(label) if kind in _KINDS else "Choose what kind of word it is."
        if wrong:
            return Problem(field, wrong)
        word = TableWord(kind, slug(label, kind=kind), label, "")
        new, slips = sort_words([word], self.vocabulary, file="")
        if not new and not slips:
            return Problem(field, f"The vocabulary has the {kind} {word.id} already.")
        asked = f"{kind} {word.id}"
        if slips and self._insisted != asked:
            self._insisted = asked
            near = slips[0].message.partition("did you mean ")[2].partition("?")[0].strip("'")
            return Problem(
                field,
                f"The vocabulary has {near}, which is much alike. "
                "If this is a word of its own, add it once more.",
            )
        self._state.new_words.append({"kind": kind, "id": word.id, "label": label})
        return Problem(field, f"Added the {kind} {word.id}; it can be chosen now.", "hint")


def why_no_word(label: str) -> str:
    """What keeps a text from being a word of the vocabulary; empty where nothing does."""
    if not label.strip() or len(label) > LONGEST_WORD:
        return f"Type a word of at most {LONGEST_WORD} characters."
    if any(map(_is_no_character, label)):
        return "The word holds half a character or a sign that cannot be shown: type it again."
    return ""


def _is_no_character(character: str) -> bool:
    return unicodedata.category(character) in ("Cs", "Cc")
