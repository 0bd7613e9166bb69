"""A certainty: the word, and every step that led to it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from steelyard.judging.appraisal.weights import ConcernWeights
from steelyard.judging.certainty.rules import word_of
from steelyard.judging.directness import Directness
from steelyard.records.recommendation import Override
from steelyard.show import Shown, Table, number


@dataclass(frozen=True, slots=True)
class Step:
    """One domain's step.

    Attributes
    ----------
    domain : str
    step : int
        Taken; after overruling.
    by_rule : int
        What the rules alone take.
    facts : tuple of (str, str)
        Name and value in words.
    rule : str
        The condition that held.
    sentence : str
    source : str
        Of the rule.
    caps : str
        The highest word left; empty for none.
    override : Override or None
    """

    domain: str
    step: int
    by_rule: int
    facts: tuple[tuple[str, str], ...]
    rule: str
    sentence: str
    source: str
    caps: str
    override: Override | None

    def why(self) -> str:
        """The sentence; where a person overruled the rules, who, when, why, and both steps."""
        by = self.override
        if by is None:
            return self.sentence
        return (
            f"{by.reason} (overruled by {by.by}, {by.date}; the rules take "
            f"{step_text(self.by_rule)}: {self.sentence})"
        )

    def text(self) -> str:
        """The step and its sentence, and both steps where a person overruled the rules."""
        cap = f"; no higher than {self.caps}" if self.caps else ""
        if self.override is None:
            return f"{step_text(self.step)}{cap}: {self.sentence}"
        by = self.override
        return (
            f"{step_text(self.step)}{cap} by {by.by}, {by.date}: {by.reason} "
            f"(the rules take {step_text(self.by_rule)}: {self.sentence})"
        )


@dataclass(frozen=True, slots=True)
class Tipping:
    """How far a fact is from changing the word or a step.

    Attributes
    ----------
    domain : str
        Empty where all domains are meant.
    quantity : str
        Name of the fact.
    now, at : float
        Its value, and the value at which things change.
    step : int or None
        The domain's step beyond `at`; None where all domains are meant.
    word : str
        The certainty beyond `at`.
    sentence : str
    """

    domain: str
    quantity: str
    now: float
    at: float
    step: int | None
    word: str
    sentence: str


@dataclass(frozen=True, slots=True, eq=False)
class Certainty(Shown):
    """How sure an answer is, and why.

    Attributes
    ----------
    question : str
    word : str
        ``high``, ``moderate``, ``low`` or ``very low``.
    word_by_rules : str
        Before anybody overruled a step.
    level, start : int
        4 for high to 1 for very low; `level` may lie below 1 before it is put in words.
    start_sentence, start_source : str
    steps : tuple of Step
        One per domain.
    capped_by : tuple of str
        Domains that hold the word down.
    tipping_of : callable
        Gives `tipping`; worked out when first asked for, since it takes longer than the rest.
    directness : Directness
    concerns : ConcernWeights
    notes : tuple of str
        Overrulings that do not count, and why.
    rules : str
        File of the rules.
    fingerprint : str
    """

    question: str
    word: str
    word_by_rules: str
    level: int
    start: int
    start_sentence: str
    start_source: str
    steps: tuple[Step, ...]
    capped_by: tuple[str, ...]
    tipping_of: Callable[[], tuple[Tipping, ...]]
    directness: Directness
    concerns: ConcernWeights
    notes: tuple[str, ...]
    rules: str
    fingerprint: str

    @property
    def tipping(self) -> tuple[Tipping, ...]:
        """Every nearest change of the word or of a step."""
        return self.tipping_of()

    def step(self, domain: str) -> Step:
        return next(step for step in self.steps if step.domain == domain)

    @property
    def overruled(self) -> bool:
        return any(step.override for step in self.steps)

    def as_json(self) -> dict:
        """The machine's view."""
        return {
            "question": self.question,
            "certainty": self.word,
            "certainty_by_rules": self.word_by_rules,
            "level": self.level,
            "start": self.start,
            "start_sentence": self.start_sentence,
            "steps": [
                {
                    "domain": step.domain,
                    "step": step.step,
                    "step_by_rule": step.by_rule,
                    "facts": dict(step.facts),
                    "rule": step.rule,
                    "sentence": step.sentence,
                    "source": step.source,
                    "caps": step.caps or None,
                    "override": None
                    if step.override is None
                    else {
                        "reason": step.override.reason,
                        "by": step.override.by,
                        "date": step.override.date.isoformat(),
                    },
                }
                for step in self.steps
            ],
            "capped_by": list(self.capped_by),
            "tipping": [
                {
                    "domain": tip.domain or None,
                    "quantity": tip.quantity,
                    "now": tip.now,
                    "at": tip.at,
                    "step": tip.step,
                    "certainty": tip.word,
                    "sentence": tip.sentence,
                }
                for tip in self.tipping
            ],
            "directness": {
                "sentence": self.directness.sentence,
                "shares": dict(self.directness.shares),
                "together": self.directness.together if self.directness.person.described else None,
                "surrogate": self.directness.surrogate,
                "carried_over": list(self.directness.carried_over),
            },
            "notes": list(self.notes),
            "rules": self.rules,
            "fingerprint": self.fingerprint,
        }

    def table(self) -> Table:
        """A row per domain: facts, rule, step and sentence."""
        start = ("start", "", "", f"{self.start} of 4", self.start_sentence)
        rows = [
            (
                step.domain,
                "\n".join(f"{name}: {text}" for name, text in step.facts),
                f"{step.rule}\n({step.source})",
                step_text(step.step),
                step.why(),
            )
            for step in self.steps
        ]
        end = ("certainty", "", "", self.word, self._in_short())
        notes = [*(tip.sentence for tip in self.tipping), *self.notes]
        columns = ("domain", "facts", "rule", "step", "in a sentence")
        return Table(self._title(), columns, (start, *rows, end), tuple(notes))

    def grounds(self) -> str:
        """The word with every step that led to it, in one line."""
        taken = [f"{step.domain} {step_text(step.step)}" for step in self.steps if step.step]
        taken += [f"no higher by {domain}" for domain in self.capped_by]
        overruled = [step.domain for step in self.steps if step.override]
        if overruled:
            taken.append(f"overruled by a person: {', '.join(overruled)}")
        start = word_of(self.start)
        return f"{self.word} (starts at {start}; {'; '.join(taken) or 'no step taken'})"

    def _in_short(self) -> str:
        text = ""
        if self.capped_by:
            text = f"held down by {' and '.join(self.capped_by)}"
        if self.word != self.word_by_rules:
            text += f"{'; ' if text else ''}the rules alone say {self.word_by_rules}"
        return text

    def _title(self) -> str:
        return f"Certainty: {self.question}"

    def _rows(self) -> list[tuple[str, str]]:
        short = self._in_short()
        rows = [("certainty", f"{self.word}{f' ({short})' if short else ''}")]
        rows.append(("start", f"{self.start} of 4: {self.start_sentence}"))
        rows += [(step.domain, step.text()) for step in self.steps]
        rows.append(("for whom", self.directness.sentence))
        rows += [("would change", tip.sentence) for tip in self.tipping]
        rows += [("note", note) for note in self.notes]
        return rows


def step_text(step: int) -> str:
    """``no step``, ``−1``, ``+1``."""
    return "no step" if step == 0 else number(step, decimals=0, sign=True)
