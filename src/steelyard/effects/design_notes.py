"""What a study's design does to its effects, in words for whoever reads them."""

from __future__ import annotations

from steelyard.records.study import Study

# Manca, A., et al. (2017), Eur J Appl Physiol 117, 2335-2354: strength of the untrained limb
# +11.9 % (9.1 to 14.8 %) after training the other; digits from the abstract.
CROSS_EDUCATION = (
    "limbs of the same people are compared: training one limb makes the other stronger as well "
    "(by about a tenth in trials that trained one alone, Manca et al. 2017), which pulls "
    "differences in strength towards zero; size is touched less"
)
CARRY_OVER = (
    "the same people did both in turn: what the first period built up may still be there in the "
    "second, which pulls differences towards zero"
)


def design_notes(study: Study) -> tuple[str, ...]:
    """Sentences without a full stop, gravest first; empty for a plain randomised trial."""
    design, found = study.design, []
    if study.retracted:
        found.append("this study has been retracted: nothing in it counts")
    if design.kind == "single-group":
        found.append(
            "one group only: its change is that group's change, not an effect of training, as "
            "time, testing and chance at the start move it too"
        )
    if design.randomised is False and design.kind != "single-group":
        found.append("people were not allotted by chance: the groups may have differed before")
    if design.kind == "within-person":
        found.append(CROSS_EDUCATION + _reported(design.cross_education))
    if design.kind == "crossover":
        found.append(CARRY_OVER + _reported(design.carry_over))
    if design.kind == "cluster":
        if design.cluster_size is None:
            found.append(
                "whole groups were allotted and the paper does not say how large: intervals are "
                "too narrow by an unknown factor"
            )
        else:
            found.append(
                f"whole groups of about {float(design.cluster_size):g} were allotted: variances "
                "are widened by the design effect 1 + (size − 1) × correlation inside groups"
            )
    return tuple(found)


def _reported(said: str | None) -> str:
    return f"; the paper says: {said}" if said else "; the paper does not say"
