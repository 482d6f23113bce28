"""The bench in the browser: its index, a page for each question, answers while somebody types."""

import re

import pytest
from django.test import Client
from django.urls import reverse

from garden.bench.tools import all_tools
from garden.models import Lamp, Reading, WaterSource
from tests.factories import client_of, make_grower, make_planting, queries_of

pytestmark = pytest.mark.django_db
DRAIN = {"ec_ms_cm": "2", "target_ec_ms_cm": "1", "water_ec_ms_cm": "0", "tank_l": "40"}


def page(code, client=None, live=False, **typed):
    headers = {"HX-Request": "true"} if live else {}
    answer = (client or client_of()).get(reverse("bench-tool", args=[code]), typed, headers=headers)
    assert answer.status_code == 200
    return answer.content.decode()


def headline(html):
    return re.search(r'class="bench-headline">([^<]*)', html)[1]


def error_of(html, field):
    start = html.index(f'id="error-{field}"')
    return html[html.index(">", start) + 1 : html.index("</div>", start)]


# --- the index ------------------------------------------------------------------------------------
def test_the_bench_lists_every_question_and_is_reached_from_everywhere():
    html = client_of().get(reverse("bench")).content.decode()
    for code, tool in all_tools().items():
        assert reverse("bench-tool", args=[code]) in html
        assert str(tool.question) in html
    assert f'href="{reverse("bench")}"' in client_of().get(reverse("growers")).content.decode()


def test_a_question_is_found_by_its_words():
    html = client_of().get(reverse("bench"), {"q": "drain"}, headers={"HX-Request": "true"}).content.decode()
    assert "How much do I drain?" in html
    assert "How much acid?" not in html
    assert "<html" not in html


def test_a_search_without_result_says_what_to_do():
    html = client_of().get(reverse("bench"), {"q": "zebra<b>"}).content.decode()
    assert "No question has the words" in html
    assert "zebra<b>" not in html


def test_nobody_reads_the_bench_without_signing_in():
    for address in (reverse("bench"), reverse("bench-tool", args=["feed-drain"])):
        assert Client().get(address).status_code == 302


def test_an_unknown_question_or_planting_is_a_missing_page():
    client = client_of()
    assert client.get(reverse("bench-tool", args=["nonsense"])).status_code == 404
    for planting in ("99999", "x", "-1", "9" * 40, "٣"):
        assert (
            client.get(reverse("bench-tool", args=["feed-drain"]), {"planting": planting}).status_code == 404
        )
        assert client.get(reverse("bench"), {"planting": planting}).status_code == 404


# --- a page for each question -----------------------------------------------------------------------
@pytest.mark.parametrize("code", sorted(all_tools()))
def test_an_empty_page_shows_its_example_and_says_so(code):
    html = page(code)
    tool = all_tools()[code]
    assert f"<h1>{tool.question}</h1>" in html
    assert "An example: the numbers in grey." in html
    assert "Show the working" in html
    for field in tool.fields:
        assert f'name="{field.name}"' in html
        assert f'for="in-{field.name}"' in html


def test_the_address_holds_the_inputs_and_works_without_a_script():
    html = page("feed-drain", **DRAIN)
    assert "Drain 20 litres (50\N{NO-BREAK SPACE}% of the full tank)" in html
    assert 'value="40"' in html
    assert "An example" not in html
    assert "<form" in html


def test_while_somebody_types_only_the_answer_comes():
    html = page("feed-drain", live=True, **DRAIN)
    assert "Drain 20 litres" in html
    assert "<html" not in html
    assert "<input" not in html
    assert 'id="error-tank_l" hx-swap-oob="true"' in html


def test_a_decimal_comma_and_a_unit_beside_the_number_are_read():
    typed = {**DRAIN, "ec_ms_cm": "2,0", "tank_l": "10 US gal"}
    assert "Drain 18.9 litres" in page("feed-drain", **typed)


def test_what_is_missing_is_named_and_is_no_error_yet():
    html = page("feed-drain", live=True, ec_ms_cm="2")
    assert "Still to fill in: EC wanted, EC of the plain water, Reservoir" in html
    assert error_of(html, "tank_l") == ""


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        ("ec_ms_cm", "31", "it must be from 0 to 30 mS/cm."),
        ("tank_l", "0", "it must be above 0 and at most"),
        ("tank_l", "ten", "is not one clear number"),
        ("tank_l", "1,250", "is not one clear number"),
        ("tank_l", "5 kg", "does not fit here"),
        ("ec_ms_cm", "nan", "is not one clear number"),
        ("target_ec_ms_cm", "0", "it must be above 0"),
    ],
)
@pytest.mark.parametrize("live", [True, False])
def test_what_cannot_be_is_refused_beside_its_field_and_stays_typed(field, typed, said, live):
    html = page("feed-drain", live=live, **{**DRAIN, field: typed})
    assert said in error_of(html, field)
    assert live or f'value="{typed}"' in html
    assert "Drain " not in html.split('id="answer"')[-1]


def test_what_the_science_refuses_stands_beside_the_field_it_is_about():
    html = page("feed-drain", live=True, **{**DRAIN, "water_ec_ms_cm": "1.5"})
    assert "as strong as that" in error_of(html, "target_ec_ms_cm")
    html = page(
        "water-acid", live=True, ph="6", alkalinity_mg_l="100", target_ph="7", volume_l="10", acid="nitric-67"
    )
    assert "pH wanted is 7 here; it must be up to" in error_of(html, "target_ph")


def test_a_line_of_products_that_cannot_be_read_is_refused_beside_it():
    html = page("feed-label", live=True, products="Bloom A 4-1-5")
    assert "Line 1:" in error_of(html, "products")


@pytest.mark.parametrize("code", sorted(all_tools()))
@pytest.mark.parametrize(
    "junk", ["\x00'\"><script>alert(1)</script>", "x" * 5000, "9" * 400, "-1", "1e5", "٣"]
)
def test_junk_is_refused_and_never_repeated_as_markup(code, junk):
    names = [field.name for field in all_tools()[code].fields]
    html = page(code, **dict.fromkeys([*names, "units", "q"], junk))
    assert "<script>alert" not in html


# --- units -------------------------------------------------------------------------------------------
def test_us_units_are_asked_for_and_answered_in():
    html = page("feed-drain", units="us", **{**DRAIN, "tank_l": "10"})
    assert "Reservoir (US gal)" in html
    assert "Drain 5 US gallons" in html
    # 25 °C is 77 °F by definition.
    html = page("air-dryness", units="us", air_temp_c="77", rh_percent="50", crop="basil", stage="")
    assert "VPD 1.58 kPa" in html
    # A difference of 7.2 °F is one of 4 °C.
    us = {"watts": "400", "rise_c": "7.2", "length_m": "4", "width_m": "4", "height_m": "6", "filter": "no"}
    assert "CFM" in page("room-fan", units="us", **us)
    assert "the room stays 7.2 °F above it" in page("room-fan", units="us", **us)


@pytest.mark.parametrize("code", sorted(all_tools()))
def test_examples_in_us_units_are_round_numbers_and_are_what_the_example_is_worked_out_from(code):
    html = page(code, units="us")
    assert "An example: the numbers in grey." in html
    shown = re.findall(r'placeholder="such as ([\d.]+)"', html)
    us = [field for field in all_tools()[code].fields if field.is_amount and field.us_unit]
    assert len([text for text in shown if len(text.replace(".", "").strip("0")) > 3]) == 0, shown
    typed = {}
    for field in all_tools()[code].fields:
        found = re.search(rf'name="{field.name}"[^>]*placeholder="such as ([^"]+)"', html)
        found = found or re.search(rf'placeholder="such as ([^"]+)"[^>]*name="{field.name}"', html)
        typed[field.name] = found[1] if found else str(field.example)
    assert us == [] or headline(page(code, units="us", **typed)) == headline(html)


def test_limits_are_told_in_the_units_that_are_typed():
    html = page("air-dryness", live=True, units="us", air_temp_c="200", rh_percent="50", crop="basil")
    assert "from -4 to 140 °F" in error_of(html, "air_temp_c")


def test_changing_units_keeps_what_was_typed():
    client = client_of()
    answer = client.get(reverse("bench-tool", args=["feed-drain"]), {**DRAIN, "units": "metric", "to": "us"})
    assert answer.status_code == 302
    html = client.get(answer["Location"]).content.decode()
    assert 'value="10.57"' in html  # 40 L ÷ 3.785412 L for a US gallon
    assert "Drain 5.3 US gallons" in html
    back = client.get(answer["Location"] + "&to=metric")
    assert "tank_l=40" in back["Location"]


def test_a_walk_in_gets_the_shops_units(monkeypatch):
    monkeypatch.setattr("garden.people.defaults._asked", [lambda: "us"])
    assert "Reservoir (US gal)" in page("feed-drain")


# --- from a garden -----------------------------------------------------------------------------------
def garden(**grower):
    planting = make_planting(
        make_grower(name="Ana Field", **grower), reservoir_l=60.0, watering_interval_days=2.0,
        watering_volume_l=0.5, container_l=7.123456,
    )  # fmt: skip
    space = planting.space
    Lamp.objects.create(space=space, type="hps", count=2, watts=100, hours=14, height_m=0.5)
    WaterSource.objects.create(garden=space.garden, source="tap", alkalinity_mg_l=140, ec_ms_cm=0.55, ph=7.7)
    for value in (2.2, 2.9):
        Reading.objects.create(planting=planting, quantity="feed_ec_ms_cm", value=value, typed=str(value))
    return planting


def test_a_page_opened_from_a_garden_is_filled_in():
    planting = garden()
    html = page("feed-drain", planting=planting.pk)
    for value in ("2.9", "0.55", "60"):  # the latest reading, the water, the reservoir
        assert f'value="{value}"' in html
    assert "Ana Field" in html
    assert "Drain " in html  # nothing is left to type: the EC to aim at is the middle of basil's band
    html = page("watering-much", planting=planting.pk)
    for value in ("0.5", "2", "7.123", "14"):
        assert f'value="{value}"' in html
    assert '<option value="peat-perlite" selected' in html


def test_a_garden_without_numbers_gets_no_answer_from_the_examples():
    html = page("watering-interval", planting=make_planting().pk)
    assert "An example" not in html
    assert "Still to fill in:" in html


def test_light_is_estimated_from_the_lamps_of_a_garden():
    # 2 × 100 W × 1.02 µmol/J (Nelson and Bugbee 2014) × 0.8 ÷ (1.5 × 0.9 m²) = 120.9 µmol/m²/s.
    assert 'value="120.9"' in page("light-height", planting=garden().pk)


def test_what_is_typed_wins_over_what_the_garden_says():
    planting = garden()
    html = page("feed-drain", planting=planting.pk, ec_ms_cm="3.3", tank_l="")
    assert 'value="3.3"' in html
    assert 'value="2.9"' not in html
    assert "Still to fill in: Reservoir" in html


def test_a_garden_speaks_its_growers_units_unless_asked_otherwise():
    planting = garden(units="us")
    assert 'value="15.85"' in page("feed-drain", planting=planting.pk)  # 60 L in US gallons
    assert 'value="60"' in page("feed-drain", planting=planting.pk, units="metric")


def test_a_crop_without_limits_is_judged_as_its_nearest_profile():
    planting = garden()
    planting.crop, planting.profile = "Okra", "generic-fruiting"
    planting.save()
    html = page("air-dryness", planting=planting.pk)
    assert '<option value="generic-fruiting" selected' in html
    assert "Okra" in html


def test_the_growers_page_leads_to_the_bench_and_the_planting_goes_along():
    planting = garden()
    client = client_of()
    html = client.get(reverse("grower", args=[planting.space.garden.grower_id])).content.decode()
    assert f"{reverse('bench')}?planting={planting.pk}" in html
    html = client.get(reverse("bench"), {"planting": planting.pk}).content.decode()
    assert f"{reverse('bench-tool', args=['feed-drain'])}?planting={planting.pk}" in html


def test_the_database_is_asked_as_often_for_a_large_garden_as_for_a_small_one():
    planting, client = garden(), client_of()
    url = f"{reverse('bench-tool', args=['feed-drain'])}?planting={planting.pk}"
    queries_of(client, url)
    few = queries_of(client, url)
    for number in range(20):
        Lamp.objects.create(space=planting.space, type="hps", count=1, watts=50)
        Reading.objects.create(planting=planting, quantity="feed_ph", value=6, typed="6")
        WaterSource.objects.create(garden=planting.space.garden, source="rain", ph=6 + number / 100)
    assert queries_of(client, url) == few
    assert queries_of(client, reverse("bench-tool", args=["feed-drain"])) < few
