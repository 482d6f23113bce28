"""Numbers as a grower reads them: rounded, never cut off, in words and in their units."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from consults.cases.sentences import chance, in_ten
from garden.wording import Wording

METRIC, US = Wording("metric"), Wording("us")


@pytest.mark.parametrize(
    ("value", "decimals", "said"),
    [(75.19999, 1, "75.2"), (0.99, 1, "1.0"), (1.96, 1, "2.0"), (6.0, 1, "6.0"), (-0.04, 1, "0.0"),
     (239.6, 0, "240")],
)  # fmt: skip
def test_a_number_is_rounded_not_cut_off(value: float, decimals: int, said: str) -> None:
    assert METRIC.number(value, decimals) == said


@given(st.floats(-1e6, 1e6), st.integers(0, 3))
def test_a_number_is_within_half_of_its_last_place(value: float, decimals: int) -> None:
    assert (
        abs(float(METRIC.number(value, decimals).replace("\N{MINUS SIGN}", "-")) - value)
        <= 0.5 * 10**-decimals + 1e-9
    )


@pytest.mark.parametrize(
    ("share", "said"),
    [(0.001, "1 %"), (0.02, "2 %"), (0.12, "10 %"), (0.5, "50 %"), (0.88, "90 %"), (0.996, "99 %"),
     (1.0, "100 %"),
     (1.52, "150 %"), (0.0, "0 %")],
)  # fmt: skip
def test_a_share_is_said_to_the_nearest_5_per_cent_but_something_is_never_nothing(
    share: float, said: str
) -> None:
    assert METRIC.percent(share) == said.replace(" ", "\N{NO-BREAK SPACE}")


def test_volumes_lengths_and_weights_are_said_in_the_growers_units() -> None:
    """1 US gallon = 3.785411784 L, 1 foot = 0.3048 m, 1 pound = 453.59237 g (NIST SP 811, from memory)."""
    assert METRIC.volume(7.5) == "7.5 litres"
    assert METRIC.volume(0.234) == "230 millilitres"
    assert US.volume(3.785411784) == "1 US gallon"
    assert US.volume(1.25) == "42 US fluid ounces", "nobody has a measure for a third of a gallon"
    assert METRIC.weight(1120) == "1120 grams"
    assert METRIC.weight(7500) == "7.5 kilograms"
    assert US.weight(2.5 * 453.59237) == "2.5 pounds"
    assert US.weight(75) == "2.6 ounces"
    assert METRIC.length(0.56) == "56 centimetres"
    assert US.length(0.3048) == "1 foot"
    assert METRIC.temperature(21, 28) == "21 to 28 °C"
    assert US.temperature(21, 28) == "70 to 82 °F"
    assert METRIC.size([1.5, 0.9, 1.9]) == "1.5 × 0.9 × 1.9 m"
    assert US.size([0.9144, 0.6096]) == "3 × 2 ft"


@pytest.mark.parametrize(
    ("days", "said"),
    [(0.2, "5 times a day"), (0.4, "2 to 3 times a day"), (0.5, "2 times a day"), (0.7, "1 to 2 times a day"),
     (0.9, "every day"), (1.2, "every day"), (1.5, "every 1 to 2 days"), (1.99, "every 2 days"),
     (4.4, "every 4 to 5 days"), (4.98, "every 5 days"), (6.9, "every 7 days"), (14.0, "every 14 days")],
)  # fmt: skip
def test_how_often_is_said_to_the_nearest_half(days: float, said: str) -> None:
    assert METRIC.every(days) == said


@given(st.floats(1, 60))
def test_how_often_is_never_more_than_a_quarter_day_off(days: float) -> None:
    said = [float(n) for n in re.findall(r"\d+", METRIC.every(days))] or [1.0]
    assert abs(sum(said) / len(said) - days) <= 0.25 + 1e-9


@given(st.floats(0, 1), st.sampled_from([METRIC, US]))
def test_the_parts_of_a_mix_as_said_add_up_to_the_whole_as_said(share: float, wording: Wording) -> None:
    """1 US gallon is 128 US fluid ounces (NIST SP 811, from memory)."""
    mix = wording.mix(share)
    whole, first, second = (in_base(part) for part in (mix.whole, mix.first, mix.second))
    assert first > 0 and second > 0
    assert first + second == pytest.approx(whole, abs=1e-9)
    assert second / whole == pytest.approx(mix.second_share)
    assert mix.second_share == pytest.approx(share, abs=0.0101)


def in_base(said: str) -> float:
    """Litres, or US gallons, of an amount as said."""
    sizes = {"litre": 1, "millilitre": 0.001, "US gallon": 1, "US fluid ounce": 1 / 128}
    value, unit = said.split(" ", 1)
    return float(value) * sizes[unit.removesuffix("s")]


@pytest.mark.parametrize(
    ("value", "said"),
    [(0, "0"), (0.0369, "0.0369"), (0.5, "0.5"), (2.25, "2.25"), (18.93, "18.9"), (100, "100"),
     (1234.5, "1234")],
)  # fmt: skip
def test_a_number_of_a_working_has_three_figures_at_least(value: float, said: str) -> None:
    assert METRIC.figure(value) == said


@pytest.mark.parametrize(
    ("probability", "said"),
    [
        (0.0, "less than 1 in 10"),
        (0.06, "1 in 10"),
        (0.34, "3 in 10"),
        (0.95, "9 in 10"),
        (1.0, "more than 9 in 10"),
    ],
)
def test_a_probability_is_a_spoken_number_and_nothing_is_certain(probability: float, said: str) -> None:
    assert chance(probability) == said
    assert 1 <= in_ten(probability) <= 9
