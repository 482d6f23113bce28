"""Units at the edges: stored values in and out, as people write and read them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from garden.agronomy.errors import NumberTextError, UnitError
from garden.agronomy.units import check_unit, display, parse_value, to_base

STORED = ["°C", "L", "m", "mm", "g", "mS/cm", "mg/L", "kPa", "µmol/m²/s", "mol/m²/d", "h", "%", "ppm", "pH"]


@pytest.mark.parametrize(
    ("value", "unit", "stored"),
    [
        # Exact definitions: the international inch, pound and the US gallon of 231 cubic inches.
        (212, "°F", 100),
        (1, "US gal", 3.785411784),
        (1, "fl oz", 0.0295735295625),
        (1, "ft", 0.3048),
        (1, "in", 0.0254),
        (1, "oz", 28.349523125),
        (1, "dS/m", 1),
        (1413, "µS/cm", 1.413),
        (10, "hPa", 1),
        (250, "mL", 0.25),
        (30, "min", 0.5),
    ],
)
def test_units_become_the_stored_one(value, unit, stored):
    assert to_base(value, unit) == pytest.approx(stored, rel=1e-12)


@pytest.mark.parametrize(
    ("value", "base", "system", "shown", "label"),
    [
        (25, "°C", "us", 77, "°F"),
        (25, "°C", "metric", 25, "°C"),
        (20, "L", "us", 5.2834, "US gal"),
        (0.5, "L", "us", 16.907, "fl oz"),
        (0.5, "L", "metric", 500, "mL"),
        (1.5, "m", "us", 4.9213, "ft"),
        (0.2, "m", "us", 7.874, "in"),
        (0.4, "m", "metric", 40, "cm"),
        (25.4, "mm", "us", 1, "in"),
        (25.4, "mm", "metric", 25.4, "mm"),
        (100, "g", "us", 3.5274, "oz"),
        (1.8, "mS/cm", "us", 1.8, "mS/cm"),
        (300, "µmol/m²/s", "us", 300, "µmol/m²/s"),
    ],
)
def test_stored_values_are_shown_as_people_of_each_system_read_them(value, base, system, shown, label):
    found, found_label = display(value, base, system)
    assert found == pytest.approx(shown, rel=1e-4)
    assert found_label == label


@given(st.sampled_from(STORED), st.sampled_from(["metric", "us"]), st.floats(0, 1000))
def test_what_is_shown_reads_back_as_what_was_stored(base, system, value):
    shown, label = display(value, base, system)
    # A millimetre field is stored as millimetres; all lengths read back as metres.
    assert to_base(shown, label, expected=base) == pytest.approx(to_base(value, base), abs=1e-9)


@pytest.mark.parametrize(
    ("written", "unit", "stored"),
    [
        ("6.2", "pH", 6.2),
        ("6,2", "pH", 6.2),
        (" 21,5 °C ", "°C", 21.5),
        ("77 °F", "°C", 25),
        ("77F", "°C", 25),
        ("0,500", "mS/cm", 0.5),
        ("1.250,5", "ppm", 1250.5),
        ("1,250.5", "ppm", 1250.5),
        ("−3", "°C", -3),
        ("800 μS/cm", "mS/cm", 0.8),  # with the Greek letter instead of the micro sign
        ("2 gal", "L", 7.570823568),
        ("12", "in", 0.3048),
    ],
)
def test_numbers_are_read_as_people_write_them(written, unit, stored):
    assert parse_value(written, unit) == pytest.approx(stored)


@pytest.mark.parametrize(
    "written", ["", "about 6", "1,250", "6.2.1", "1,2,3", "-", ",", "1.25,5.0", "nan", "inf"]
)
def test_a_text_that_is_not_one_clear_number_is_refused(written):
    with pytest.raises(NumberTextError, match="not a clear number"):
        parse_value(written, "ppm")


def test_a_number_that_reads_two_ways_is_refused_with_both():
    with pytest.raises(NumberTextError, match=r"write 1250 or 1\.250"):
        parse_value("1,250", "ppm")


@pytest.mark.parametrize(
    ("unit", "expected", "allowed"),
    [("L", "°C", "°C"), ("°F", "L", "US gal"), ("ppm", "mg/L", "mg/L"), ("pH", "kPa", "kPa")],
)
def test_a_unit_of_another_kind_is_refused_with_the_allowed_ones(unit, expected, allowed):
    with pytest.raises(UnitError) as caught:
        to_base(1, unit, expected=expected)
    assert f"“{unit}”" in str(caught.value)
    assert allowed in caught.value.allowed


@pytest.mark.parametrize("unit", ["furlong", "", "coulomb", "megasiemens/cm"])
def test_an_unknown_unit_is_refused(unit):
    with pytest.raises(UnitError, match="cannot be used here; use one of"):
        check_unit(unit)


def test_a_unit_written_beside_a_number_must_be_of_the_kind_of_the_field():
    with pytest.raises(UnitError, match="“°F”"):
        parse_value("70 °F", "L")
