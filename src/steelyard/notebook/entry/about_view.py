"""The parts of the form about the paper: citation, source, design, people."""

from __future__ import annotations

from typing import TYPE_CHECKING

import ipywidgets as widgets

from steelyard.notebook.entry.citing import cite
from steelyard.notebook.entry.field import (
    area_field,
    button,
    card,
    choice_field,
    one_line,
    row,
    text_field,
    words,
)
from steelyard.notebook.entry.fold import Fold
from steelyard.notebook.entry.problem import Problem
from steelyard.records.adding_references import source_texts
from steelyard.records.references import CitationError, read_references

if TYPE_CHECKING:
    from steelyard.notebook.entry.form import EntryForm

_SOURCE = (
    ("title", "Title", "fill", ""),
    ("author", "Authors", "fill", "Oxmere, P.; Fell, R."),
    ("issued", "Year", "90px", ""),
    ("container-title", "Journal", "fill", ""),
    ("volume", "Volume", "90px", ""),
    ("issue", "Issue", "80px", ""),
    ("page", "Pages", "110px", ""),
    ("DOI", "DOI", "fill", "10.5555/12345678"),
    ("funding", "Who paid for it", "fill", ""),
)
_NAMES = {key: label.lower() if key != "DOI" else label for key, label, *_ in _SOURCE}
_NAMES |= {"type": "kind of publication", "URL": "address"}
_DESIGN_TEXT = (
    ("duration_weeks", "Weeks of training", "130px", ""),
    ("equated", "Held equal between arms", "fill", "weekly sets, or nothing"),
    ("registered", "Register entry", "fill", ""),
    ("allocation", "How people were allocated, and where it says so", "fill", ""),
)
_CLUSTERS = (
    ("cluster_size", "People in a club or class, mean", "220px", "9"),
    ("cluster_icc", "Correlation inside a club or class (ICC)", "270px", "0.05"),
)
_POPULATION_TEXT = (
    ("description", "Who took part", "fill", "masters rowers who lift twice a week"),
    ("n_randomised", "People randomised", "140px", ""),
    ("age_mean", "Mean age, years", "130px", ""),
    ("age_sd", "SD of age", "100px", ""),
)
_KINDS = (
    *(("choose …", ""), ("parallel groups", "parallel"), ("crossover", "crossover")),
    *(("within person, limb against limb", "within-person"), ("one group only", "single-group")),
    ("whole clubs or classes allocated", "cluster"),
)
_YES_NO = (("not reported", ""), ("yes", "yes"), ("no", "no"))
_STATUS = (
    *(("published", ""), ("published (said so)", "published"), ("preprint", "preprint")),
    *(("corrected", "corrected"), ("retracted", "retracted")),
)
_SEX = (
    *(("not reported", ""), ("female", "female"), ("male", "male"), ("mixed", "mixed")),
    ("not reported (said so)", "not reported"),
)
_TRAINED = (
    *(("not reported", ""), ("untrained", "untrained"), ("recreational", "recreational")),
    *(("trained", "trained"), ("highly trained", "highly-trained"), ("mixed", "mixed")),
    ("not reported (said so)", "not reported"),
)
_CITATION = (
    "A DOI, BibTeX, RIS or CSL-JSON. It is read on this computer; nothing is fetched from outside."
)


class AboutView:
    """Citation, source, design and population."""

    def __init__(self, form: EntryForm) -> None:
        self.form = form
        state = form.state
        self.citation = form.adopt(
            area_field(
                "citation",
                "Paste the citation",
                state.citation,
                self._cited,
                placeholder=_CITATION,
                rows=2,
            )
        )
        self.source = {key: self._text("source", key, *rest) for key, *rest in _SOURCE}
        status = self._choice("source", "status", "Status of the paper", _STATUS, "180px")
        source = card(
            "The paper",
            row(self.citation.widget),
            row(self.source["title"].widget),
            row(self.source["author"].widget, self.source["issued"].widget),
            row(
                *(self.source[key].widget for key in ("container-title", "volume", "issue", "page"))
            ),
            row(self.source["DOI"].widget, status, self.source["funding"].widget),
        )
        design = card(
            "Design and people",
            row(
                self._choice("design", "kind", "How the study was made", _KINDS, "250px"),
                self._choice("design", "randomised", "Randomised", _YES_NO, "130px"),
                self._choice("design", "blinded_assessors", "Assessors blinded", _YES_NO, "140px"),
                self._text("design", *_DESIGN_TEXT[0]).widget,
            ),
            row(*(self._text("design", *each).widget for each in _DESIGN_TEXT[1:])),
            row(*(self._text("population", *each).widget for each in _POPULATION_TEXT)),
            row(
                self._choice("population", "sex", "Sex", _SEX, "150px"),
                self._choice("population", "training_status", "Trained", _TRAINED, "170px"),
            ),
            Fold(
                form,
                "clusters",
                "Where whole clubs or classes were allocated",
                lambda: row(*(self._text("design", *each).widget for each in _CLUSTERS)),
                fields=("design.cluster_",),
            ).widget,
        )
        self.widgets: list[widgets.Widget] = [source, design]

    def _text(self, part: str, key: str, label: str, width: str, placeholder: str):
        values = getattr(self.form.state, part)
        return self.form.adopt(
            text_field(
                f"{part}.{key}",
                label,
                values.get(key, ""),
                self.form.typing(values, key),
                width=width,
                placeholder=placeholder,
            )
        )

    def _choice(self, part: str, key: str, label: str, options, width: str) -> widgets.Widget:
        values = getattr(self.form.state, part)
        field = choice_field(
            f"{part}.{key}",
            label,
            values.get(key, ""),
            options,
            self.form.typing(values, key),
            width=width,
        )
        return self.form.adopt(field).widget

    def _cited(self, text: str) -> None:
        with self.form.guarded():
            self.form.state.citation = text[:20_000]
            self._fill_in(text)
            self.form.changed()

    def _fill_in(self, text: str) -> None:
        """Fill the source's fields from the citation; what cannot be read is said below it."""
        self.form.standing.pop("citation", None)
        if not text.strip():
            return
        try:
            found = read_references(text)
        except CitationError as error:
            self.form.standing["citation"] = Problem("citation", str(error))
            return
        notes = list(found[0].notes)
        if len(found) > 1:
            notes.append(
                f"{len(found)} citations were pasted; the first is taken. The command "
                "steelyard add keeps a whole file of them as drafts."
            )
        filled = cite(self.form.state, source_texts(found[0].source))
        for key, field in self.source.items():
            field.put(one_line(self.form.state.source.get(key, "")))
        said = ["The fields below are filled in.", *filled.notes(_NAMES), *notes]
        self.form.standing["citation"] = Problem("citation", " ".join(said), "hint")


def words_card(form: EntryForm) -> widgets.Widget:
    """Adding a word to the vocabulary, which is written when the study is saved."""
    typed = {"kind": "site", "label": ""}
    kind = form.adopt(
        choice_field(
            "word.kind",
            "Kind of word",
            "site",
            (("construct (what is measured)", "construct"), ("site", "site"), ("arm tag", "tag")),
            lambda value: typed.update(kind=value),
            width="230px",
        )
    )
    label = form.adopt(
        text_field(
            "word.label", "The word", "", lambda value: typed.update(label=value), width="260px"
        )
    )

    def add() -> None:
        with form.guarded():
            if form.add_word(typed["kind"], typed["label"]):
                label.put("")
                typed["label"] = ""

    return card(
        "A new word",
        words(
            "<p>Questions find arms by tag and outcomes by construct and site. A word the "
            "vocabulary lacks is added here, and written when the study is saved.</p>"
        ),
        row(kind.widget, label.widget, button("Add the word", add)),
    )
