"""Light against published figures. Status words: read, read-in-copy, memory; "regression" was computed."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from garden.agronomy import light
from garden.agronomy.errors import OutOfRange
from garden.reference.loader import load_reference

lights = st.floats(1, 3000)
hours = st.floats(0.1, 24)


@pytest.mark.parametrize(
    ("ppfd", "hours_a_day", "dli", "tolerance"),
    [
        (224, 16, 12.9, 0.05),  # Dou and others 2018 (integral read, PPFD from memory)
        (290, 16, 16.6, 0.2),  # the same; the paper prints 16.5
        (310, 16, 17.8, 0.1),  # the same
        (220, 18, 14.3, 0.05),  # Brazaitytė and others 2021 (read)
        (200, 16, 11.5, 0.05),  # Carotti and others 2021 (read), and the next two
        (400, 16, 23.0, 0.05),
        (750, 16, 43.2, 0.05),
        (209.5, 16, 12.07, 0.01),  # Agronomy 14(12), 2895 (settings read), and the next
        (45, 16, 2.59, 0.01),
    ],
)
def test_daily_light_of_published_treatments(ppfd, hours_a_day, dli, tolerance):
    assert light.dli_mol_m2_d(ppfd, hours_a_day) == pytest.approx(dli, abs=tolerance)


@pytest.mark.parametrize(("ppfd", "hours_a_day", "dli"), [(1, 24, 0.0864), (200, 16, 11.52)])
def test_daily_light_is_the_unit_identity(ppfd, hours_a_day, dli):
    assert light.dli_mol_m2_d(ppfd, hours_a_day) == pytest.approx(dli, rel=1e-12)


@pytest.mark.parametrize(
    ("dli", "hours_a_day", "ppfd", "tolerance"),
    [
        (10, 18, 155, 1),  # Runkle, Lighting greenhouse vegetables (read; printed to the nearest 5)
        (9.3, 16, 161, 1.5),  # Dou and others 2018 (integral read, PPFD from memory), and the next
        (11.5, 16, 200, 1),
        (17, 16, 295.1, 0.5),  # regression, and the next two
        (13, 16, 225.7, 0.5),
        (25, 16, 434.0, 0.5),
    ],
)
def test_light_needed_for_a_daily_integral(dli, hours_a_day, ppfd, tolerance):
    assert light.ppfd_for_dli_umol_m2_s(dli, hours_a_day) == pytest.approx(ppfd, abs=tolerance)


@pytest.mark.parametrize(
    ("watts", "efficacy", "flux"),
    [(400, 1.02, 408), (1000, 1.66, 1660), (1000, 1.70, 1700), (630, 1.46, 920), (216, 0.95, 205)],
)
def test_photon_flux_of_the_fixtures_tested_in_2014(watts, efficacy, flux):
    # Nelson and Bugbee, PLoS ONE 9(6):e99010 (read).
    assert light.lamp_photon_flux_umol_s(watts, efficacy) == pytest.approx(flux, abs=1)


def test_mean_light_under_a_kilowatt_lamp_stays_as_computed():
    # Regression value: 1.02 µmol/J, 1000 W, 80 % reaching 1.44 m².
    flux = light.lamp_photon_flux_umol_s(1000, 1.02)
    assert light.mean_ppfd_umol_m2_s(flux, 1.44, 0.8) == pytest.approx(566.7, abs=0.1)


def test_four_fifths_of_the_light_reach_the_crop_unless_said_otherwise():
    # Common practice, no source.
    assert light.mean_ppfd_umol_m2_s(1000, 2.0) == pytest.approx(400)


@pytest.mark.parametrize(
    ("height_m", "now", "target", "new_height_m"),
    [(0.30, 800, 355.6, 0.45), (0.50, 600, 150, 1.00), (0.45, 500, 1125, 0.30)],
)
def test_height_for_another_light_stays_as_computed(height_m, now, target, new_height_m):
    # Regression values of the inverse square.
    assert light.height_for_ppfd_m(height_m, now, target) == pytest.approx(new_height_m, abs=0.001)


@pytest.mark.parametrize(
    ("lamp", "lux", "ppfd", "tolerance"),
    [
        ("led-white", 10_000, 150, 1),  # Sharakshane 2018 (read in a copy; the factor is good to ±10 %)
        ("hps", 10_000, 122, 0.2),  # Thimijan and Heins 1983 (read in a copy)
        ("metal-halide", 10_000, 141, 0.5),  # the same
        ("fluorescent", 10_000, 135, 0.5),  # the same
        ("hps", 500 * 10.764, 65.8, 0.25),  # Runkle, Light it up! (read): 500 foot-candles
    ],
)
def test_lux_meter_readings_become_light_by_the_factor_of_the_lamp(lamp, lux, ppfd, tolerance):
    factor = load_reference().lamps[lamp].lux_per_umol
    assert light.lux_to_ppfd_umol_m2_s(lux, factor) == pytest.approx(ppfd, abs=tolerance)


def test_full_sun_in_lux_is_two_thousand_micromoles():
    # Thimijan and Heins 1983 (read in a copy): 54 lux per µmol/m²/s for sun and sky.
    assert light.lux_to_ppfd_umol_m2_s(108_000, 54) == pytest.approx(2000, rel=0.01)


@pytest.mark.parametrize("lamp", ["led-red-blue", "ceramic-metal-halide"])
def test_lux_under_a_lamp_without_a_factor_is_refused(lamp):
    with pytest.raises(light.NoLuxFactorError, match="measure PPFD"):
        light.lux_to_ppfd_umol_m2_s(10_000, load_reference().lamps[lamp].lux_per_umol)


@given(lights, hours)
def test_light_and_hours_for_a_daily_integral_undo_it(ppfd, hours_a_day):
    dli = light.dli_mol_m2_d(ppfd, hours_a_day)
    if dli <= 100:
        assert light.ppfd_for_dli_umol_m2_s(dli, hours_a_day) == pytest.approx(ppfd)
    assert light.hours_for_dli_h(dli, ppfd) == pytest.approx(hours_a_day)


@given(lights, st.floats(0, 1))
def test_dimming_gives_the_wanted_light(ppfd, share):
    assert light.dim_fraction(ppfd, ppfd * share) * ppfd == pytest.approx(ppfd * share)


@given(st.floats(0.1, 3), lights, lights)
def test_raising_and_lowering_again_returns_to_the_first_height(height_m, now, target):
    other = height_m * (now / target) ** 0.5
    if other <= 20:
        raised = light.height_for_ppfd_m(height_m, now, target)
        assert light.height_for_ppfd_m(raised, target, now) == pytest.approx(height_m)
        assert (raised > height_m) == (target < now) or target == pytest.approx(now)


@pytest.mark.parametrize(
    ("call", "field"),
    [
        (lambda: light.dli_mol_m2_d(-1, 16), "ppfd_umol_m2_s"),
        (lambda: light.dli_mol_m2_d(200, 25), "hours"),
        (lambda: light.ppfd_for_dli_umol_m2_s(12, 0), "hours"),
        (lambda: light.ppfd_for_dli_umol_m2_s(-1, 12), "dli_mol_m2_d"),
        (lambda: light.hours_for_dli_h(30, 100), "dli_mol_m2_d"),
        (lambda: light.hours_for_dli_h(3, 0), "ppfd_umol_m2_s"),
        (lambda: light.lamp_photon_flux_umol_s(100, 0), "efficacy_umol_j"),
        (lambda: light.lamp_photon_flux_umol_s(-5, 1), "watts"),
        (lambda: light.mean_ppfd_umol_m2_s(300, 0), "area_m2"),
        (lambda: light.mean_ppfd_umol_m2_s(-1, 1), "photon_flux_umol_s"),
        (lambda: light.mean_ppfd_umol_m2_s(300, 1, 1.2), "utilisation"),
        (lambda: light.dim_fraction(200, 300), "target_umol_m2_s"),
        (lambda: light.height_for_ppfd_m(0, 200, 300), "height_m"),
        (lambda: light.lux_to_ppfd_umol_m2_s(-1, 54), "lux"),
        (lambda: light.lux_to_ppfd_umol_m2_s(100, 1), "lux_per_umol"),
    ],
)
def test_impossible_light_is_refused_by_the_name_of_its_field(call, field):
    with pytest.raises(OutOfRange) as caught:
        call()
    assert caught.value.field == field
