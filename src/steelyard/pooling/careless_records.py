"""Records after one slip of the hand: a standard error in the place of an SD."""

from __future__ import annotations

from decimal import Decimal

from steelyard.records.study import Result, Spread, Study

_SPREADS = ("pre", "post", "change")


def errors_as_spreads(study: Study) -> Study | None:
    """The study with every printed SE entered as an SD; None if it prints none."""
    return _changed(study, lambda spread, _: {"se": None, "sd": spread.se} if spread.se else {})


def spreads_as_errors(study: Study) -> Study | None:
    """The study had it printed SEs for its SDs, entered as SDs; None if it prints no SD."""

    def slip(spread: Spread, n: int) -> dict:
        return {"sd": spread.sd / Decimal(n).sqrt()} if spread.sd and n else {}

    return _changed(study, slip)


def _changed(study: Study, slip) -> Study | None:
    results = tuple(_slipped(result, study, slip) for result in study.results)
    if all(one is other for one, other in zip(results, study.results, strict=True)):
        return None
    return study.model_copy(update={"results": results})


def _slipped(result: Result, study: Study, slip) -> Result:
    n = result.n or study.arm(result.arm).n or 0
    update = {}
    for name in _SPREADS:
        spread = getattr(result, name)
        changes = slip(spread, n) if spread is not None else {}
        if changes:
            update[name] = spread.model_copy(update=changes)
    return result.model_copy(update=update) if update else result
