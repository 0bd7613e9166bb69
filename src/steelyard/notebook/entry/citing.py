"""What a citation puts into the source, and what of an earlier one it takes out again."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from steelyard.notebook.entry.state import FormState

_NOT_OF_A_CITATION = ("status", "status_note", "funding")


@dataclass(frozen=True, slots=True)
class Cited:
    """What became of the fields that a citation does not have.

    Attributes
    ----------
    cleared : tuple of str
        Keys of the source that only an earlier citation had filled.
    kept : tuple of str
        Keys that a person typed, or that the record had.
    """

    cleared: tuple[str, ...] = ()
    kept: tuple[str, ...] = ()

    def notes(self, names: Mapping[str, str]) -> list[str]:
        """As sentences, with fields by the names the form has for them; others are not told."""
        cleared, kept = (
            ", ".join(names[key] for key in keys if key in names)
            for keys in (self.cleared, self.kept)
        )
        return [
            *([f"Cleared, since this citation has none: {cleared}."] if cleared else []),
            *([f"Left as it stood, since no citation filled it in: {kept}."] if kept else []),
        ]


def cite(state: FormState, texts: Mapping[str, str]) -> Cited:
    """Put a citation's texts into the source.

    What an earlier citation had filled in and this one lacks is taken out, so that no record is
    made of two papers, unless both have the same DOI; what a person typed, over a citation or
    without one, stays.
    """
    source, before = state.source, state.cited
    same = bool(texts.get("DOI")) and texts["DOI"] == before.get("DOI") == source.get("DOI")
    lacking = [key for key, text in source.items() if text.strip() and key not in texts]
    filled = [key for key in lacking if source[key] == before.get(key)]
    cleared = [] if same else filled
    for key in cleared:
        del source[key]
    # Of a form in which nothing else was filled in, all there is was typed for this paper.
    mixed = bool(before or state.editing) and not same
    kept = [key for key in lacking if mixed and key not in (*filled, *_NOT_OF_A_CITATION)]
    source |= texts
    state.cited = {**(before if same else {}), **texts}
    return Cited(tuple(cleared), tuple(kept))
