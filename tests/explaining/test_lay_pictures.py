"""What the lay pictures are given: the explanation's numbers, nothing where there are none."""

from __future__ import annotations

import re
from statistics import NormalDist

import pytest

from steelyard import open_library
from steelyard.charts import hills_plot, hundred_plot, plain_forest, strip_plot
from steelyard.errors import DesignError
from steelyard.explaining.expectation import expectation
from steelyard.explaining.explain import explain
from steelyard.explaining.lay_pictures import (
    hills_data,
    hundred_data,
    plain_forest_data,
    strip_data,
)
from steelyard.explaining.own_result import own_result
from steelyard.explaining.own_result_picture import own_result_strip
from steelyard.explaining.profile import ClientProfile
from steelyard.explaining.wording.catalogue import catalogue

WORDS = catalogue("en")
DRAWN = (
    (strip_data, strip_plot),
    (hundred_data, hundred_plot),
    (hills_data, hills_plot),
    (plain_forest_data, plain_forest),
)


@pytest.fixture(scope="module")
def library():
    return open_library()


@pytest.mark.parametrize("name", ["add-slow-lowering", "rest-between-sets", "one-leg-work"])
def test_ranges_are_the_three_bands(library, name):
    found = explain(library, name)
    rows = strip_data(found, WORDS).ranges
    sizes = found.sizes
    assert list(rows["words"]) == ["the average", "another group", "one person"]
    assert tuple(rows["low"]) == (sizes.average.low, sizes.next_group.low, sizes.one_person.low)
    assert list(rows["low"]) == sorted(rows["low"], reverse=True)
    assert list(rows["high"]) == sorted(rows["high"])


def test_pairs_of_people_by_the_normal_distribution(library):
    found = explain(library, "weekly-sets-thigh")
    data = hundred_data(found, WORDS)
    sizes = found.sizes
    sd = float(library.questions["weekly-sets-size"].client.reference_sd)
    gains = NormalDist(sizes.average.value, sd * (2 * (1 - sizes.r.value)) ** 0.5 * 2**0.5)
    if data is not None:
        assert data.better == round(100 * (1 - gains.cdf(sizes.zone)))
        assert data.worse == round(100 * gains.cdf(-sizes.zone))
        assert data.better + data.same + data.worse == 100


def test_where_it_is_not_settled_nobody_is_counted(library):
    assert hundred_data(explain(library, "one-leg-work"), WORDS) is None
    assert hundred_data(explain(library, "hamstring-strain-caution"), WORDS) is None
    assert strip_data(explain(library, "hamstring-strain-caution"), WORDS) is None


def test_the_clients_place(library):
    profile = ClientProfile(training_status="trained", baseline=240, unit="N")
    data = hills_data(explain(library, "add-slow-lowering", profile=profile), WORDS)
    assert data.client == 240
    plain = hills_data(explain(library, "add-slow-lowering"), WORDS)
    assert plain.client != plain.client
    peaks = data.curves.set_index("value").idxmax()
    assert peaks["changed"] > peaks["usual"]


@pytest.mark.parametrize("name", ["add-slow-lowering", "rest-between-sets", "one-leg-work"])
def test_each_can_be_drawn_and_says_that_it_is_invented(library, name):
    found = explain(library, name)
    drawn = [draw(data) for fill, draw in DRAWN if (data := fill(found, WORDS)) is not None]
    assert len(drawn) >= 3
    for picture in drawn:
        assert 'role="img"' in picture.svg
        assert "Invented data" in picture.svg


def test_own_result_as_ranges():
    result = own_result(100, 109, typical_error=4.2, unit="%", expected=5, expected_sd=6)
    rows = own_result_strip(result).ranges.set_index("words")
    assert list(rows.index) == ["both together", "measured", "expected"]
    assert rows.loc["both together", "estimate"] == result.likely
    widths = rows["high"] - rows["low"]
    assert widths["both together"] < min(widths["expected"], widths["measured"])
    alone = own_result(100, 109, typical_error=4.2, unit="%")
    assert list(own_result_strip(alone).ranges["words"]) == ["measured"]


def test_what_to_expect_of_a_new_person(library):
    found = explain(library, "add-slow-lowering")
    first, sizes = found.evidence[0], found.sizes
    exact = expectation(first, typical_error=1e-6)
    sd = float(first.question.client.reference_sd)
    assert exact.mean == pytest.approx(sizes.usual.in_sd * sd + sizes.average.value)
    # Without error of measurement, nearly the one-person band about the mean.
    width = (sizes.one_person.high - sizes.one_person.low) / 2 / 1.959964
    assert exact.sd == pytest.approx(width, rel=1e-6)
    noisy = expectation(first, typical_error=1000)
    assert noisy.sd < exact.sd
    assert any("error alone explains" in note for note in noisy.notes)
    with pytest.raises(DesignError, match="people were counted"):
        expectation(explain(library, "hamstring-strain-caution").evidence[0], typical_error=1)


@pytest.mark.parametrize("width", ["page", "phone"])
@pytest.mark.parametrize(
    "name", ["add-slow-lowering", "rest-between-sets", "weekly-sets-thigh", "one-leg-work"]
)
def test_a_german_picture_holds_no_english(library, name, width):
    found = explain(
        library,
        name,
        language="de",
        profile=ClientProfile(training_status="trained", baseline=200, unit="N"),
    )
    english = re.compile(
        r"\b(?:of|people|together|study|studies|sure|edge|you|now|worth|more|less|to|the|and)\b"
    )
    drawn = 0
    for data, plot in DRAWN:
        filled = data(found, catalogue("de"))
        if filled is None:
            continue
        drawn += 1
        svg = plot(filled, width=width).svg
        words = " ".join(re.findall(r"<text[^>]*>([^<]*)", svg))
        assert not english.search(words), english.search(words)
    assert drawn >= 3


@pytest.mark.parametrize("width", ["page", "phone"])
def test_a_german_own_result_is_drawn_in_german(width):
    result = own_result(
        10, 9, typical_error=0.2, unit="s", expected=0.5, expected_sd=0.4, better="lower",
        language="de", invented=True,
    )  # fmt: skip
    svg = strip_plot(own_result_strip(result), width=width).svg
    for word in ("Eigenes Ergebnis", "gemessen", "erwartet", "Gewinn", "Verlust", "weniger"):
        assert word in svg
    for word in ("measured", "expected", "together", "gain", "loss", "Invented", "from here"):
        assert word not in svg
