"""How strongly to advise: from certainty, size and cost, by a table anybody can read."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from steelyard.errors import DesignError
from steelyard.judging.conditions import read_rules
from steelyard.pooling.verdict import BETTER, EQUIVALENT, WORSE
from steelyard.pooling.weighing import Weighing
from steelyard.show import Shown

COSTS = ("small", "medium", "large")
NOT_RATED = "medium"
SIZE_IN_WORDS = {
    "matters": "better by enough to matter",
    "leans": "better on average, perhaps by too little to matter",
    "same": "about the same",
    "open": "not settled",
    "leans against": "worse on average, perhaps by too little to matter",
    "against": "worse by enough to matter",
}


@dataclass(frozen=True, slots=True)
class Strength(Shown):
    """How strongly to advise.

    Attributes
    ----------
    word : str
    certainty : str
    size : str
        ``matters``, ``leans``, ``same``, ``open``, ``leans against`` or ``against``.
    cost : str
        ``small``, ``medium`` or ``large``.
    cost_rated : bool
        False where nobody rated the cost and medium is taken.
    source : str
    of : str
        Whose strength it is: what is asked of the outcome, and which side is advised.
    """

    word: str
    certainty: str
    size: str
    cost: str
    cost_rated: bool
    source: str
    of: str

    @property
    def sentence(self) -> str:
        """What is advised how strongly, with the three grounds."""
        cost = f"{self.cost} cost" if self.cost_rated else f"cost not rated, taken as {self.cost}"
        grounds = f"{self.certainty} certainty, {SIZE_IN_WORDS[self.size]}, {cost}"
        return f"{self.of}: {self.word} ({grounds})"

    def _title(self) -> str:
        return "Strength of advice"

    def _rows(self) -> list[tuple[str, str]]:
        return [("advice", self.sentence), ("by", self.source)]


@cache
def advice_table() -> dict[str, Any]:
    """The table as plain values: size, then certainty, then cost; and what is common practice."""
    return read_rules(Path(__file__).with_name("advice.toml"))


def strength_of_advice(weighing: Weighing, certainty: str, *, cost: str | None = None) -> Strength:
    """How strongly to advise the intervention.

    Parameters
    ----------
    weighing : Weighing
    certainty : str
        ``high``, ``moderate``, ``low`` or ``very low``.
    cost : str, optional
        ``small``, ``medium`` or ``large``; medium where nobody rated it.

    Returns
    -------
    Strength

    Raises
    ------
    DesignError
        If a word is not one of these.
    """
    table = advice_table()
    size = size_of(weighing)
    if certainty not in table[size]:
        raise DesignError(f"expected a certainty of {', '.join(table[size])}; it is {certainty!r}")
    if cost is not None and cost not in COSTS:
        raise DesignError(f"expected a cost of {', '.join(COSTS)}; it is {cost!r}")
    taken = cost or NOT_RATED
    return Strength(
        word=table[size][certainty][taken],
        certainty=certainty,
        size=size,
        cost=taken,
        cost_rated=cost is not None,
        source=table["source"],
        of=advised(weighing),
    )


def advised(weighing: Weighing) -> str:
    """What a strength of advice is about; a statement may advise the other side, or neither."""
    outcome = " and ".join(each.replace("-", " ") for each in weighing.question.constructs)
    return f"for {weighing.intervention} rather than {weighing.comparator}, as to {outcome}"


def size_of(weighing: Weighing) -> str:
    """Where the interval lies, as a word of the table."""
    settled = {BETTER: "matters", EQUIVALENT: "same", WORSE: "against"}
    if weighing.verdict.word in settled:
        return settled[weighing.verdict.word]
    if weighing.low > 0:
        return "leans"
    return "leans against" if weighing.high < 0 else "open"
