"""Effects of one study that hold the same information count once: crossed arms, halves, repeats."""

import numpy as np
import pandas as pd
import pytest
from scipy.linalg import block_diag

from steelyard import open_library
from steelyard.effects import PrePost, change_difference, standardised_change_difference
from steelyard.errors import DesignError
from steelyard.pooling import dependence, pool, pool_nested
from steelyard.pooling.composite import composite_of_correlated
from steelyard.pooling.counted_once import comparators_as_one, repeated
from steelyard.pooling.dependence import pool_rows
from steelyard.records.question import Question
from tests.small_library import question, result, study

R = 0.9
ARMS = {"slow": "slow", "slow-too": "slow", "usual": "usual", "usual-too": "usual"}


def arm(name: str, n: int) -> str:
    return f'[[arm]]\nid = "{name}"\ntags = ["{ARMS[name]}"]\nn = {n}\n'


def measured(name: str, *, before: float, gain: float, sd: float, outcome: str = "peak") -> str:
    return result(
        name,
        outcome=outcome,
        pre=f"{{ mean = {before:.4f}, sd = {sd:.4f} }}",
        post=f"{{ mean = {before + gain:.4f}, sd = {sd:.4f} }}",
        r=R,
    )


def crossed(folder, metric, *, turned=False, dependence="auto", studies=8, seed=5, known=""):
    """Studies of which three have two intervention and two comparator arms: rank three."""
    rng = np.random.default_rng(seed)
    for number in range(studies):
        four = number < 3
        names = [*ARMS] if four else ["slow", "usual"]
        drawn = {
            name: {
                "before": 100 + rng.normal(0, 2),
                "gain": 7 * (ARMS[name] == "slow") + 2 + rng.normal(0, 1),
                "sd": rng.uniform(9, 11),
            }
            for name in names
        }
        sizes = dict(zip(ARMS, (18, 25, 20, 14), strict=True))
        # Turned: the same arms, each under the other's name and in another order.
        other = dict(zip(ARMS, ("slow-too", "slow", "usual-too", "usual"), strict=True))
        called = other if turned and four else {name: name for name in names}
        head = "".join(arm(called[name], sizes[name]) for name in names if "too" in called[name])
        body = [measured(called[name], **drawn[name]) for name in names]
        of = {called[name]: sizes[name] for name in names}
        text = head + "".join(body[::-1] if turned else body)
        study(folder, f"s{number}", text, n_slow=of["slow"], n_usual=of["usual"])
    more = f'metric = "{metric}"\n[model]\ndependence = "{dependence}"\n{known}'
    question(folder, more=more)
    return open_library(folder)


@pytest.mark.parametrize("metric", ["raw", "percent", "standardised"])
@pytest.mark.parametrize("how", ["auto", "composite"])
def test_crossed_arms_are_weighed_whatever_their_names_and_order(tmp_path, metric, how):
    found = crossed(tmp_path / "one", metric, dependence=how).weigh("asked")
    turned = crossed(tmp_path / "two", metric, dependence=how, turned=True).weigh("asked")
    for name in ("estimate", "standard_error", "low", "high", "tau2", "q"):
        assert getattr(turned, name) == pytest.approx(getattr(found, name), rel=1e-7), name
    assert found.k_effects == 17
    assert found.pooled.q_df == (10 if how == "auto" else 7)
    told = str(found)
    assert "taken as one, each by its people: s0, s1, s2 (12 effects), as 6" in told
    # The other way to handle several effects is told, and close by.
    other = found.alternatives[0].pooled
    assert other.estimate == pytest.approx(found.estimate, abs=0.5 * found.standard_error)


def test_weights_come_back_to_the_contrasts(tmp_path):
    found = crossed(tmp_path, "raw").weigh("asked")
    assert found.pooled.weights.sum() == pytest.approx(1)
    assert found.pooled.weights @ found.effects["effect"] == pytest.approx(found.estimate)
    by_arm = found.effects.assign(weight=found.pooled.weights).query("study == 's0'")
    shares = by_arm.set_index(["intervention", "comparator"])["weight"]
    for name in ("slow", "slow-too"):
        assert shares[name, "usual"] / shares[name, "usual-too"] == pytest.approx(20 / 14)


@pytest.mark.parametrize("sizes", [(20, 20), (8, 32)])
def test_splitting_a_control_changes_nothing_also_where_effects_vary_within(tmp_path, sizes):
    # Two outcomes a study, so that effects vary within studies; halves of unlike size and means.
    gains = ((5.0, 12.0), (9.0, 3.0), (2.0, 10.0), (7.0, 1.0), (11.0, 4.0), (4.0, 9.0))
    found = {}
    for split in (False, True):
        folder = tmp_path / str(split)
        for number, pair in enumerate(gains):
            halves = split and number in (1, 4)
            body = arm("usual-too", sizes[1]) if halves else ""
            for outcome, gain in zip(("peak", "more"), pair, strict=True):
                same = {"before": 100.0, "sd": 20.0, "outcome": outcome}
                body += measured("slow", gain=gain, **same)
                apart = 40 / sizes[0] if halves else 0.0
                body += measured("usual", gain=2.0 + apart, **same)
                if halves:
                    # The people of both halves together gain 2.
                    body += measured("usual-too", gain=2.0 - apart * sizes[0] / sizes[1], **same)
            more = '[[outcome]]\nid = "more"\nconstruct = "strength"\nunit = "N"\n'
            n = sizes[0] if halves else sum(sizes)
            study(folder, f"s{number}", body, outcome_more=more, n_slow=30, n_usual=n)
        question(folder, more='metric = "raw"')
        found[split] = open_library(folder).weigh("asked")
    whole, halved = found[False], found[True]
    assert whole.dependence == halved.dependence == "multilevel"
    assert whole.pooled.variance_within_studies > 1
    assert halved.k_effects == whole.k_effects + 4
    for name in ("estimate", "standard_error", "low", "high", "tau2", "q", "q_df"):
        assert getattr(halved, name) == pytest.approx(getattr(whole, name), rel=1e-6), name


def test_halves_given_as_two_effects_weigh_as_one_only_without_variance_within():
    # The arrays take what they are given; with variances in proportion to 1/n, GLS on the halves
    # is the contrast with the whole as long as nothing is added to the diagonal.
    rng = np.random.default_rng(3)
    moved = {True: [], False: []}
    for _ in range(60):
        n, halves = rng.integers(10, 20, 8), rng.integers(4, 14, (8, 2))
        people = halves.sum(axis=1)
        arms = rng.normal(size=8) / np.sqrt(n) + 0.4
        controls = rng.normal(size=halves.shape) / np.sqrt(halves)
        whole = pool_nested(
            arms - (halves * controls).sum(axis=1) / people, 1 / n + 1 / people, study=range(8)
        )
        split = pool_nested(
            (arms[:, None] - controls).ravel(),
            block_diag(*(1 / n[j] + np.diag(1 / halves[j]) for j in range(8))),
            study=np.repeat(range(8), 2),
        )
        apart = abs(split.estimate - whole.estimate) / whole.standard_error
        moved[split.variance_within_studies == 0].append(apart)
    assert len(moved[True]) > 10 and max(moved[True]) < 1e-6
    assert len(moved[False]) > 5 and min(moved[False]) > 1e-6


def asked(**more) -> Question:
    return Question.model_validate(
        {
            "id": "asked",
            "asks": "Does slow lowering help?",
            "intervention": "slow",
            "comparator": "usual",
            "constructs": ["strength"],
        }
        | more
    )


def simulated_rows(rng, *, metric, truth, tau, studies=10) -> pd.DataFrame:
    """Effect rows of trials with two by two arms, and some with one by one, from the people up."""
    rows = []
    for number in range(studies):
        four = number % 3 == 0
        deviation = rng.normal(0, tau)
        arms = {}
        for name in ARMS if four else ("slow", "usual"):
            n = int(rng.integers(15, 30))
            before = rng.normal(size=n)
            gain = (truth + deviation) * (ARMS[name] == "slow")
            after = R * before + np.sqrt(1 - R**2) * rng.normal(size=n) + gain
            arms[name] = PrePost(
                n,
                before.mean(),
                before.std(ddof=1),
                after.mean(),
                after.std(ddof=1),
                np.corrcoef(before, after)[0, 1],
            )
        for one in (name for name in arms if ARMS[name] == "slow"):
            for other in (name for name in arms if ARMS[name] == "usual"):
                form = change_difference if metric == "raw" else standardised_change_difference
                effect = form(arms[one], arms[other])
                group = arms[other]
                own = group.pre_sd**2 + group.post_sd**2
                own = (own - 2 * group.r * group.pre_sd * group.post_sd) / group.n
                rows.append(
                    {
                        "study": f"s{number}",
                        "intervention": one,
                        "comparator": other,
                        "outcome": "peak",
                        "week": 12.0,
                        "contrast": "change",
                        "effect": float(effect.effect),
                        "variance": float(effect.variance),
                        "n_intervention": float(arms[one].n),
                        "n_comparator": float(group.n),
                        "comparator_variance": own if metric == "raw" else np.nan,
                    }
                )
    return pd.DataFrame(rows)


@pytest.mark.parametrize("metric", ["raw", "standardised"])
@pytest.mark.parametrize("tau", [0.0, 0.2])
def test_pools_with_crossed_arms_hold_the_truth(metric, tau):
    # 95 % coverage in 120 has a binomial SD of 2 points. Without scatter Q over its degrees of
    # freedom has the mean 1; variances estimated from 15 to 29 people put it a little higher.
    rng = np.random.default_rng(11)
    held, ratio = 0, []
    for _ in range(120):
        rows = simulated_rows(rng, metric=metric, truth=0.3, tau=tau)
        found = pool_rows(asked(metric=metric), rows)
        held += found.low <= 0.3 <= found.high
        ratio.append(found.q / found.q_df)
        assert found.k == 14 and found.q_df == 13
    assert 0.90 <= held / 120 <= 0.99
    if tau == 0:
        assert np.mean(ratio) == pytest.approx(1.0, abs=0.15)
        assert max(ratio) < 5


def test_outcomes_that_nearly_follow_from_each_other_count_as_their_mean(tmp_path):
    # By the question two outcomes correlate at 0.999, which differences of 2 SDs do not bear out:
    # Q would be in the thousands.
    for number, gain in enumerate((5.0, 9.0, 2.0, 7.0, 11.0)):
        body = ""
        for outcome, shift in (("peak", 0.0), ("more", 8.0)):
            same = {"before": 100.0, "sd": 20.0, "outcome": outcome}
            body += measured("slow", gain=gain + shift, **same) + measured(
                "usual", gain=2.0, **same
            )
        more = '[[outcome]]\nid = "more"\nconstruct = "strength"\nunit = "N"\n'
        study(tmp_path, f"s{number}", body, outcome_more=more)
    question(tmp_path, more='metric = "raw"\n[assume]\nr_between_outcomes = 0.999')
    found = open_library(tmp_path).weigh("asked")
    assert found.dependence == "multilevel"
    assert found.q < 20 and found.pooled.q_df == 4
    assert "count as their mean: s0, s1, s2, s3, s4" in str(found)
    assert found.estimate == pytest.approx(np.mean([5, 9, 2, 7, 11]) + 4 - 2, rel=1e-6)


def test_a_refusal_of_the_other_way_is_told_in_words(tmp_path, monkeypatch):
    library = crossed(tmp_path, "raw", dependence="composite")

    def refuse(*_, **__):
        raise DesignError("covariance must be finite throughout")

    monkeypatch.setattr(dependence, "pool_rows", refuse)
    found = library.weigh("asked")
    assert "with a multilevel model: cannot be had (covariance must be finite" in str(found)
    (other,) = found.as_json()["alternatives"]
    assert other["estimate"] is None and "finite" in other["refused"]


def test_only_the_very_numbers_of_the_same_arms_repeat():
    rows = pd.DataFrame(
        {
            "study": ["a", "a", "a", "a", "b", "a", "a"],
            "intervention": ["x", "x", "x", "z", "x", "x", "x"],
            "comparator": ["y"] * 7,
            "outcome": ["o", "p", "q", "p", "o", "s", "t"],
            "week": [12.0] * 7,
            "contrast": ["change"] * 5 + ["counts"] * 2,
            "effect": [0.3, 0.3, 0.3, 0.3, 0.3, 0.1, 0.1],
            "variance": [0.04, 0.04, 0.041, 0.04, 0.04, 0.2, 0.2],
        }
    )
    assert repeated(rows).tolist() == [False, True, False, False, False, False, False]


def test_comparators_count_by_people_and_equally_where_these_are_not_known():
    rows = pd.DataFrame(
        {
            "study": ["a", "a", "a", "a", "b"],
            "intervention": ["x", "x", "z", "z", "x"],
            "outcome": ["o"] * 5,
            "week": [12.0] * 5,
            "n_comparator": [30.0, 10.0, 30.0, np.nan, 20.0],
        }
    )
    parts = comparators_as_one(rows)
    assert parts.group.tolist() == [0, 0, 1, 1, 2]
    assert parts.share.tolist() == [0.75, 0.25, 0.5, 0.5, 1.0]
    assert parts.effects(np.array([1.0, 3.0, 1.0, 3.0, 5.0])).tolist() == [1.5, 2.0, 5.0]


@pytest.mark.parametrize("seed", range(6))
def test_rows_five_times_over_leave_the_answer_as_it_is(tmp_path, seed):
    found = {}
    for times in (1, 5):
        rng = np.random.default_rng(seed)
        folder = tmp_path / str(times)
        for number in range(10):
            body, more = "", ""
            same = {"before": 100 + rng.normal(), "sd": rng.uniform(15, 25)}
            gain = 6 + rng.normal(0, 4)
            for copy in range(times if number == seed else 1):
                outcome = f"peak-{copy}" if copy else "peak"
                if copy:
                    more += f'[[outcome]]\nid = "{outcome}"\nconstruct = "strength"\nunit = "N"\n'
                body += measured("slow", gain=gain, outcome=outcome, **same)
                body += measured("usual", gain=1.0, outcome=outcome, **same)
            study(folder, f"s{number}", body, outcome_more=more)
        question(folder, more='metric = "standardised"')
        found[times] = open_library(folder).weigh("asked")
    once, again = found[1], found[5]
    assert again.k_effects == once.k_effects + 4
    for name in ("estimate", "standard_error", "low", "high"):
        assert getattr(again, name) == getattr(once, name), name
    assert f"counted once: s{seed} (4 effects)" in str(again)


def test_rows_told_a_little_otherwise_mostly_leave_the_error_as_it_is():
    # What is not told from its numbers correlates as outcomes are assumed to, at 0.6: one of ten
    # studies five times over then looks more precise than it is. Its composite moves the standard
    # error by more than 5 % in few sets, a model of effects within studies in more; where each row
    # is taken for a study of its own it nearly always does.
    rng = np.random.default_rng(0)
    moved = {"composite": 0, "within": 0, "careless": 0}
    sets = 200
    for _ in range(sets):
        v = rng.uniform(0.02, 0.08, 10)
        y = rng.normal(0.4, np.sqrt(v + 0.01))
        one = int(rng.integers(10))
        rows = [*range(10), *[one] * 4]
        same = np.equal.outer(rows, rows)
        covariance = np.sqrt(np.outer(v[rows], v[rows])) * np.where(same, 0.6, 0.0)
        np.fill_diagonal(covariance, v[rows])
        joined = v.copy()
        joined[one] = composite_of_correlated([y[one]] * 5, [v[one]] * 5, correlation=0.6).variance
        once = pool_nested(y, v, study=range(10)).standard_error
        within = pool_nested(y[rows], covariance, study=rows).standard_error
        plain = pool(y, v).standard_error
        moved["within"] += abs(within / once - 1) > 0.05
        moved["composite"] += abs(pool(y, joined).standard_error / plain - 1) > 0.05
        moved["careless"] += abs(pool(y[rows], v[rows]).standard_error / plain - 1) > 0.05
    share = {name: times / sets for name, times in moved.items()}
    assert share["composite"] < 0.08
    assert share["within"] < 0.25
    assert share["careless"] > 0.75
