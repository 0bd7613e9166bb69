"""What would change an answer: bounds near by, one more study, enough people, one study less."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from steelyard.judging.certainty.result import Certainty, Tipping
from steelyard.judging.one_more import OneMore, one_more_study
from steelyard.judging.repool import used_rows
from steelyard.pooling.pool_power import MoreToSettle, more_to_settle
from steelyard.pooling.turns import without_each_study
from steelyard.pooling.verdict import EQUIVALENT, NOT_SETTLED
from steelyard.pooling.weighing import Weighing
from steelyard.show import Shown, about

NO_MORE_STUDIES = "the interval already says"
MANY = 100  # further studies that nobody will make (own rule)


@dataclass(frozen=True, slots=True)
class WithoutOne:
    """The answer without the study whose absence moves it most.

    Attributes
    ----------
    study, label : str
    estimate, low, high : float
        Without it; machine scale.
    verdict : str
        Without it; empty where no smallest worthwhile effect is set.
    turns : tuple of str
        Labels of every study without which the verdict would be another.
    """

    study: str
    label: str
    estimate: float
    low: float
    high: float
    verdict: str
    turns: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class WouldChange(Shown):
    """What would change one answer.

    Attributes
    ----------
    weighing : Weighing
    tipping : tuple of Tipping
        Those beyond which the certainty is another word.
    certainty : str
        Now.
    one_more : OneMore
    to_settle : MoreToSettle or None
        None without a smallest worthwhile effect.
    without_one : WithoutOne or None
        None with a single study.
    """

    weighing: Weighing
    tipping: tuple[Tipping, ...]
    certainty: str
    one_more: OneMore
    to_settle: MoreToSettle | None
    without_one: WithoutOne | None

    def _title(self) -> str:
        return f"What would change our mind: {self.weighing.question.asks}"

    def _rows(self) -> list[tuple[str, str]]:
        rows = [("certainty", f"now {self.certainty}; no single fact near by would change it")]
        if self.tipping:
            found: dict[str, list[str]] = {"certainty": [f"now {self.certainty}"]}
            for tip in self.tipping:
                sentence = tip.sentence.removeprefix(f"{tip.domain}: ")
                found.setdefault(tip.domain or "certainty", []).append(sentence)
            rows = [(name, "; ".join(sentences)) for name, sentences in found.items()]
        rows.append(("a further study", self.one_more.sentence))
        if self.to_settle is not None:
            rows.append(("to settle it", _settling(self.to_settle)))
        if self.without_one is not None:
            rows.append(("without one study", self._without()))
        return rows

    def _without(self) -> str:
        found, weighing = self.without_one, self.weighing
        text = (
            f"{found.label} moves it most: without it {weighing.text(found.estimate)}, "
            f"{weighing.span(found.low, found.high)}"
        )
        if not found.verdict:
            return text
        if not found.turns:
            return f"{text}; the verdict hangs on no single study"
        return f"{text}; the verdict would be another without {' or without '.join(found.turns)}"


def would_change(weighing: Weighing, certainty: Certainty) -> WouldChange:
    """Everything near by that would change an answer.

    Parameters
    ----------
    weighing : Weighing
    certainty : Certainty
        Of this weighing.

    Returns
    -------
    WouldChange

    Notes
    -----
    Studies are left out by the very method of the weighing. They are added and counted with one
    effect and variance each, as `one_more_study` does, whatever the dependence within them.
    """
    return WouldChange(
        weighing=weighing,
        tipping=_that_turn(certainty),
        certainty=certainty.word,
        one_more=one_more_study(weighing),
        to_settle=_to_settle(weighing),
        without_one=_without_one(weighing),
    )


def _that_turn(certainty: Certainty) -> tuple[Tipping, ...]:
    """Tipping points of the word; where one says it for all domains, none says it again."""
    whole = [tip for tip in certainty.tipping if not tip.domain]
    said = {tip.quantity for tip in whole}
    others = [
        tip
        for tip in certainty.tipping
        if tip.domain and tip.word != certainty.word and tip.quantity not in said
    ]
    return (*whole, *others)


def _to_settle(weighing: Weighing) -> MoreToSettle | None:
    if not weighing.worthwhile:
        return None
    used, model = used_rows(weighing), weighing.question.model
    people = used["people"].to_numpy(float)
    return more_to_settle(
        used["effect"],
        used["variance"],
        worthwhile=weighing.worthwhile,
        people=people if (people > 0).all() else None,
        between=model.between,
        interval=model.interval,
        level=weighing.level,
    )


def _settling(found: MoreToSettle) -> str:
    if found.now != NOT_SETTLED:
        return (
            f"{NO_MORE_STUDIES} {found.now!r}, if these studies are sound; it takes no more like "
            "them"
        )
    if not found.towards:
        return (
            "the estimate lies on the border of what is worth having: more of the same cannot say "
            "on which side the truth is"
        )
    if found.studies is None:
        return "no number of studies like these would settle it where the estimate now lies"
    people = "" if found.people is None else f", about {about(found.people)} people,"
    studies = f"{about(found.studies)} more {'study' if found.studies == 1 else 'studies'}"
    text = (
        f"{'about ' * (found.studies > 99)}{studies} of the usual size{people} if the "
        f"estimate stays where it is, which leads to {found.towards!r}"
    )
    if found.towards != EQUIVALENT:
        text += ", and as likely as not more"
    if found.studies > 1 and found.one_study_people is not None:
        text += f"; or a single study of about {about(found.one_study_people)} people"
    elif np.isnan(found.one_study_variance):
        text += "; no single study could, however large, since studies differ among themselves"
    if found.studies > MANY:
        text += ". Nobody will make so many: expect it to stay open"
    return text


def _without_one(weighing: Weighing) -> WithoutOne | None:
    if weighing.k_studies < 2:
        return None
    table = without_each_study(weighing)
    most = table.iloc[int(table["shift"].abs().to_numpy().argmax())]
    now = weighing.verdict.word
    return WithoutOne(
        study=most["study"],
        label=most["label"],
        estimate=float(most["estimate"]),
        low=float(most["low"]),
        high=float(most["high"]),
        verdict=most["verdict"],
        turns=tuple(table.loc[table["verdict"] != now, "label"]) if now else (),
    )
