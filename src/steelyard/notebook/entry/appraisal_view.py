"""The part of the form that asks how the study was run, and shows what follows."""

from __future__ import annotations

from typing import TYPE_CHECKING

import ipywidgets as widgets

from steelyard.judging.appraisal import CONCERNS, appraisal_rules
from steelyard.notebook.entry.build import Built
from steelyard.notebook.entry.exceptions_view import exceptions_part
from steelyard.notebook.entry.field import Field, button, choice_field, row, text_field, words
from steelyard.notebook.entry.fold import Fold
from steelyard.notebook.entry.judged import Judged, judge_so_far
from steelyard.notebook.entry.overruling_form import OverrulingForm
from steelyard.records.appraisal import FACTS, NOT_REPORTED

if TYPE_CHECKING:
    from steelyard.notebook.entry.form import EntryForm

_LABEL = "How the study was run: questions and what follows"
_SCALES = ("PEDro", "TESTEX")
_SAID = (
    "<p>Plain questions, each with its place in the paper. “Not reported” means that the paper was "
    "searched and does not say; a question left open counts as unread. What follows by the rules "
    "stands below each part, and can be overruled with a reason.</p>"
)
_CONCERNS = (("choose …", ""), *((concern, concern) for concern in CONCERNS))


class AppraisalView:
    """Questions by domain, each domain with its judgement."""

    def __init__(self, form: EntryForm) -> None:
        self.form = form
        self._judged: dict[str, widgets.HTML] = {}
        self._in_all = words("")
        self._drawn_for = ""
        self._latest: Judged | None = None
        fields = ("answer.", "exception.", "overruling.", "scores.")
        self.fold = Fold(form, "appraisal", _LABEL, self._make, fields=fields)
        self.widget = widgets.VBox([self.fold.widget])
        self.widget.add_class("sy-card")

    def draw(self) -> None:
        """Make the boxes anew, as design and outcomes now are."""
        self.fold.draw()

    def show(self, built: Built) -> None:
        """Say what follows from the answers so far."""
        answers = self.form.state.answers
        answered = sum(bool(answers.get(fact, {}).get("answer")) for fact in FACTS)
        self.fold.tell(f"{_LABEL} ({answered} answered)" if answered else _LABEL)
        self._latest = None
        if not self.fold.is_open:
            return
        if self._drawn_for != self.form.state.design.get("kind", ""):
            self.draw()
        judged = self._latest = judge_so_far(built.values, built.study)
        self._in_all.value = f'<p class="sy-said">In all: {judged.in_all()}</p>' if judged else ""
        for domain, shown in self._judged.items():
            said = judged.domain(domain) if judged else ""
            also = judged.computed(domain) if judged else ""
            also = f'<br><span class="how">{also}</span>' if also else ""
            html = f'<div class="sy-follows" role="status">{said}{also}</div>' if said else ""
            if shown.value != html:
                shown.value = html

    def from_design(self) -> dict[str, str]:
        """What blank answers are taken to be, by field."""
        found = {}
        for fact in FACTS if self._latest is not None else ():
            blank = not self.form.state.answers.get(fact, {}).get("answer")
            if blank and (taken := self._latest.from_design(fact)):
                found[f"answer.{fact}.answer"] = f"taken from the design: {taken}"
        return found

    def _make(self) -> widgets.Widget:
        kind = self.form.state.design.get("kind", "")
        self._drawn_for, self._judged = kind, {}
        parts = [
            self._domain(domain) for domain in appraisal_rules().domains if self._asked(domain)
        ]
        return widgets.VBox(
            [
                words(_SAID),
                self._in_all,
                *parts,
                *exceptions_part(self.form, self.draw),
                self._scores(),
            ]
        )

    def _asked(self, domain) -> bool:
        """Whether a domain is asked of this design, or somebody has answered it before."""
        state = self.form.state
        has = any(state.answers.get(fact, {}).get("answer") for fact in domain.facts)
        has = has or any(each.domain == domain.name for each in state.overrulings)
        return not domain.designs or state.design.get("kind") in domain.designs or has

    def _domain(self, domain) -> widgets.Widget:
        shown = words("")
        self._judged[domain.name] = shown
        questions = [self._question(fact) for fact in domain.facts if fact in FACTS]
        overrulings = [
            self._overruling(each)
            for each in self.form.state.overrulings
            if each.domain == domain.name
        ]
        name = domain.name[:1].upper() + domain.name[1:]
        overrule = button(f"Overrule: {domain.name}", lambda: self._overrule(domain.name))
        made = widgets.VBox(
            [words(f"<h4>{name}</h4>"), *questions, shown, *overrulings, row(overrule)]
        )
        made.add_class("sy-part")
        return made

    def _question(self, fact: str) -> widgets.Widget:
        asks, answers = FACTS[fact]
        given = self.form.state.answers.setdefault(fact, {})
        options = [("not answered", ""), *((each, each) for each in (*answers, NOT_REPORTED))]
        answer = choice_field(
            f"answer.{fact}.answer", asks, given.get("answer", ""), options,
            self.form.typing(given, "answer"), width="fill",
        )  # fmt: skip
        where = text_field(
            f"answer.{fact}.where", "Where it says so", given.get("where", ""),
            self.form.typing(given, "where"), width="200px", placeholder="Methods, p. 3",
        )  # fmt: skip
        return row(self._adopted(answer), self._adopted(where))

    def _overruling(self, form: OverrulingForm) -> widgets.Widget:
        name = f"overruling.{form.key}"

        def typed(key: str):
            return self.form.typing_attribute(form, key)

        outcomes = [("every outcome", ""), *self.form.outcome_options()]
        parts = [
            choice_field(
                f"{name}.concern", "Your judgement", form.concern, _CONCERNS, typed("concern"),
                width="130px",
            ),
            choice_field(
                f"{name}.outcome", "For", form.outcome, outcomes, typed("outcome"), width="170px"
            ),
            text_field(f"{name}.reason", "Why", form.reason, typed("reason")),
            text_field(f"{name}.by", "Your name", form.by, typed("by"), width="160px"),
        ]  # fmt: skip
        away = button("Take it back", lambda: self._take_back(form.key))
        dated = f"<p>Dated {form.date}; a change is dated today.</p>" if form.date else ""
        made = widgets.VBox([row(*(self._adopted(part) for part in parts), away), words(dated)])
        made.add_class("sy-overruled")
        return made

    def _scores(self) -> widgets.Widget:
        scores = self.form.state.scores
        names = dict.fromkeys((*_SCALES, *scores))
        fields = [
            text_field(
                f"scores.{name}", f"{' '.join(name.split())[:80]} score",
                scores.get(name, ""), self.form.typing(scores, name), width="170px",
                placeholder="6 of 10" if name == "PEDro" else "",
            )
            for name in names
        ]  # fmt: skip
        said = "<h4>Scores in print, by the paper or a review of it</h4><p>Shown, never used.</p>"
        made = widgets.VBox([words(said), row(*map(self._adopted, fields))])
        made.add_class("sy-part")
        return made

    def _adopted(self, field: Field) -> widgets.Widget:
        return self.form.adopt(field).widget

    def _overrule(self, domain: str) -> None:
        with self.form.guarded():
            self.form.state.add_overruling(domain)
            self.draw()
            self.form.changed()

    def _take_back(self, key: str) -> None:
        with self.form.guarded():
            state = self.form.state
            state.overrulings = [each for each in state.overrulings if each.key != key]
            self.draw()
            self.form.changed()
