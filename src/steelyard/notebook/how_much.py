"""How much of it: dose and response, and a recommended dose against what was tested."""

from __future__ import annotations

from steelyard.errors import DesignError
from steelyard.explaining.page_caution import INVENTED_DATA
from steelyard.judging.dose import LABELS, DoseCheck, check_dose
from steelyard.judging.pictures_dose import (
    dose_sentence,
    range_in_words,
    tested_dose_data,
    tested_in_words,
)
from steelyard.notebook.answer import Answer
from steelyard.notebook.dose_words import dose_in_words
from steelyard.notebook.drawn import Drawn
from steelyard.notebook.stack import Folded
from steelyard.notebook.told import Told, lines
from steelyard.pooling.dose_answer import dose_answer
from steelyard.pooling.dose_data import dose_data
from steelyard.records.recommendation import Recommendation
from steelyard.show import Table

DOSE = ("part of the dose", "recommended", "tested", "so it is")
NO_AMOUNTS = (
    "The studies behind this compared two things and not amounts of one, so they do not say how "
    "much of it is best."
)
NO_DOSE = "No dose is recommended in numbers."


def how_much(answer: Answer, recommendation: Recommendation | None = None) -> Told:
    """Dose and response, and the recommended dose against what was tested.

    Parameters
    ----------
    answer : Answer
        With a weighing.
    recommendation : Recommendation, optional
        Whose dose it is.
    """
    response = _response(answer)
    if recommendation is None:
        return response
    checks = check_dose(recommendation, answer.weighing, answer.library.studies)
    said = dose_in_words(recommendation.dose)
    words = [response.sentence, f"Recommended: {said.rstrip('.')}." if said else ""]
    if not checks:
        words.append(NO_DOSE)
        return Told(lines(*words), response.pictures, response.tables)
    words.append(dose_sentence(checks))
    picture = Drawn(tested_dose_data(checks, answer.weighing), "tested_dose_plot")
    table = Folded("The dose against what was tested, as a table", _dose(answer, checks))
    return Told(
        lines(*words),
        (*response.pictures, picture),
        (*response.tables, table),
    )


def _response(answer: Answer) -> Told:
    if answer.question.dose is None:
        return Told(NO_AMOUNTS)
    try:
        found = dose_answer(answer.weighing, answer.library.studies.values())
    except DesignError as refused:
        return Told(f"No curve of dose and response can be drawn: {refused}.")
    table = Folded("Dose and response in numbers", found)
    return Told(found.sentence, (Drawn(dose_data(found), "dose_plot"),), (table,))


def _dose(answer: Answer, checks: tuple[DoseCheck, ...]) -> Table:
    rows = tuple(
        (LABELS[each.part], range_in_words(each.recommended), tested_in_words(each), each.mark)
        for each in checks
    )
    notes = (dose_sentence(checks), *((INVENTED_DATA,) if answer.invented else ()))
    return Table("The dose against what was tested", DOSE, rows, notes)
