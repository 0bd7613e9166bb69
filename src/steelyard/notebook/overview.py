"""Every recommendation of a library with its answers, and the questions without one."""

from __future__ import annotations

from dataclasses import dataclass, field

from steelyard.explaining.page_caution import INVENTED_DATA
from steelyard.library import Library
from steelyard.notebook.answer import Answer, answer_to
from steelyard.notebook.fit import PICTURES_FIT
from steelyard.notebook.missing import left_out, missing_answers
from steelyard.show import Table, count

COLUMNS = ("recommendation", "question", "answer", "size", "evidence")
UNBROKEN = "\u00a0"
NO_RECOMMENDATION = "none yet rests on this question"


@dataclass(frozen=True, slots=True)
class Line:
    """One question under one recommendation, or under none (an empty statement)."""

    recommendation: str
    statement: str
    answer: Answer


@dataclass(frozen=True, slots=True)
class Overview:
    """All answers of a library in one table."""

    library: Library = field(repr=False)

    def lines(self) -> tuple[Line, ...]:
        """A line per recommendation and question; questions of no recommendation come last."""
        lines, seen = [], set()
        for record in self.library.recommendations.values():
            for question_id in record.questions:
                if question_id not in self.library.questions:
                    continue
                seen.add(question_id)
                answer = answer_to(self.library, question_id)
                lines.append(Line(record.id, record.statement, answer))
        for question_id in self.library.questions:
            if question_id not in seen:
                lines.append(Line("", "", answer_to(self.library, question_id)))
        return tuple(lines)

    def table(self) -> Table:
        """The lines as a table."""
        lines = self.lines()
        title = (
            f"{count(len(self.library.recommendations), 'recommendation')}, "
            f"{count(len(self.library.questions), 'question')}, "
            f"{count(len(self.library.studies), 'study', 'studies')}"
        )
        invented = any(line.answer.invented for line in lines)
        notes = [INVENTED_DATA] if invented else []
        notes += [str(each) for each in missing_answers(self.library)]
        notes += filter(None, [left_out(self.library)])
        return Table(title, COLUMNS, tuple(map(_row, lines)), tuple(notes))

    def __str__(self) -> str:
        return str(self.table())

    def _repr_pretty_(self, printer, cycle: bool) -> None:
        printer.text(str(self))

    def _repr_html_(self) -> str:
        return PICTURES_FIT + self.table()._repr_html_()


def _row(line: Line) -> tuple[str, ...]:
    weighing = line.answer.weighing
    head = (line.statement or NO_RECOMMENDATION, line.answer.question.asks)
    if weighing is None:
        return (*head, f"nothing to pool: {line.answer.why_not}", "", "")
    percent = f"{100 * weighing.level:g} %"
    size = (
        f"{weighing.text(weighing.estimate)}\n{percent} interval\n"
        f"{weighing.span(weighing.low, weighing.high)}"
    )
    return (
        *head,
        weighing.verdict.sentence,
        size.replace(" ", UNBROKEN),
        f"{count(weighing.k_studies, 'study', 'studies')}\n{weighing.people:,} people",
    )
