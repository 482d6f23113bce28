"""Products written one a line."""

import pytest

from garden.bench.label_rows import read_rows
from garden.bench.tool import Refused


def one(line, **options):
    return read_rows(line, "products", **options)[0]


def test_a_line_has_a_name_a_label_and_a_dose():
    row = one("Bloom A: 4-1-5, Ca 3; 2 mL/L")
    assert (row.name, row.dose_per_l, row.product.unit) == ("Bloom A", 2.0, "mL")
    # 4 g of nitrogen in 100 mL is 40 mg in each mL; oxides by atomic masses: P2O5 43.64 % P, K2O 83.01 % K.
    assert row.product.content_mg["N-other"] == pytest.approx(40)
    assert row.product.content_mg["P"] == pytest.approx(4.364, abs=0.002)
    assert row.product.content_mg["K"] == pytest.approx(41.51, abs=0.01)
    assert row.product.content_mg["Ca"] == pytest.approx(30)
    assert row.assumed_w_v


def test_decimal_commas_and_points_are_read_alike():
    assert one("A: 3,5-0-4, Ca 2,5 %; 1,5 mL/L") == one("A: 3.5-0-4, Ca 2.5; 1.5 mL/L")


def test_a_density_makes_a_label_one_by_weight():
    row = one("A: 4-0-0 density 1.2; 1 mL/L")
    assert row.product.content_mg["N-other"] == pytest.approx(48)
    assert not row.assumed_w_v


def test_a_powder_is_dosed_in_grams_and_a_gallon_is_a_us_gallon():
    row = one("Powder: 20-20-20; 3.785412 g/gal")
    assert row.product.unit == "g"
    assert row.dose_per_l == pytest.approx(1.0)


def test_a_pure_salt_is_known_by_its_code_and_its_name():
    assert (
        one("x: magnesium-sulfate; 1 g/L").product == one("x: Magnesium sulfate, Epsom salt; 1 g/L").product
    )


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ("", "at least one product"),
        ("Bloom 4-1-5", "Line 1: write “name: label; dose”"),
        ("A: 4-1-5; 2 mL/L\nB: 4-1-5", "Line 2: its dose is missing"),
        ("A: 4-1-5; lots", "“lots” is no dose"),
        ("A: Zz 4; 2 mL/L", "“Zz” is no element"),
        ("A: nothing here; 2 mL/L", "cannot be read"),
        ("A: 60-60-60; 2 mL/L", "more than 100"),
        ("A: 4-1-5; 2 mL/L\nA: 4-1-5; 2 mL/L", "stands there twice"),
        ("\n".join(f"A{n}: 1-1-1; 1 mL/L" for n in range(21)), "at most 20"),
    ],
)
def test_what_cannot_be_read_is_said_with_its_line(written, said):
    with pytest.raises(Refused) as refused:
        read_rows(written, "products")
    assert said in str(refused.value)
    assert refused.value.field == "products"
