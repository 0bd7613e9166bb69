"""How sure an answer is: each domain's facts, rule and step, and what would tip it."""

from __future__ import annotations

from steelyard.explaining.page_caution import INVENTED_DATA
from steelyard.judging.certainty import Certainty
from steelyard.judging.certainty.result import step_text
from steelyard.judging.pictures_concern import concern_data
from steelyard.notebook.answer import Answer
from steelyard.notebook.drawn import Drawn
from steelyard.notebook.stack import Sentence
from steelyard.records.recommendation import Recommendation
from steelyard.show import Table

COLUMNS = ("domain", "step", "why")
BEST = 4
INFORMED = (
    "The rules are data in one file and can be changed; they are informed by a panel's way of "
    "judging and no panel's judgement. A person may overrule any step, with a reason that stays."
)


def certainty_of(answer: Answer, recommendation: Recommendation | None = None) -> Certainty | None:
    """How sure the answer is; None where there is none."""
    if answer.weighing is None:
        return None
    return answer.library.certainty(answer.question.id, recommendation=recommendation)


def how_sure_words(certainty: Certainty) -> str:
    """The certainty in a sentence, with what takes it down."""
    reasons = [certainty.start_sentence] if certainty.start < BEST else []
    reasons += [
        step.why() for step in certainty.steps if step.step or step.domain in certainty.capped_by
    ]
    why = f", because {'; and '.join(reasons)}" if reasons else ": nothing takes it down"
    return f"{certainty.word.capitalize()} certainty{why}."


def certainty_table(answer: Answer, certainty: Certainty) -> Table:
    """Every domain with its facts, its rule and the step it takes."""
    start = ("start", f"{certainty.start} of {BEST}", _why(certainty.start_sentence))
    rows = [
        (
            step.domain,
            step_text(step.step) + (f"\nno higher than {step.caps}" if step.caps else ""),
            _why(
                step.why(),
                f"facts: {', '.join(f'{name} {text}' for name, text in step.facts)}",
                f"rule: {step.rule} ({step.source})",
            ),
        )
        for step in certainty.steps
    ]
    end = ("certainty", certainty.word, _why(certainty.grounds()))
    notes = [*certainty.notes, INFORMED, f"Evidence fingerprint {certainty.fingerprint}."]
    if answer.invented:
        notes.append(INVENTED_DATA)
    title = f"{certainty.word.capitalize()} certainty: {answer.question.asks}"
    return Table(title, COLUMNS, (start, *rows, end), tuple(notes))


def tipping_table(certainty: Certainty) -> Table | Sentence:
    """At which values of which facts a step would be another."""
    if not certainty.tipping:
        return Sentence("No single fact is near enough to a rule's bound to change a step.")
    found: dict[str, list[str]] = {}
    for tip in certainty.tipping:
        sentence = tip.sentence.removeprefix(f"{tip.domain}: ")
        found.setdefault(tip.domain or "certainty", []).append(sentence)
    rows = tuple((domain, "\n".join(sentences)) for domain, sentences in found.items())
    title = "How far each step is from changing, one fact at a time"
    return Table(title, ("domain", "would be"), rows)


def concern_picture(answer: Answer) -> Drawn:
    """The weight by concern of one answer."""
    certainty = certainty_of(answer)
    if certainty is None:
        return Drawn(None, "concern_plot", f"{answer.why_not}.")
    return Drawn(concern_data(certainty.concerns, answer.weighing), "concern_plot")


def _why(sentence: str, *more: str) -> str:
    return "\n".join((sentence, *more))
