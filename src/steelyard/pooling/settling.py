"""Which effects the studies there are could settle, were they true."""

from __future__ import annotations

from dataclasses import dataclass

from steelyard.pooling.detectable import Settleable, settleable
from steelyard.pooling.weighing import Weighing
from steelyard.show import Table

SAID = "Reckoned with one effect per study and the scatter found among these studies."


@dataclass(frozen=True, slots=True, eq=False)
class CouldSettle:
    """What a pool of these studies settles four times in five.

    Attributes
    ----------
    weighing : Weighing
    found : Settleable
        Machine scale.
    """

    weighing: Weighing
    found: Settleable

    @property
    def sentence(self) -> str:
        """The smallest effects that studies like these could settle."""
        found, times = self.found, f"{100 * self.found.power:g} times in 100"
        beyond = "further from 1" if self.weighing.scale.kind == "log" else "more"
        if not self.weighing.worthwhile:
            return (
                f"These studies would tell the better of two {times} from a true difference of "
                f"{self._size(found.direction)} on."
            )
        return (
            f"These studies would show a difference that matters {times} if it were "
            f"{self._size(found.worth_having)} or {beyond}, and sameness if what matters began at "
            f"{self._size(found.same)}."
        )

    def _size(self, value: float) -> str:
        return self.weighing.text(abs(value)).lstrip("+\u2212")

    def table(self) -> Table:
        """A row per thing to settle."""
        found = self.found
        rows = [("which of the two is ahead", f"a true effect of {self._size(found.direction)}")]
        if self.weighing.worthwhile:
            rows.append(
                (
                    "that it is enough to matter",
                    f"a true effect of {self._size(found.worth_having)}",
                )
            )
        rows.append(
            ("that the two are the same", f"if what matters began at {self._size(found.same)}")
        )
        title = f"What these studies could settle, {100 * found.power:g} times in 100"
        return Table(title, ("to settle", "takes"), tuple(rows), (SAID,))

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()


def could_settle(weighing: Weighing) -> CouldSettle:
    """The smallest effects that a weighing's studies could settle, at 80 % power."""
    used, model = weighing.studies[weighing.studies["used"]], weighing.question.model
    found = settleable(
        used["effect"],
        used["variance"],
        worthwhile=weighing.worthwhile or None,
        between=model.between,
        interval=model.interval,
        level=weighing.level,
    )
    return CouldSettle(weighing, found)
