"""What the notebook for clients calls: an explanation, its pictures, and what hangs on it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from steelyard.errors import UsageError
from steelyard.explaining.dose_lines import gives_dose
from steelyard.explaining.evidence import evidence_of
from steelyard.explaining.explain import explain as explained
from steelyard.explaining.explanation import Explanation
from steelyard.explaining.handout import handout
from steelyard.explaining.lay_pictures import (
    hills_data,
    hundred_data,
    plain_forest_data,
    strip_data,
)
from steelyard.explaining.own_result import OwnResult
from steelyard.explaining.own_result_of import own_result_of
from steelyard.explaining.own_result_picture import own_result_strip
from steelyard.explaining.plan_check import PlanCheck, check_of
from steelyard.explaining.profile import ClientProfile, read_profile
from steelyard.explaining.references_out import references_out
from steelyard.explaining.trace import Trace, trace
from steelyard.explaining.two_options import TwoOptions, two_options
from steelyard.explaining.wording.catalogue import catalogue
from steelyard.library import Library
from steelyard.notebook.drawn import Drawn
from steelyard.notebook.fit import PICTURES_FIT
from steelyard.notebook.opening import library_in_use
from steelyard.notebook.stack import NothingYet, Sentence
from steelyard.records.reading import validate
from steelyard.records.settings import Settings, read_settings
from steelyard.show import Table

ANSWERS = ("better", "worse", "equivalent", "not settled")


@dataclass(frozen=True, slots=True, repr=False)
class ExplanationPage:
    """An explanation in a notebook; each method is one cell."""

    explanation: Explanation
    settings: Settings
    library: Library

    def __str__(self) -> str:
        return str(self.explanation)

    def _repr_pretty_(self, printer, cycle: bool) -> None:
        printer.text(str(self))

    def _repr_html_(self) -> str:
        return PICTURES_FIT + self.explanation._repr_html_()

    def ranges(self) -> Drawn:
        """The average, another group, one person, in the client's unit."""
        return self._drawn(strip_data, "strip_plot")

    def hundred(self) -> Drawn:
        """A hundred figures by outcome."""
        return self._drawn(hundred_data, "hundred_plot")

    def hills(self) -> Drawn:
        """Two groups side by side, with the client's place where it is known."""
        return self._drawn(hills_data, "hills_plot")

    def where_studies_stand(self) -> Drawn:
        """A forest plot without jargon."""
        return self._drawn(plain_forest_data, "plain_forest")

    def trace(self) -> Trace:
        """Every number followed to the cells of the studies."""
        return trace(self.explanation)

    def citations(self) -> Table:
        """The references in the style asked for."""
        cited = self.explanation.citations
        rows = tuple((one.text,) for one in cited.references)
        return Table(cited.in_text, ("reference",), rows)

    def references(self, form: str = "bibtex") -> str:
        """The references as ``bibtex``, ``ris`` or ``csl-json``."""
        used = {
            study.id: study
            for each in self.explanation.evidence
            if each.weighing is not None
            for study in each.used_studies
        }
        return references_out(used.values(), form=form)

    def handout(self, file: str | Path) -> Sentence:
        """Write the handout; prints to one sheet."""
        path = Path(file)
        path.write_text(handout(self.explanation, settings=self.settings), encoding="utf-8")
        return Sentence(f"Written: {path.name}. Open it in a browser and print it.")

    def options(self, prefers: str | None = None) -> TwoOptions | Sentence:
        """A or B for me; `prefers` is ``a`` or ``b``."""
        try:
            return two_options(
                self.library,
                self.explanation.recommendation.id,
                prefers=prefers,
                settings=self.settings,
                language=self.explanation.language,
            )
        except UsageError as why:
            return Sentence(f"{why}.")

    def own_result(
        self,
        before: float | Sequence[float],
        after: float | Sequence[float],
        *,
        typical_error: float,
        unit: str | None = None,
    ) -> OwnResultShown | Sentence:
        """The client's own before and after, against error and with the evidence."""
        tests = {"typical_error": typical_error, "unit": unit}
        try:
            return OwnResultShown(own_result_of(self.explanation, before, after, **tests))
        except UsageError as why:
            return Sentence(f"{why}.")

    def _drawn(self, data, plot: str) -> Drawn:
        terms = self.settings.terms.get(self.explanation.language)
        words = catalogue(self.explanation.language, terms=terms)
        why = "the answer has no such numbers, or is not settled enough to count people by it"
        return Drawn(data(self.explanation, words), plot, why)


@dataclass(frozen=True, slots=True, repr=False)
class OwnResultShown:
    """A client's own result, with its picture."""

    result: OwnResult

    def __str__(self) -> str:
        return str(self.result)

    def _repr_pretty_(self, printer, cycle: bool) -> None:
        printer.text(str(self))

    def _repr_html_(self) -> str:
        return self.result._repr_html_()

    def picture(self) -> Drawn:
        """Both together, what was measured, what was expected."""
        return Drawn(own_result_strip(self.result), "strip_plot")


def explain(
    recommendation: str | None = None,
    *,
    answer: str | None = None,
    language: str | None = None,
    style: str | None = None,
    client: str | None = None,
    **profile,
) -> ExplanationPage | Sentence:
    """Explain a recommendation in words for a client.

    Parameters
    ----------
    recommendation : str, optional
        Its id.
    answer : str, optional
        Instead of an id: ``better``, ``worse``, ``equivalent`` or ``not settled``, for the first
        recommendation with such an answer.
    language, style : str, optional
        ``en`` or ``de``; a citation style.
    client : str, optional
        A client's file or code.
    **profile
        Or what is known of the client: ``training_status, sex, age, does_now, baseline, unit,
        cares_about, minutes_per_week, sessions_per_week``.
    """
    library = library_in_use()
    settings = read_settings(library.folder)
    chosen = recommendation if answer is None else _with_answer(library, answer)
    if chosen is None:
        if answer is None:
            raise UsageError("name a recommendation, or an answer to look for")
        return NothingYet(f"No recommendation of this library has the answer {answer!r}.")
    known = None
    if client is not None:
        known = read_profile(client, settings)
    elif profile:
        known = validate(profile, ClientProfile, file="what is known of the client")
    found = explained(
        library, chosen, profile=known, settings=settings, language=language, style=style
    )
    return ExplanationPage(found, settings, library)


def check_plan(plan: str, *, language: str | None = None) -> PlanCheck:
    """Hold a weekly plan against the recommendations.

    Parameters
    ----------
    plan : str
        A file (csv or xlsx), or lines with commas, the first naming the columns.
    language : str, optional
        ``en`` or ``de``; as the settings say if not given.
    """
    library = library_in_use()
    settings = read_settings(library.folder)
    return check_of(library, plan, settings=settings, language=language)


def _with_answer(library: Library, answer: str) -> str | None:
    if answer not in ANSWERS:
        raise UsageError(f"answer must be one of {', '.join(ANSWERS)}; it is {answer!r}")
    # One that names a dose has more to show: two ways of training side by side.
    for record in sorted(library.recommendations.values(), key=lambda each: not gives_dose(each)):
        _, answers = evidence_of(library, record.id)
        first = answers[0]
        if first.weighing is not None and first.weighing.verdict.word == answer:
            return record.id
    return None
