"""Labels to milligrams per litre, against published figures where a source is named."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from garden.agronomy import labels
from garden.agronomy.errors import AgronomyError, OutOfRange

percents = st.floats(0.1, 100)


def test_calcium_nitrate_for_100_mg_of_nitrogen():
    # Mattson, e-GRO Edible Alert 3(5), March 2018 (read); the calcium follows from it.
    product = labels.product_mg_l(100, 15.5)
    assert product == pytest.approx(645, abs=0.5)
    assert product * 0.19 == pytest.approx(122.6, abs=0.5)


@pytest.mark.parametrize(("percent", "ounces"), [(20, 13.5), (15, 18)])
def test_ounces_per_100_gallons_for_200_mg_of_nitrogen(percent, ounces):
    # University of Massachusetts, fertilizer calculations for greenhouse crops (read).
    assert labels.oz_per_100_gal(200, percent) == pytest.approx(ounces, abs=0.25)


@pytest.mark.parametrize(
    ("label", "expected"),
    [
        ((20, 20, 20), (200, 87.3, 166.0)),  # regression: definition of the label
        ((20, 10, 20), (200, 43.6, 166.0)),  # meaning of the label: Virginia Tech 430-100 (read)
        ((0, 0, 50), (0, 0, 415.0)),  # potassium sulfate 41.5 % K, a grower teaching page (read in a copy)
    ],
)
def test_a_gram_of_solid_brings_what_its_label_says(label, expected):
    names = ("N", "P2O5", "K2O")
    content = labels.totals(labels.label_content(dict(zip(names, label, strict=True)), liquid=False))
    assert [content.get(name, 0) for name in ("N", "P", "K")] == pytest.approx(expected, abs=0.1)


def test_a_liquid_label_by_weight_counts_its_density():
    # Regression values: 3-2-6 by weight, 1.20 g/mL, 2.0 mL/L.
    content = labels.label_content({"N": 3, "P2O5": 2, "K2O": 6}, liquid=True, density_g_ml=1.2)
    feed = labels.totals(labels.feed_mg_l(content, 2.0))
    assert [feed[name] for name in "NPK"] == pytest.approx([72.0, 20.95, 119.5], abs=0.1)


def test_a_liquid_label_by_volume_leaves_the_density_out():
    content = labels.label_content({"N": 3}, liquid=True, basis="w/v")
    assert labels.totals(content)["N"] == 30


def test_an_injector_of_1_to_100_takes_a_hundredfold_stock():
    assert labels.stock_g_l(200, 20, 100) == pytest.approx(100)  # regression: definition


def test_molybdenum_of_the_1950_circular_lies_between_two_readings():
    # Hoagland and Arnon, Circular 347 (read in a copy): 0.02 mg/L "H2MoO4·H2O", quoted as 0.011 mg/L Mo.
    from garden.agronomy.salts import element_share

    pure = 0.02 * element_share("H2MoO4·H2O")["Mo"]
    as_oxide = 0.02 * 0.85 * element_share("MoO3")["Mo"]
    assert pure == pytest.approx(0.0107, abs=2e-4)
    assert as_oxide == pytest.approx(0.0113, abs=2e-4)


def test_nitrogen_without_a_form_is_kept_apart():
    content = labels.label_content({"N": 8, "N-NO3": 6, "N-NH4": 1.5}, liquid=False)
    assert content["N-other"] == pytest.approx(5)
    assert labels.totals(content)["N"] == pytest.approx(80)


@given(percents, percents, st.floats(0.7, 2.2), st.floats(0, 100))
def test_the_label_is_kept_to_the_milligram(nitrogen, potash, density, dose):
    total = nitrogen + potash
    scale = 100 / total if total > 100 else 1.0
    label = {"N": nitrogen * scale, "K2O": potash * scale}
    content = labels.label_content(label, liquid=True, density_g_ml=density)
    feed = labels.totals(labels.feed_mg_l(content, dose))
    assert feed["N"] == pytest.approx(label["N"] * density * 10 * dose)
    assert feed["K"] <= label["K2O"] * density * 10 * dose + 1e-9


@given(st.floats(1, 1000), percents)
def test_ounces_and_milligrams_undo_each_other(target, percent):
    ounces = labels.oz_per_100_gal(target, percent)
    if ounces <= 1e4:
        assert labels.mg_l_from_oz_per_100_gal(ounces, percent) == pytest.approx(target)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: labels.label_content({"N": 3}, liquid=True), "density_g_ml is missing"),
        (lambda: labels.label_content({"N": 3}, liquid=False, basis="w/v"), "by weight"),
        (lambda: labels.label_content({"Unobtainium": 3}, liquid=False), "known are N, P"),
        (lambda: labels.label_content({"N": 60, "K2O": 60}, liquid=False), "more than 100"),
        (lambda: labels.label_content({"N": 5, "N-NO3": 7}, liquid=False), "sum of its forms"),
        (lambda: labels.label_content({"N": 101}, liquid=False), "100"),
        (lambda: labels.label_content({"N": 3}, liquid=True, density_g_ml=5), "density_g_ml"),
        (lambda: labels.product_mg_l(100, 0), "percent"),
        (lambda: labels.stock_g_l(100, 20, 0), "injector_ratio"),
        (lambda: labels.feed_mg_l({"N": 1}, -1), "dose_per_l"),
    ],
)
def test_a_label_that_cannot_be_is_refused_with_what_to_mend(call, message):
    with pytest.raises(AgronomyError, match=message):
        call()


def test_a_density_beyond_liquids_names_its_field():
    with pytest.raises(OutOfRange) as caught:
        labels.label_content({"N": 3}, liquid=True, density_g_ml=12)
    assert caught.value.field == "density_g_ml"
