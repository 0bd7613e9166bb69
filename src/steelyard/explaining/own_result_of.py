"""A client's before and after joined with the evidence behind an explanation."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Literal

from pydantic import Field

from steelyard.errors import DesignError, UsageError
from steelyard.explaining.expectation import expectation
from steelyard.explaining.explanation import Explanation
from steelyard.explaining.own_result import OwnResult, above_zero, own_result
from steelyard.explaining.people_and_limits import start_outside
from steelyard.explaining.unit_names import same_unit
from steelyard.explaining.wording.catalogue import catalogue
from steelyard.records.model import Record, Words
from steelyard.records.printed import Printed
from steelyard.records.reading import read_record


class TestsOfClient(Record):
    """A file with one client's tests: trials before and after, and the measure's error."""

    schema_version: Literal[1] | None = None
    before: tuple[Printed, ...] = Field(min_length=1)
    after: tuple[Printed, ...] = Field(min_length=1)
    typical_error: Printed
    unit: Words | None = None

    def numbers(self) -> dict[str, object]:
        """As `own_result_of` takes them."""
        return {
            "before": [float(trial) for trial in self.before],
            "after": [float(trial) for trial in self.after],
            "typical_error": float(self.typical_error),
            "unit": self.unit,
        }


def read_tests(path: str | Path) -> TestsOfClient:
    """Read ``before``, ``after`` and ``typical_error`` from a TOML file.

    Raises
    ------
    UsageError
        If there is no such file.
    RecordError
        With every fault in it.
    """
    file = Path(path)
    if not file.is_file():
        raise UsageError(
            f"no file {file.name!r} there; expected a TOML file with before = [193, 197], "
            "after = [228, 232] and typical_error = 9"
        )
    return read_record(file, TestsOfClient)


def own_result_of(
    explanation: Explanation,
    before: float | Sequence[float],
    after: float | Sequence[float],
    *,
    typical_error: float,
    unit: str | None = None,
) -> OwnResult:
    """Hold one client's tests against error, and join them with what was explained.

    Parameters
    ----------
    explanation : Explanation
        Its first question is the one joined with.
    before, after : float or sequence of float
        Trials in the question's unit.
    typical_error : float
        Of one measurement, above 0; same unit.
    unit : str, optional
        Of the tests, if known; another one than the question's is refused.

    Raises
    ------
    UsageError
        Where the answer counts people.
    DesignError
        For numbers outside their range, or tests in another unit.
    """
    first = explanation.evidence[0]
    words = catalogue(explanation.language)
    above_zero(typical_error, "typical_error")
    if first.counts:
        raise UsageError(words.say("own.counts"))
    asked = first.question.client.unit
    if unit is not None and asked is not None and not same_unit(unit, asked):
        raise DesignError(f"the tests are in {unit}, and {first.question.id} asks in {asked}")
    known: dict = {"unit": asked or unit or ""}
    try:
        expected = expectation(first, typical_error=typical_error, words=words)
    except DesignError as why:
        notes = (words.say("own.not_joined", why=why),)
    else:
        notes = expected.notes
        known = {
            "unit": expected.unit,
            "expected": expected.mean,
            "expected_sd": expected.sd,
            "worthwhile": expected.worthwhile,
            "certainty": "" if first.certainty is None else first.certainty.word,
        }
    lower = first.weighing is not None and first.lower_is_better
    return own_result(
        before,
        after,
        typical_error=typical_error,
        better="lower" if lower else "higher",
        language=explanation.language,
        invented=explanation.invented,
        notes=(*notes, *start_outside(first, before, words=words)),
        **known,
    )
