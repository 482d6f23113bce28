"""Pots against published figures. "Regression" values were computed, not read."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from garden.agronomy import container, watering
from garden.agronomy.errors import OutOfRange
from garden.reference.loader import load_reference

heights = st.floats(0.01, 1)


@st.composite
def media(draw):
    """Capacity, air space and available water that a medium could have."""
    capacity = draw(st.floats(0.05, 0.9))
    air = draw(st.floats(0.02, 1 - capacity))
    return capacity, air, capacity * draw(st.floats(0.05, 1))


@pytest.mark.parametrize(
    ("bulk", "particle", "porosity", "tolerance"),
    [
        (49, 1900, 0.974, 0.01),  # rock wool; the table prints air 0.04 and water 0.94
        (113, 1580, 0.93, 0.01),  # peat; 0.14 and 0.79
        (431, 2000, 0.83, 0.05),  # pumice
        (78, 1190, 0.95, 0.05),  # polyurethane
    ],
)
def test_porosity_from_densities_agrees_with_a_published_table(bulk, particle, porosity, tolerance):
    # Frontiers in Plant Science 5:625, 2014, Table 4, PMC4235429 (read).
    assert container.total_porosity(bulk, particle) == pytest.approx(porosity, abs=tolerance)


@pytest.mark.parametrize(("air", "capacity", "total"), [(0.11, 0.87, 0.98), (0.31, 0.48, 0.79)])
def test_air_and_water_of_measured_media_make_up_the_pores(air, capacity, total):
    # International Journal of Agronomy 2012, 978528, Table 1 (read): peat and pine bark.
    pot = container.water_at_height(capacity, air, capacity / 2, 0.2)
    assert pot.air_space + pot.container_capacity == pytest.approx(total)


def test_a_low_cell_holds_the_water_that_was_published_for_it():
    # Bilderback and Fonteno 1987 (abstract read): the same medium has 28 % air and 43 % water in a #1
    # container, 12 % and 59 % in a bedding cell. The abstract gives no heights (0.15 and 0.05 m are from
    # memory) and no water held tightly (0.20 to 0.30 of the volume is common for pine bark, from memory).
    for tight in (0.20, 0.25, 0.30):
        cell = container.water_at_height(0.43, 0.28, 0.43 - tight, 0.05, sample_height_m=0.15)
        assert cell.container_capacity == pytest.approx(0.59, abs=0.05)
        assert cell.air_space == pytest.approx(0.12, abs=0.05)


@given(media(), heights, heights)
def test_a_taller_pot_holds_less_water_and_more_air_and_the_pores_stay(medium, one, other):
    low, tall = (container.water_at_height(*medium, height) for height in sorted((one, other)))
    assert tall.container_capacity <= low.container_capacity + 1e-9
    assert tall.air_space >= low.air_space - 1e-9
    for pot in (low, tall):
        assert pot.container_capacity + pot.air_space == pytest.approx(medium[0] + medium[1])
        assert 0 <= pot.available_water <= pot.container_capacity + 1e-9


@given(media(), heights)
def test_at_the_height_it_was_measured_a_medium_is_what_was_measured(medium, height):
    pot = container.water_at_height(*medium, height, sample_height_m=height)
    assert pot.container_capacity == pytest.approx(medium[0], abs=1e-6)


def test_every_medium_of_the_reference_has_sensible_water_in_pots_of_all_heights():
    for medium in load_reference().media.values():
        if medium.container_capacity and medium.air_space and medium.available_water:
            for height in (0.03, 0.1, 0.3):
                pot = container.water_at_height(
                    medium.container_capacity, medium.air_space, medium.available_water, height
                )
                assert 0 < pot.available_water < 1
                assert pot.air_space > 0


def test_lift_weights_stay_as_computed():
    # Regression: 5 L of 0.12 kg/L, 55 % water of which 30 % available, a 200 g pot and a 300 g plant.
    weights = container.lift_weights(5, 0.55, 0.30, 0.12, empty_pot_g=200, plant_g=300)
    assert (weights.dry_g, weights.full_g) == pytest.approx((1100, 3850))
    assert (weights.water_now_g, weights.wilting_g) == pytest.approx((3100, 2350))


@given(media(), st.floats(0.1, 100), st.floats(0, 2), st.floats(0.05, 1))
def test_weights_fall_from_full_to_dry_and_agree_with_the_depletion(medium, litres, density, allowed):
    capacity, _, available = medium
    weights = container.lift_weights(litres, capacity, available, density, allowed_depletion=allowed)
    assert weights.full_g >= weights.water_now_g >= weights.wilting_g - 1e-6 >= weights.dry_g - 1e-5
    loss = watering.ready_to_water_loss_g(litres, available, allowed)
    assert weights.full_g - weights.water_now_g == pytest.approx(loss)


@pytest.mark.parametrize(
    ("call", "field"),
    [
        (lambda: container.total_porosity(2000, 1500), "bulk_density_kg_m3"),
        (lambda: container.total_porosity(100, 0), "particle_density_kg_m3"),
        (lambda: container.water_at_height(55, 0.2, 0.3, 0.1), "container_capacity"),
        (lambda: container.water_at_height(0.6, 0.5, 0.3, 0.1), "air_space"),
        (lambda: container.water_at_height(0.6, 0.2, 0.7, 0.1), "available_water"),
        (lambda: container.water_at_height(0.6, 0.2, 0.3, 5), "height_m"),
        (lambda: container.lift_weights(0, 0.5, 0.3, 0.1), "container_l"),
        (lambda: container.lift_weights(5, 0.5, 0.6, 0.1), "available_water"),
        (lambda: container.lift_weights(5, 0.5, 0.3, 100), "dry_density_kg_l"),
        (lambda: container.lift_weights(5, 0.5, 0.3, 0.1, plant_g=-1), "plant_g"),
    ],
)
def test_impossible_pots_are_refused_by_the_name_of_their_field(call, field):
    with pytest.raises(OutOfRange) as caught:
        call()
    assert caught.value.field == field
