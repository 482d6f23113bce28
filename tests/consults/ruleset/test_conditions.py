import math
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from consults.ruleset.conditions import condition_states
from consults.ruleset.loader import load_bundled
from consults.ruleset.schema import Condition

BAND = SimpleNamespace(low=5.8, high=6.3, wide_low=5.4, wide_high=6.8)
FINITE = st.floats(-50, 50)


def _condition(**edge):
    return Condition(
        code="c", name={"en": "c"}, reading="root_zone_ph", source="common practice, no source", **edge
    )


def _state(value, band=BAND, **edge):
    readings = {"root_zone_ph": value}
    return condition_states({"c": _condition(**edge)}, readings, lambda code: band).get("c")


@pytest.mark.parametrize(
    ("edge", "value", "expected"),
    [
        ({"above": "high"}, 6.3, False),
        ({"above": "high"}, 6.31, True),
        ({"above": "high", "by": 0.5}, 6.8, False),
        ({"above": "high", "by": 0.5}, 6.81, True),
        ({"above": "wide_high"}, 6.8, False),
        ({"above": "wide_high"}, 6.9, True),
        ({"above": "low"}, 5.9, True),
        ({"below": "low"}, 5.8, False),
        ({"below": "low"}, 5.79, True),
        ({"below": "low", "by": 0.3}, 5.5, False),
        ({"below": "low", "by": 0.3}, 5.49, True),
        ({"below": "wide_low"}, 5.4, False),
        ({"below": "wide_low"}, 5.39, True),
        ({"below": "high"}, 6.0, True),
        ({"above_value": 7.0}, 7.0, False),
        ({"above_value": 7.0}, 7.01, True),
        ({"below_value": 5.0}, 5.0, False),
        ({"below_value": 5.0}, 4.99, True),
        ({"above_value": 0.0}, 0.0, False),
        ({"below_value": 0.0}, -0.1, True),
    ],
)
def test_a_reading_on_the_boundary_is_not_beyond_it(edge, value, expected):
    assert _state(value, **edge) is expected


def test_rounding_in_the_last_digits_counts_as_on_the_boundary():
    assert 6.3 + 0.1 != 6.4
    assert _state(6.4, above="high", by=0.1) is False
    assert 5.8 - 0.1 != 5.7 or 5.4 - 0.3 != 5.1
    assert _state(5.1, below="wide_low", by=0.3) is False


@given(FINITE, FINITE, st.floats(0, 5))
def test_above_and_below_the_same_edge_exclude_each_other(value, edge, by):
    band = SimpleNamespace(low=edge, high=edge, wide_low=edge, wide_high=edge)
    above = _state(value, band, above="high", by=by)
    below = _state(value, band, below="low", by=by)
    assert not (above and below)
    if abs(value - edge) < by:
        assert above is False
        assert below is False


def test_what_was_not_measured_or_has_no_band_is_unknown():
    conditions = {"edge": _condition(above="high"), "number": _condition(above_value=7.0)}
    assert condition_states(conditions, {}, lambda code: BAND) == {}
    assert condition_states(conditions, {"air_temp_c": 20.0}, lambda code: BAND) == {}
    assert condition_states(conditions, {"root_zone_ph": 7.2}, lambda code: None) == {"number": True}


def test_the_band_is_asked_for_the_reading_of_the_condition():
    asked = []
    condition_states(
        {"c": _condition(above="high")}, {"root_zone_ph": 6.0}, lambda code: asked.append(code) or BAND
    )
    assert asked == ["root_zone_ph"]


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_a_reading_that_is_no_number_is_refused_by_name(value):
    with pytest.raises(ValueError, match="'root_zone_ph'"):
        _state(value, above="high")


@pytest.mark.parametrize(
    ("days", "sudden", "slow"),
    [(0, True, False), (2, True, False), (3, False, False), (14, False, False), (15, False, True)],
)
def test_the_days_since_onset_make_a_sudden_or_a_slow_beginning(days, sudden, slow):
    conditions = {
        code: rule for code, rule in load_bundled().conditions.items() if rule.reading == "onset_days"
    }
    states = condition_states(conditions, {"onset_days": float(days)}, lambda code: None)
    assert states == {"onset-slow": slow, "onset-sudden": sudden}


def test_without_a_told_onset_nothing_is_said_about_it():
    assert "onset-sudden" not in condition_states(load_bundled().conditions, {}, lambda code: None)
