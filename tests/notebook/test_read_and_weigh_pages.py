"""The pages for one study and one question: numbers of the library, in the coach's order."""

import json
from pathlib import Path

import pytest

from steelyard import open_library
from steelyard.notebook.read import ReadPage
from steelyard.notebook.told import Told
from steelyard.notebook.weigh import WeighPage
from tests.small_library import question, result, study

WORKBOOK = Path(__file__).resolve().parents[2] / "workbook"
ASKED = ("how_big", "how_sure", "for_whom", "how_much", "turns_on", "missing", "careless")


@pytest.fixture(scope="module")
def library():
    return open_library()


def cells(name):
    book = json.loads((WORKBOOK / name).read_text(encoding="utf-8"))
    return ["".join(cell["source"]) for cell in book["cells"] if cell["cell_type"] == "code"]


def test_every_question_of_a_coach_is_answered_for_every_shipped_question(library):
    for each in library.questions:
        page = WeighPage.of(library, each)
        for asked in ASKED:
            told = getattr(page, asked)()
            assert isinstance(told, Told)
            assert told.sentence
            for picture in told.pictures:
                assert "image/svg+xml" in picture._repr_mimebundle_()


def test_the_sentences_hold_the_numbers_of_the_weighing(library):
    page = WeighPage.of(library, "slow-lowering-strength")
    weighing = library.weigh("slow-lowering-strength")
    assert weighing.text(weighing.estimate) in page.how_big().sentence
    assert f"{weighing.k_studies} studies" in page.how_sure().sentence
    assert "not amounts of one" in page.how_much().sentence


def test_only_a_question_of_dose_has_a_dose_picture(library):
    assert len(WeighPage.of(library, "weekly-sets-size").how_much().pictures) == 1
    assert not WeighPage.of(library, "short-rest-size").how_much().pictures


def test_moderators_are_named_in_the_brackets(library):
    page = WeighPage.of(library, "slow-lowering-strength")
    assert "sex" in page.for_whom("sex").sentence
    assert "no moderator is called" in page.for_whom("shoe-size").sentence


def test_the_notebook_asks_in_the_order_of_a_coach():
    calls = cells("03-weigh-a-question.ipynb")
    asked = [call.removeprefix("page.").removesuffix("()") for call in calls if call[:5] == "page."]
    assert asked == list(ASKED)
    assert cells("02-read-a-study.ipynb")[1:4] == [
        "page.outcomes()",
        "page.findings()",
        "page.together()",
    ]


def test_a_study_is_read_with_its_picture_first(library):
    page = ReadPage.of(library, "netherquill-2024")
    told = page.outcomes()
    assert "image/svg+xml" in told.pictures[0]._repr_mimebundle_()
    assert len(told.tables[0].rows) == len(library.read("netherquill-2024").effects)
    assert "One study is one witness" in str(page.findings())


def test_one_group_shows_its_own_change_and_says_it_is_no_effect(library):
    page = ReadPage.of(library, "kestrelmoor-2022")
    told = page.outcomes()
    assert "not an effect of training" in told.sentence
    assert "worse than before" in told.pictures[0]._repr_mimebundle_()["image/svg+xml"]
    assert "+44 N" in str(told.tables[0]) and "no effect of training" in str(told.tables[0])
    assert "not an effect of training" in str(page.findings())
    assert "No effects" in str(page.together())


def test_what_cannot_be_shown_is_named_beside_the_picture(tmp_path):
    body = result("slow", post="{ mean = 109.0, sd = 20.0 }")
    study(tmp_path, "half", body)
    told = ReadPage.of(open_library(tmp_path), "half").outcomes()
    assert "No effect can be formed" in told.sentence and not told.pictures
    assert "only slow has a result" in str(told.tables[0])


def test_what_cannot_be_weighed_says_why(tmp_path):
    body = result("slow", post="{ mean = 109.0, sd = 20.0 }")
    study(tmp_path, "half", body)
    question(tmp_path)
    empty = WeighPage.of(open_library(tmp_path))
    for asked in ASKED:
        assert "asked" in str(getattr(empty, asked)())


@pytest.mark.parametrize("studies", [1, 3])
@pytest.mark.parametrize(
    ("metric", "worthwhile"),
    [
        ("raw", ""),
        ("variability-ratio", "\nsmallest_worthwhile = 1.2"),
        ("relative-variability-ratio", "\nsmallest_worthwhile = 1.2"),
    ],
)
def test_few_studies_are_answered_too_and_what_cannot_be_told_says_so(
    tmp_path, studies, metric, worthwhile
):
    for number in range(studies):
        cells = {"n": "20", "pre": "{ mean = 100.0, sd = 20.0 }"}
        body = result("slow", **cells, post=f"{{ mean = {112 + number}.0, sd = 21.0 }}")
        body += result("usual", **cells, post="{ mean = 108.0, sd = 20.0 }")
        study(tmp_path, f"place-{number}", body)
    question(tmp_path, more=f'metric = "{metric}"{worthwhile}')
    page = WeighPage.of(open_library(tmp_path))
    told = {asked: getattr(page, asked)() for asked in ASKED}
    for each in told.values():
        assert each.sentence
        for picture in each.pictures:
            assert "<svg" in picture._repr_mimebundle_()["image/svg+xml"]
        assert "nan" not in str(each).lower().split()
    assert "cannot be told" in told["for_whom"].sentence
    assert "cannot be told" in told["missing"].sentence


def test_an_empty_library_says_so(tmp_path):
    (tmp_path / "studies").mkdir()
    (tmp_path / "vocabulary.toml").write_text("schema = 1\n", encoding="utf-8")
    bare = open_library(tmp_path)
    assert "no question yet" in str(WeighPage.of(bare))
    assert "no study yet" in str(ReadPage.of(bare))
