"""Numbers as a grower reads them: rounded, never cut off, in words and in their units."""

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
    assert METRIC.length(0.56) == "56 centimetres"
    assert US.length(0.3048) == "1 foot"
    assert METRIC.temperature(21, 28) == "21 to 28 °C"
    assert US.temperature(21, 28) == "70 to 82 °F"
    assert METRIC.size([1.5, 0.9, 1.9]) == "1.5 × 0.9 × 1.9 m"
    assert US.size([0.9144, 0.6096]) == "3 × 2 ft"


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
