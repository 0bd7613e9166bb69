"""The studies behind an answer: who, what was done, what was measured and where it stands."""

from __future__ import annotations

from steelyard.effects.selection import select
from steelyard.explaining.page_caution import INVENTED_DATA
from steelyard.notebook.answer import Answer
from steelyard.notebook.dose_words import dose_parts
from steelyard.notebook.stack import Folded
from steelyard.records.study import Study
from steelyard.show import Table, count, number

COLUMNS = ("study", "people", "design", "training", "measured", "counts for")
_DESIGN = {
    "parallel": "separate groups",
    "crossover": "crossover",
    "within-person": "two limbs of the same people",
    "single-group": "one group",
    "cluster": "allocated in clusters",
}
_STATUS = {"retracted": "RETRACTED", "preprint": "preprint", "corrected": "corrected since"}


def studies_table(answer: Answer) -> Folded:
    """One row per study that touches the question, those pooled first by weight."""
    weights = {}
    flags: dict[str, list[str]] = {}
    if answer.weighing is not None:
        for row in answer.weighing.studies.itertuples():
            weights[row.study] = max(weights.get(row.study, 0.0), float(row.weight))
            flags.setdefault(row.study, []).extend(filter(None, row.flags.split("; ")))
    touched = [*answer.table.rows["study"], *(out.study for out in answer.table.left_out)]
    order = sorted(dict.fromkeys(touched), key=lambda study: (-weights.get(study, 0.0), study))
    rows = tuple(
        _row(
            answer,
            answer.library.studies[study],
            weight=weights.get(study, 0.0),
            flags=tuple(dict.fromkeys(flags.get(study, ()))),
        )
        for study in order
    )
    notes = (INVENTED_DATA,) if answer.invented else ()
    summary = f"{count(len(rows), 'study', 'studies')}, in full"
    return Folded(summary, Table(answer.question.asks, COLUMNS, rows, notes))


def _row(answer: Answer, study: Study, *, weight: float, flags: tuple[str, ...]) -> tuple[str, ...]:
    title = f"{study.label}\n{study.source.title}"
    if study.source.status != "published":
        title += f"\n{_STATUS[study.source.status]}"
    share = f"{number(100 * weight, decimals=1)} %" if weight > 0 else "not pooled"
    return (
        title,
        _people(study),
        _design(study),
        _training(answer, study),
        _measured(answer, study),
        "\n".join((share, *flags)),
    )


def _people(study: Study) -> str:
    who, parts = study.population, []
    if who.n_randomised:
        # The plot counts those analysed, which may be fewer.
        began = "randomised" if study.design.randomised else "at the start"
        parts.append(f"{count(who.n_randomised, 'person', 'people')} {began}")
    parts.append(who.description)
    if who.training_status != "not reported":
        parts.append(who.training_status.replace("-", " "))
    if who.age_mean is not None:
        parts.append(f"mean age {who.age_mean}")
    return "\n".join(parts)


def _design(study: Study) -> str:
    design = study.design
    chance = {True: "randomised", False: "not randomised", None: "randomisation not reported"}
    parts = [_DESIGN[design.kind], chance[design.randomised]]
    if design.duration_weeks is not None:
        parts.append(f"{design.duration_weeks} weeks")
    if design.equated != "not reported":
        parts.append(f"held equal: {design.equated}")
    return "\n".join(parts)


def _training(answer: Answer, study: Study) -> str:
    rows = answer.table.rows
    own = rows[rows["study"] == study.id]
    used = [*own["intervention"], *own["comparator"]]
    arms = [arm for arm in study.arms if arm.id in used] or list(study.arms)
    doses = [dose_parts(arm.dose) for arm in arms]
    alike = [part for part in doses[0] if all(part in dose for dose in doses)]
    if len(arms) == 1:
        alike = []
    lines = []
    for arm, dose in zip(arms, doses, strict=True):
        own_parts = ", ".join(part for part in dose if part not in (*alike, arm.name))
        size = f" (n {arm.n})" if arm.n else ""
        lines.append(f"{arm.name}{size}: {own_parts}" if own_parts else f"{arm.name}{size}")
    if alike:
        lines.append(f"{'both' if len(arms) == 2 else 'all'}: {', '.join(alike)}")
    return "\n".join(lines)


def _measured(answer: Answer, study: Study) -> str:
    rows = answer.table.rows
    own = rows[rows["study"] == study.id]
    lines = []
    for row in own.itertuples():
        outcome = study.outcome(row.outcome)
        unit = f", {outcome.unit}" if outcome.unit else ""
        where = f" ({row.where})" if row.where else ""
        lines.append(f"{outcome.name}{unit}, week {row.week:g}{where}")
    if not lines:
        chosen = (item for item in select(answer.question, study) if hasattr(item, "outcome"))
        lines = [item.outcome.name for item in chosen]
    return "\n".join(dict.fromkeys(lines))
