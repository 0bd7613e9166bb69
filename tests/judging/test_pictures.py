"""What the pictures of certainty, history and all recommendations show, from small libraries."""

from __future__ import annotations

import datetime as dt

import pytest

from steelyard import open_library
from steelyard.charts import concern_plot, history_plot, overview_plot
from steelyard.judging.answer_review import MOVED_RULE
from steelyard.judging.certainty.wording import share_text
from steelyard.judging.history import history
from steelyard.judging.pictures_concern import concern_data
from steelyard.judging.pictures_history import history_data
from steelyard.judging.pictures_overview import overview_data, short_statement
from tests.charts.drawn import words
from tests.judging.reviewed_library import effect, recommendation, tell, told_library
from tests.small_library import question, study


@pytest.fixture
def folder(tmp_path):
    return told_library(tmp_path)


def overview(folder):
    library = open_library(folder)
    return overview_data(library.review(), library.vocabulary)


def test_overview_counts_in_smallest_worthwhile_effects(folder):
    (row,) = overview(folder).recommendations.to_dict("records")
    weighing = open_library(folder).weigh("asked")
    # The question sets 0.14.
    for name in ("estimate", "low", "high", "prediction_low", "prediction_high"):
        assert row[name] == pytest.approx(getattr(weighing, name) / 0.14)
    assert row["reviewed"] == "June 2024"
    assert row["changed"] == ""
    assert "1 is 0.14 SD" in row["about"]
    assert row["certainty"] == open_library(folder).certainty("asked").word


def test_overview_says_what_moved_and_by_which_study(folder):
    study(folder, "fir", effect(-0.6))
    data = overview(folder)
    (row,) = data.recommendations.to_dict("records")
    assert "verdict from 'better' to 'not settled'" in row["changed"]
    assert "fir added" in row["changed"]
    assert "1 has moved since clients were told" in data.subtitle
    assert row["changed"] in overview_plot(data).svg.replace("\n", " ") or "fir added" in (
        overview_plot(data).svg
    )


def test_overview_flags_no_edit_that_leaves_the_answer(folder):
    study(folder, "ash", effect(0.48))
    data = overview(folder)
    (row,) = data.recommendations.to_dict("records")
    assert row["changed"] == ""
    assert row["about"].endswith(
        "The evidence has changed since it was told; the answer is the same"
    )
    assert "none has moved since clients were told" in data.subtitle
    assert "moved since told" not in overview_plot(data).svg


def test_overview_states_what_counts_as_moved_and_explains_its_unit(folder):
    data = overview(folder)
    assert MOVED_RULE in data.notes
    drawn = " ".join(words(overview_plot(data).svg).split())
    assert "1 = the smallest effect worth having" in drawn
    assert "half the smallest effect worth having" in drawn


def test_overview_says_of_counts_what_one_is_and_which_way_is_better():
    shipped = open_library()
    rows = overview_data(shipped.review(), shipped.vocabulary).recommendations
    row = rows.set_index("recommendation").loc["hamstring-strain-caution"]
    assert "1 is 0.8 times the risk, and better is fewer" in row["about"]
    assert row["verdict"] == "not settled"
    assert row["statement"].endswith("heed every warning pain")


def test_overview_names_what_it_cannot_draw(folder):
    question(folder, "open")
    recommendation(folder, "second", "")
    path = folder / "recommendations" / "second.toml"
    path.write_text(path.read_text().replace('["asked"]', '["open"]'), encoding="utf-8")
    broken = folder / "recommendations" / "third.toml"
    broken.write_text('id = "third"\n', encoding="utf-8")
    data = overview(folder)
    assert list(data.recommendations["recommendation"]) == ["lower"]
    notes = " ".join(data.notes)
    assert "second, whose question sets no smallest effect" in notes
    assert "No answer to draw for third" in notes


def test_the_surest_come_first_then_the_largest(folder):
    for value in (0.9, 1.0, 1.1, 1.2):
        name = f"grey-{int(10 * value)}"
        study(folder, name, effect(value), n_slow=200, n_usual=200)
    question(folder, "smaller", "smallest_worthwhile = 0.05")
    recommendation(folder, "second", "")
    path = folder / "recommendations" / "second.toml"
    path.write_text(path.read_text().replace('["asked"]', '["smaller"]'), encoding="utf-8")
    rows = overview(folder).recommendations.to_dict("records")
    order = ("very low", "low", "moderate", "high")
    ranks = [(-order.index(row["certainty"]), -row["estimate"]) for row in rows]
    assert len(ranks) == 2
    assert ranks == sorted(ranks)


def test_statements_are_cut_where_their_grounds_begin():
    assert short_statement("Rest as you like: it comes to the same.") == "Rest as you like"
    assert short_statement("Rest as you like. It is so.") == "Rest as you like"
    assert short_statement("word " * 39 + "end") == "word " * 39 + "end"


def test_history_has_a_step_per_year_and_a_pennant_for_what_was_told(tmp_path):
    for year, value in ((2012, 0.9), (2015, 0.5), (2018, 0.4)):
        study(tmp_path, f"year-{year}", effect(value), year=year)
    question(tmp_path, more="smallest_worthwhile = 0.14")
    recommendation(tmp_path)
    library = tell(tmp_path, on=dt.date(2019, 7, 2))
    record = library.recommendations["lower"]
    data = history_data(history(library.questions["asked"], library, recommendations=[record]))
    assert list(data.years["year"]) == [2012, 2015, 2018]
    assert list(data.years["studies"]) == [1, 2, 3]
    assert data.years["estimate"].iloc[0] == pytest.approx(0.9)
    now = library.weigh("asked")
    assert data.years["estimate"].iloc[-1] == pytest.approx(now.estimate)
    assert data.years["certainty"].iloc[-1] == library.certainty("asked").word
    (told,) = data.told.to_dict("records")
    # 2 July is the 183rd day of 365 in 2019: 182 days are over.
    assert told["year"] == pytest.approx(2019 + 182 / 365)
    assert told["estimate"] == pytest.approx(now.estimate, abs=5e-4)
    assert now.text(now.estimate) in told["words"]
    assert "<title>" in history_plot(data).svg


def test_history_in_a_unit_where_lower_is_better_keeps_its_low_end_low(tmp_path):
    for year in (2012, 2015):
        body = 'difference = { value = -3, ci95 = [-5, -1] }\nwhere = "p. 4"\n'
        text = '[[comparison]]\noutcome = "peak"\nintervention = "slow"\ncomparator = "usual"\n'
        study(tmp_path, f"year-{year}", f"{text}week = 12\n{body}", year=year, better="lower")
    question(tmp_path, more='metric = "raw"\nsmallest_worthwhile = 1')
    library = open_library(tmp_path)
    data = history_data(history(library.questions["asked"], library))
    assert (data.years["low"] < data.years["estimate"]).all()
    assert (data.years["estimate"] < 0).all()
    assert data.axis.zone == (-1.0, 1.0)


def test_a_paper_without_a_year_is_named_and_not_drawn(folder):
    path = study(folder, "dateless", effect(0.5))
    path.write_text(path.read_text().replace("issued = 2020\n", ""), encoding="utf-8")
    library = open_library(folder)
    data = history_data(history(library.questions["asked"], library))
    assert list(data.years["year"]) == [2020]
    assert any("Without a year" in note for note in data.notes)


def test_concern_is_in_percent_of_the_weight_and_adds_up(folder):
    library = open_library(folder)
    concerns = library.certainty("asked").concerns
    data = concern_data(concerns, library.weigh("asked"))
    totals = data.domains[["low", "some", "high"]].sum(axis=1)
    assert totals.to_numpy() == pytest.approx(100)
    last = data.domains.iloc[-1]
    assert last["domain"] == "In all"
    assert last["high"] == pytest.approx(100 * concerns.share("high"))
    assert "appraisal" in " ".join(data.notes)  # nobody has answered it in this library
    assert "<title>" in concern_plot(data).svg
    # The whole comes first, then the part of it: nothing is left for a reader to add up.
    whole = concerns.share("high") + concerns.share("some")
    assert data.subtitle.startswith(
        f"{share_text(whole)} of the weight comes from studies of some or high concern, "
        f"{share_text(concerns.share('high'))} from those of high concern"
    )
    assert any("rounded" in note for note in data.notes)
