"""Looking at one question through what was held equal, and through how sets are counted."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from steelyard.effects.formed import SUSPECT
from steelyard.effects.table import EffectTable, build_table
from steelyard.errors import SteelyardError
from steelyard.pooling.weigh import weigh
from steelyard.pooling.weighing import Weighing
from steelyard.records.study import NOT_REPORTED, Arm, Study
from steelyard.records.vocabulary import Vocabulary
from steelyard.show import Shown, count

FEWEST_STUDIES = 2
# Own rule, as for a multilevel model and for regression: fewer settle nothing by themselves, so
# that another verdict through them tells of their number, not of the lens.
FEWEST_TO_TELL = 4
# What one set that trains a muscle in passing counts for: Pelland et al. (2024), preprint, found
# one half to fit best among these; from memory.
SHARES = (0, 0.5, 1)


@dataclass(frozen=True, slots=True)
class Lens:
    """The answer through one lens.

    Attributes
    ----------
    lens, group : str
        What is looked through; which part of the studies, or which way of counting.
    weighing : Weighing or None
    turned : bool
        Whether the verdict is another than with all, and enough studies say so.
    why_not : str
        Why there is no answer, or why its verdict is not held against that of all.
    """

    lens: str
    group: str
    weighing: Weighing | None
    turned: bool = False
    why_not: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Lenses(Shown):
    """A question weighed again through each lens that its records allow.

    Attributes
    ----------
    weighing : Weighing
        With all.
    found : tuple of Lens
    notes : tuple of str
    """

    weighing: Weighing
    found: tuple[Lens, ...]
    notes: tuple[str, ...]

    @property
    def sentence(self) -> str:
        """Whether any lens turns the verdict."""
        turned = [f"{each.lens} {each.group}" for each in self.found if each.turned]
        if not any(each.weighing for each in self.found):
            return "The records hold nothing to look through: too few studies of a kind."
        few = [f"{each.lens} {each.group}" for each in self.found if each.weighing and each.why_not]
        told = [each for each in self.found if each.weighing and not each.why_not]
        text = ""
        if turned:
            text = f"The verdict would be another through: {'; '.join(turned)}. "
        elif told:
            text = "Through none of these lenses is the verdict another. "
        if few:
            text += f"Too few studies to tell through: {'; '.join(few)}."
        return text.strip()

    def _title(self) -> str:
        return f"Through other lenses: {self.weighing.question.id}"

    def _rows(self) -> list[tuple[str, str]]:
        rows = [("in short", self.sentence)]
        for each in self.found:
            name = f"{each.lens}: {each.group}"
            if each.weighing is None:
                rows.append((name, each.why_not))
                continue
            show = each.weighing
            rows.append(
                (
                    name,
                    f"{show.text(show.estimate)} ({show.span(show.low, show.high)}), "
                    f"{count(show.k_studies, 'study', 'studies')}: "
                    f"{each.why_not or show.verdict.sentence}",
                )
            )
        return rows + [("note", note) for note in self.notes]


def lenses(
    weighing: Weighing,
    studies: Mapping[str, Study],
    *,
    vocabulary: Vocabulary | None = None,
    suspects: Mapping[tuple[str, str], str] | None = None,
) -> Lenses:
    """Weigh again for each class of what was equated, and for each way of counting sets.

    Parameters
    ----------
    weighing : Weighing
    studies : mapping of str to Study
    vocabulary : Vocabulary, optional
    suspects : mapping of (study, outcome) to str, optional
        As in `weigh`.

    Returns
    -------
    Lenses
        Ways of counting sets only for a question of ``sets_per_week``, and only where records
        tell direct sets from indirect ones.
    """
    rows = weighing.effects
    marked = rows[rows["flags"].str.contains(SUSPECT, regex=False)]
    known = dict.fromkeys(zip(marked["study"], marked["outcome"], strict=True), "as weighed")
    given = _Given(weighing, studies, vocabulary, known | dict(suspects or {}))
    found = [*_by_equated(given)]
    sets, notes = _by_counting(given)
    return Lenses(weighing, (*found, *sets), tuple(notes))


@dataclass(frozen=True, slots=True)
class _Given:
    weighing: Weighing
    studies: Mapping[str, Study]
    vocabulary: Vocabulary | None
    suspects: Mapping[tuple[str, str], str]


def equated_class(study: Study) -> str:
    """What was held equal, without what follows a colon; ``not reported`` where nothing says."""
    return study.design.equated.partition(":")[0].strip() or NOT_REPORTED


def _by_equated(given: _Given) -> list[Lens]:
    rows = given.weighing.effects
    classes = {study: equated_class(given.studies[study]) for study in rows["study"].unique()}
    if len(set(classes.values())) < 2:
        return []
    # The flag comes back with the suspects that are handed on.
    plain = [
        "; ".join(flag for flag in cell.split("; ") if flag != SUSPECT) for cell in rows["flags"]
    ]
    rows = rows.assign(flags=plain)
    columns = list(rows.columns.drop("used"))
    found = []
    for group in dict.fromkeys(classes.values()):
        inside = rows[[classes[study] == group for study in rows["study"]]]
        inside = inside[columns].reset_index(drop=True)
        table = EffectTable(inside, (), given.weighing.on_assumed_r)
        found.append(_lens(given, "equated", group, table))
    return found


def _lens(given: _Given, name: str, group: str, table: EffectTable) -> Lens:
    whole = given.weighing
    try:
        again = weigh(
            whole.question,
            table,
            suspects=given.suspects,
            intervention=whole.intervention,
            comparator=whole.comparator,
            invented=whole.invented,
            fingerprint=whole.fingerprint,
        )
    except SteelyardError as refused:
        return Lens(name, group, None, why_not=str(refused))
    if again.k_studies < FEWEST_STUDIES:
        return Lens(name, group, None, why_not="one study: nothing to pool")
    if again.k_studies < FEWEST_TO_TELL:
        return Lens(name, group, again, why_not="too few to tell")
    turned = again.verdict.sentence != whole.verdict.sentence
    return Lens(name, group, again, turned)


def _by_counting(given: _Given) -> tuple[list[Lens], list[str]]:
    question = given.weighing.question
    if question.dose != "sets_per_week":
        return [], []
    used = given.weighing.effects["study"].unique()
    telling = [study for study in used if any(map(_tells, given.studies[study].arms))]
    if not telling:
        return [], ["no paper tells sets for the muscle itself from those that train it in passing"]
    found = []
    for share in SHARES:
        counted = [_counted(study, share) for study in given.studies.values()]
        table = build_table(question, counted, given.vocabulary)
        group = f"a set in passing counts {share:g}"
        found.append(_lens(given, "sets", group, table))
    told = count(len(telling), "study", "studies")
    others = len(used) - len(telling)
    notes = [f"{told} tell sets in passing from others"]
    if others:
        notes.append(f"the other {others} are counted as printed throughout")
    return found, notes


def _tells(arm: Arm) -> bool:
    return arm.dose.direct_sets_per_week is not None and arm.dose.indirect_sets_per_week is not None


def _counted(study: Study, share: float) -> Study:
    if not any(map(_tells, study.arms)):
        return study
    return study.model_copy(update={"arms": tuple(_counted_arm(arm, share) for arm in study.arms)})


def _counted_arm(arm: Arm, share: float) -> Arm:
    if not _tells(arm):
        return arm
    dose = arm.dose
    sets = dose.direct_sets_per_week + type(dose.direct_sets_per_week)(str(share)) * (
        dose.indirect_sets_per_week
    )
    return arm.model_copy(update={"dose": dose.model_copy(update={"sets_per_week": sets})})
