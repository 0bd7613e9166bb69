"""How much of a weighing's weight is retracted, corrected, not reviewed, read once or unplaced."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from steelyard.effects.formed import RETRACTED, SUSPECT
from steelyard.judging.repool import used_rows
from steelyard.pooling.held_out import holds_suspects
from steelyard.pooling.weighing import Weighing
from steelyard.records.study import Study
from steelyard.show import count

HEAVY = 0.30  # own rule: an answer that hangs on one study is worth a word


def soundness_warnings(weighing: Weighing, studies: Mapping[str, Study]) -> Iterator[str]:
    """One sentence per weakness, with its share of the weight and the studies."""
    used = used_rows(weighing)
    out = weighing.studies[~weighing.studies["used"]]
    gone = out.loc[out["flags"].str.contains(RETRACTED, regex=False), "study"]
    if len(gone):
        papers = count(len(gone), "retracted study", "retracted studies")
        yield f"{papers}, no weight: {_named(gone)}"
    held = out[~out["study"].isin(gone)]
    suspect = held["flags"].str.contains(SUSPECT, regex=False) & holds_suspects(weighing.question)
    if suspect.any():
        yield f"held out for suspect numbers: {_named(held.loc[suspect, 'study'])}"
    if not suspect.all():
        names = _named(held.loc[~suspect, "study"])
        yield f"held out, as which SD the effect is in is not printed: {names}"
    for row in used[used["weight"] > HEAVY].itertuples():
        if len(used) > 1:
            yield f"{row.study} alone carries {100 * row.weight:.0f} % of the weight"
    behind = _behind(weighing)
    weaknesses = {
        "comes from suspect numbers": {
            row.study for row in used.itertuples() if SUSPECT in row.flags
        },
        "comes from corrected papers": _with_status(used["study"], studies, "corrected"),
        "comes from preprints": _with_status(used["study"], studies, "preprint"),
        "was read by one person only": _lacking("checked_by", behind, studies),
        "has no place in the paper on record": _lacking("where", behind, studies),
    }
    for words, named in weaknesses.items():
        share = float(used.loc[used["study"].isin(named), "weight"].sum())
        if named:
            few = f": {_named(sorted(named))}" if len(named) <= 5 else ""
            studies_said = count(len(named), "study", "studies")
            yield f"{100 * share:.0f} % of the weight ({studies_said}) {words}{few}"


def _with_status(names, studies: Mapping[str, Study], status: str) -> set[str]:
    return {name for name in names if studies[name].source.status == status}


def _behind(weighing: Weighing) -> dict[str, tuple[set[str], set[str]]]:
    """Outcomes and arms behind each study's effects."""
    behind: dict[str, tuple[set[str], set[str]]] = {}
    columns = ["study", "outcome", "intervention", "comparator"]
    used = weighing.effects.loc[weighing.effects["used"], columns]
    for study, outcome, one, other in used.itertuples(index=False, name=None):
        outcomes, arms = behind.setdefault(study, (set(), set()))
        outcomes.add(outcome)
        arms |= {one, other}
    return behind


def _lacking(
    name: str, behind: Mapping[str, tuple[set[str], set[str]]], studies: Mapping[str, Study]
) -> set[str]:
    return {study for study, parts in behind.items() if not _all_say(name, studies[study], *parts)}


def _all_say(name: str, study: Study, outcomes: set[str], arms: set[str]) -> bool:
    """Whether every result and comparison behind the study's effects has a value there."""
    parts = [
        *(r for r in study.results if r.outcome in outcomes and r.arm in arms),
        *(
            c
            for c in study.comparisons
            if c.outcome in outcomes and {c.intervention, c.comparator} <= arms
        ),
    ]
    return bool(parts) and all(getattr(part, name) for part in parts)


def _named(names) -> str:
    return ", ".join(names)
