"""The small-study test of a weighing: its error rate, its words, and one p on every page."""

from dataclasses import replace

import numpy as np
import pytest

from steelyard import open_library
from steelyard.effects import Counts, PrePost, standardised_change_difference
from steelyard.effects.counts import log_risk_ratio
from steelyard.errors import DesignError
from steelyard.pooling import small_study_regression
from steelyard.pooling.small_studies import small_studies
from steelyard.pooling.small_study_test import small_study_test
from tests.judging.reviewed_library import effect
from tests.small_library import question, result, study

SETS, STUDIES, LEVEL = 300, 15, 0.10
# At 10 %, 99.9 of 100 binomial shares of 300 lie between 0.05 and 0.163 (SciPy, binom.interval).
KEPT = (0.05, 0.163)


@pytest.fixture(scope="module")
def counted(tmp_path_factory):
    """Invented: twelve studies of strains, small ones with the larger effects."""
    folder = tmp_path_factory.mktemp("counted")
    for number, (n, m) in enumerate(zip(range(14, 74, 5), range(20, 68, 4), strict=True)):
        body = result("slow", n=n, events=max(1, round(n * (0.06 + 0.01 * (number % 5)))))
        body += result("usual", n=m, events=round(m * (0.32 - 0.012 * number)))
        study(folder, f"s{number}", body, better="lower", n_slow=n, n_usual=m)
    question(folder, more='metric = "risk-ratio"\nsmallest_worthwhile = 0.8')
    return open_library(folder)


def alarms(weighing, drawn):
    """Shares of sets below 10 %: by the test of the page, and on own standard errors."""
    found = np.zeros(2)
    for effects, variances, one, other in drawn:
        frame = weighing.studies.iloc[np.zeros(effects.size, dtype=int)].assign(
            effect=effects, variance=variances, n_intervention=one, n_comparator=other
        )
        test = small_study_test(replace(weighing, studies=frame))
        found += [test.regression.p < LEVEL, small_study_regression(effects, variances).p < LEVEL]
    return found / SETS


def risk_ratios(generator):
    """Events at 15 % against 30 % of 15 to 80 people an arm; nothing held back."""
    for _ in range(SETS):
        one, other = generator.integers(15, 81, (2, STUDIES)).astype(float)
        ratios = log_risk_ratio(
            Counts(np.maximum(generator.binomial(one.astype(int), 0.15), 1.0), one),
            Counts(np.maximum(generator.binomial(other.astype(int), 0.30), 1.0), other),
        )
        yield ratios.effect, ratios.variance, one, other


def changes(generator):
    """Gains 0.9 SD apart, pre-post r 0.9, in 6 to 40 people an arm; nothing held back."""

    def arm(n, gain):
        scores = [generator.normal(size=(2, size)) for size in n]
        pairs = [(z[0], 0.9 * z[0] + np.sqrt(1 - 0.81) * z[1] + gain) for z in scores]
        columns = [
            (
                pre.mean(),
                pre.std(ddof=1),
                post.mean(),
                post.std(ddof=1),
                np.corrcoef(pre, post)[0, 1],
            )
            for pre, post in pairs
        ]
        return PrePost(n.astype(float), *np.array(columns).T)

    for _ in range(SETS):
        one, other = generator.integers(6, 41, (2, STUDIES))
        found = standardised_change_difference(
            arm(one, 0.9), arm(other, 0.0), change_spread="observed"
        )
        yield found.effect, found.variance, one.astype(float), other.astype(float)


@pytest.mark.parametrize(
    ("draw", "metric", "own"), [(risk_ratios, "risk-ratio", 0.3), (changes, "standardised", 0.3)]
)
def test_small_studies_raise_few_false_alarms(counted, draw, metric, own):
    weighing = counted.weigh("asked")
    asked = weighing.question.model_copy(update={"metric": metric})
    shares = alarms(replace(weighing, question=asked), draw(np.random.default_rng(19)))
    assert KEPT[0] <= shares[0] <= KEPT[1]
    assert shares[1] > own


def test_page_and_certainty_tell_one_p_by_people(counted):
    weighing = counted.weigh("asked")
    found = small_studies(weighing)
    studies = weighing.studies
    precision = 1 / np.sqrt(1 / studies["n_intervention"] + 1 / studies["n_comparator"])
    plain = small_study_regression(
        studies["effect"].to_numpy(), studies["variance"].to_numpy(), precision=precision.to_numpy()
    )
    own = small_study_regression(studies["effect"].to_numpy(), studies["variance"].to_numpy())
    assert round(plain.p, 3) != round(own.p, 3)
    step = next(s for s in counted.certainty("asked").steps if s.domain == "small-study effects")
    told = f"p {plain.p:.3f}"
    assert told in found.sentence and told in dict(found._rows())["small-study test"]
    assert dict(step.facts)["p of small against large"] == f"{plain.p:.3f}"
    assert "on people" in str(found)


def test_studies_that_do_not_say_how_many_took_part_are_left_out_by_name(counted):
    weighing = counted.weigh("asked")
    some = weighing.studies.copy()
    some.loc[some.index[:2], "n_comparator"] = np.nan
    found = small_studies(replace(weighing, studies=some))
    rows = dict(found._rows())
    assert found.test.regression.k == 10
    assert "10 of 12 studies, the others do not say how many took part" in found.sentence
    assert (
        f"left out, as people are not known in both arms: {', '.join(some['label'][:2])}"
        in (rows["small-study test"])
    )
    some.loc[some.index[2], "n_intervention"] = np.nan
    silent = small_studies(replace(weighing, studies=some))
    assert silent.test is None
    words = "people in both arms are known in 9 of 12 studies, and it takes 10"
    assert silent.why_not["small-study test"] == words and words in silent.sentence
    with pytest.raises(DesignError, match="9 of 12"):
        small_study_test(replace(weighing, studies=some))


def test_raw_differences_keep_their_standard_errors_and_say_so(tmp_path):
    for number in range(10):
        study(tmp_path, f"s{number}", effect(1.0 + number % 3, se=0.5 + 0.1 * number))
    question(tmp_path)
    weighing = open_library(tmp_path).weigh("asked")
    raw = replace(weighing, question=weighing.question.model_copy(update={"metric": "raw"}))
    found = small_studies(raw)
    studies = weighing.studies
    own = small_study_regression(studies["effect"].to_numpy(), studies["variance"].to_numpy())
    assert found.test.regression.p == own.p
    assert "on standard errors" in dict(found._rows())["small-study test"]
    # The same studies standardised: all have twenty people an arm.
    same = small_studies(weighing)
    assert same.why_not["small-study test"] == "all studies are of one size"
    assert "not given: all studies are of one size" in dict(same._rows())["small-study test"]
