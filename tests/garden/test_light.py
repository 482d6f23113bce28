"""Light against published figures. Status words: read, read-in-copy, memory; "regression" was computed."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from garden.agronomy import light
from garden.agronomy.errors import AgronomyError, OutOfRange
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


@pytest.mark.parametrize(
    ("watts", "kind", "ppfd"),
    [
        (100, "sun", 457), (100, "blue-sky", 424), (100, "metal-halide", 459), (100, "hps", 498),
        (100, "fluorescent", 459), (100, "incandescent", 500),
    ],
)  # fmt: skip
def test_power_of_light_becomes_photons_by_the_published_factors(watts, kind, ppfd):
    # Thimijan and Heins 1983 (read in a copy), µmol per joule from 400 to 700 nm.
    assert light.par_power_to_ppfd_umol_m2_s(watts, kind) == pytest.approx(ppfd, abs=0.5)


@pytest.mark.parametrize(("kind", "fc"), [("sun", 5.02), ("blue-sky", 4.83), ("incandescent", 4.65)])
def test_foot_candles_of_daylight_agree_with_the_published_factors(kind, fc):
    # Thimijan and Heins 1983 (read in a copy), divided by 10.764 lux per foot-candle.
    lux = light.foot_candles_to_lux(fc)
    assert light.lux_to_ppfd_umol_m2_s(lux, light.DAYLIGHT_LUX_PER_UMOL[kind]) == pytest.approx(1, abs=0.002)


def test_five_hundred_foot_candles_of_sodium_light_agree_with_runkle():
    # Runkle, Light it up! (read): 500 foot-candles by 7.6, so 65.8.
    ppfd = light.lux_to_ppfd_umol_m2_s(light.foot_candles_to_lux(500), 82)
    assert ppfd == pytest.approx(65.8, abs=0.25)


def test_lux_of_white_leds_comes_with_its_published_tenth_of_uncertainty():
    # Sharakshane 2018 (read in a copy): 15 µmol per klx, about ±10 %.
    found = light.lux_to_ppfd_range(10_000, 66.7, light.LUX_UNCERTAINTY["led-white"])
    assert found.ppfd_umol_m2_s == pytest.approx(150, abs=0.5)
    assert (found.low_umol_m2_s, found.high_umol_m2_s) == pytest.approx((136.3, 166.6), abs=0.1)


def test_every_lamp_with_a_lux_factor_has_an_uncertainty_and_red_blue_is_refused():
    lamps = load_reference().lamps
    with_factor = {code for code, lamp in lamps.items() if lamp.lux_per_umol is not None}
    assert with_factor <= set(light.LUX_UNCERTAINTY)
    with pytest.raises(light.NoLuxFactorError, match="measure PPFD"):
        light.lux_to_ppfd_range(10_000, lamps["led-red-blue"].lux_per_umol)


@given(st.floats(0, 200_000), st.floats(10, 200), st.floats(0, 0.5))
def test_the_reading_lies_in_its_own_range(lux, factor, uncertainty):
    found = light.lux_to_ppfd_range(lux, factor, uncertainty)
    assert found.low_umol_m2_s <= found.ppfd_umol_m2_s <= found.high_umol_m2_s


@pytest.mark.parametrize(
    ("dli", "verdict"), [(5, "far-below"), (9, "below"), (12, "inside"), (19, "above"), (31, "far-above")]
)
def test_a_daily_light_integral_is_judged_by_the_band(dli, verdict):
    assert light.judge_dli(dli, 10, 17, 8, 30) == verdict


def test_without_a_band_nothing_is_judged_and_without_a_wide_one_outside_is_far():
    assert light.judge_dli(5, None, None) == "no-band"
    assert light.judge_dli(5, 10, None) == "far-below"
    assert light.judge_dli(50, 10, None) == "inside"
    assert light.judge_dli(20, None, 17) == "far-above"


def test_too_much_light_is_dimmed_shortened_or_raised():
    # 400 µmol/m²/s for 16 h are 23.04 mol; half of it by any one of three ways (regression).
    change = light.light_change(400, 16, 11.52, height_m=0.4)
    assert change.output_share == pytest.approx(0.5)
    assert change.hours == pytest.approx(8)
    assert change.height_m == pytest.approx(0.4 * 2**0.5)
    assert change.target_ppfd_umol_m2_s == pytest.approx(200)


def test_a_day_longer_than_the_crop_may_get_is_not_offered():
    change = light.light_change(100, 16, 11.52)
    assert change.hours is None
    assert change.height_m is None
    assert change.output_share == pytest.approx(2)
    assert light.light_change(100, 12, 6.48, longest_day_h=20).hours == pytest.approx(18)


@given(lights, hours, st.floats(0.01, 1.5), st.floats(0.1, 2))
def test_each_way_alone_gives_the_wanted_integral(ppfd, hours_a_day, ratio, height_m):
    now = light.dli_mol_m2_d(ppfd, hours_a_day)
    target = now * ratio
    if not 0.001 < target <= 100 or ppfd * ratio > 3000:
        return
    change = light.light_change(ppfd, hours_a_day, target, height_m)
    assert now * change.output_share == pytest.approx(target)
    if change.hours is not None:
        assert light.dli_mol_m2_d(ppfd, change.hours) == pytest.approx(target)
    if change.height_m is not None:
        assert ppfd * (height_m / change.height_m) ** 2 == pytest.approx(change.target_ppfd_umol_m2_s)


@given(st.floats(0.1, 2), lights, lights)
def test_a_tube_moves_farther_than_a_small_lamp_for_the_same_change(height_m, now, target):
    if height_m * (now / target) ** 0.5 > 20:
        return
    low, high = light.height_range_for_ppfd_m(height_m, now, target)
    small = light.height_for_ppfd_m(height_m, now, target)
    assert low <= high
    assert small == (low if target <= now else high) or low == pytest.approx(high)


@given(lights, lights, st.sampled_from(["seedlings", "moved-plants"]))
def test_a_ramp_never_steps_too_far_and_ends_at_the_wanted_light(start, end, kind):
    steps = light.light_ramp(start, end, kind)
    most = {"seedlings": 1.25, "moved-plants": 1.5}[kind]  # common practice, no source
    assert steps[-1].ppfd_umol_m2_s == end
    assert steps[-1].share == 1
    assert [step.day for step in steps] == sorted({step.day for step in steps})
    last = start
    for step in steps:
        assert step.ppfd_umol_m2_s <= last * most * (1 + 1e-6) or end <= start
        assert step.ppfd_umol_m2_s >= last or end <= start
        last = step.ppfd_umol_m2_s


def test_ramps_of_common_practice_take_these_days():
    # Common practice, no source.
    moved = light.light_ramp(200, 450, "moved-plants")
    assert [(step.day, round(step.ppfd_umol_m2_s)) for step in moved] == [(0, 300), (3, 450)]
    assert len(light.light_ramp(200, 450, "seedlings")) == 4
    assert light.light_ramp(300, 200, "moved-plants") == (light.RampStep(0, 200, 1.0),)


@pytest.mark.parametrize(
    ("call", "field"),
    [
        (lambda: light.foot_candles_to_lux(-1), "foot_candles"),
        (lambda: light.lux_to_ppfd_range(100, 54, 0.9), "uncertainty"),
        (lambda: light.par_power_to_ppfd_umol_m2_s(5000, "sun"), "power_w_m2"),
        (lambda: light.judge_dli(-1, 1, 2), "dli_mol_m2_d"),
        (lambda: light.light_change(0, 16, 12), "ppfd_umol_m2_s"),
        (lambda: light.light_change(200, 0, 12), "hours"),
        (lambda: light.light_change(200, 1, 50), "target_dli_mol_m2_d"),
        (lambda: light.light_change(200, 16, 12, -1), "height_m"),
        (lambda: light.light_change(200, 16, 12, 0.5, 30), "longest_day_h"),
        (lambda: light.light_ramp(0, 200, "seedlings"), "from_ppfd_umol_m2_s"),
        (lambda: light.light_ramp(100, 9000, "seedlings"), "to_ppfd_umol_m2_s"),
    ],
)
def test_light_that_cannot_be_planned_is_refused_by_the_name_of_its_field(call, field):
    with pytest.raises(OutOfRange) as caught:
        call()
    assert caught.value.field == field


def test_a_light_without_a_photon_factor_is_refused_with_the_allowed_ones():
    with pytest.raises(AgronomyError, match="allowed are sun"):
        light.par_power_to_ppfd_umol_m2_s(100, "candle")
