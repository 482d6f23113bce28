"""Answers and workings speak the units of the reader, and say the same amounts in both systems."""

import re
from xml.etree import ElementTree as ET

import pytest

from garden.agronomy.units import to_base
from garden.bench.tool import Refused, work_out
from garden.bench.tools import all_tools
from garden.wording import Wording

CODES = sorted(all_tools())
# Questions beside the examples that take other ways through a tool.
OTHERS = [
    ("air-night", {"night_temp_c": 15.0}),
    ("air-night", {"night_temp_c": 20.0}),
    ("light-day", {"meter": "lux", "meter_value": 20_000.0}),
    ("light-day", {"meter": "fc", "meter_value": 2000.0}),
    ("light-height", {"ppfd_umol_m2_s": 100.0}),
    ("light-height", {"height_m": 2.0}),
    ("watering-interval", {"empty_pot_g": None}),
    ("watering-interval", {"container_l": 40.0, "plant_area_m2": 1.0}),
    ("watering-much", {"between_days": 0.5}),
    ("watering-oxygen", {"dissolved_mg_l": None}),
    ("watering-rinse", {"container_l": 40.0}),
    ("feed-drain", {"volume_l": 30.0}),
    ("feed-recipe", {"volume_l": 1000.0}),
    ("feed-tank", {"tank_l": 1000.0, "volume_l": 500.0, "acid": "citric-powder"}),
    ("water-acid", {"acid": "citric-powder"}),
    ("water-acid", {"volume_l": 20_000.0}),
    ("room-co2", {"co2_ppm": None, "target_ppm": None, "length_m": 20.0}),
    ("room-dryer", {"air_temp_c": 12.0}),
    ("room-dryer", {"given_l_d": 80.0, "rated_at": "27c-60"}),
    ("room-fan", {"watts": 4000.0, "filter": "no"}),
]
ASKED = [*((code, {}) for code in CODES), *OTHERS]

# A metric dose may stand there when its US measure stands in brackets beside it, or the other way round.
BESIDE = re.compile(r"[\d.]+ (?:mL|L|g|kg|°C) \([\d.]+ (?:US fluid ounces?|US gallons?|ounces?|pounds?|°F)\)")
BY_VOLUME = "grams in 100 mL"  # how labels give per cent by volume, whatever the units
METRIC = re.compile(
    r"(?<![\w/])(?:°C|L|litres?|millilitres?|m|cm|mm|metres?|centimetres?|m²|m³|m³/h|g|kg|kg/m³|g/m³|"
    r"grams?|kilograms?|J/kg°C)(?![\w/²³])"
)


def answer_of(code, units, **values):
    tool = all_tools()[code]
    return work_out(tool, {**tool.example(), **values}, Wording(units))


def lines_of(answer):
    drawn = [text.strip() for text in ET.fromstring(answer.picture).itertext()] if answer.picture else []
    facts = [f"{label}: {value}" for label, value in answer.facts]
    return [answer.headline, *facts, *answer.working, *answer.notes, *answer.cautions, answer.source, *drawn]


@pytest.mark.parametrize(("code", "values"), ASKED)
def test_for_us_units_no_line_shows_a_unit_that_is_only_metric(code, values):
    for line in lines_of(answer_of(code, "us", **values)):
        assert not METRIC.search(BESIDE.sub("", line.replace(BY_VOLUME, ""))), line


@pytest.mark.parametrize(("code", "values"), ASKED)
def test_for_metric_units_no_line_shows_a_us_unit(code, values):
    for line in lines_of(answer_of(code, "metric", **values)):
        plain = line.replace("(77 °F)", "").replace("per CFM and °F", "").replace("US pints a day", "")
        assert not re.search(r"°F|US |\bft\b|ft²|ft³|\boz\b|ounce|pound|\binch|\bin²|CFM|/gal", plain), line


# --- the same amounts -----------------------------------------------------------------------------------
WORDS = {
    "litre": "L", "millilitre": "mL", "gram": "g", "kilogram": "kg", "US gallon": "US gal",
    "US fluid ounce": "fl oz", "ounce": "oz", "pound": "lb",
}  # fmt: skip
# Exact by definition of foot, ounce and pint: stored units of one of these.
FACTORS = {
    "CFM": 0.3048**3 * 60, "m³/h": 1.0, "g/m³": 1.0, "oz in 1000 ft³": 28.349523125 / (1000 * 0.3048**3),
    "ft³": 0.3048**3, "m³": 1.0, "US pints": 0.473176473, "ft²": 0.3048**2, "m²": 1.0,
}  # fmt: skip
UNITS = sorted(
    [*FACTORS, *(f"{word}s" for word in WORDS), *WORDS, "°C", "°F", "mL", "L", "US gal", "fl oz", "cm", "m",
     "in", "ft", "oz", "lb", "kg", "g"], key=len, reverse=True,
)  # fmt: skip
AMOUNT = re.compile(rf"(?:([\d.]+) to )?(−?[\d.]+) ({'|'.join(map(re.escape, UNITS))})(?![\w/²³])")


def stored(number, unit):
    """The amount in one unit for its kind, with the smallest step that its digits show."""
    step = 10.0 ** -len(number.partition(".")[2])
    name = WORDS.get(unit.removesuffix("s"), unit)
    value = float(number.replace("−", "-"))
    if name in FACTORS:
        return value * FACTORS[name], step * FACTORS[name]
    zero = to_base(0.0, name)
    return to_base(value, name), step * (to_base(1.0, name) - zero)


def amounts_in(line):
    found = []
    for first, last, unit in AMOUNT.findall(BESIDE.sub(lambda beside: beside[0].split(" (")[0], line)):
        found += [(stored(number, unit), unit, number) for number in (first, last) if number]
    return found


def is_same(ours, theirs):
    (metric, step), unit, _number = ours
    (us, us_step), _unit, number = theirs
    # Both are rounded to what can be measured, so each may be off by its last digit, or by 3 % of itself.
    slack = step + us_step + 0.03 * abs(metric)
    difference = float(number.replace("−", "-")) / 1.8 if unit == "°C" else us  # of two temperatures
    return abs(metric - us) <= slack or abs(metric - difference) <= slack


@pytest.mark.parametrize(("code", "values"), ASKED)
def test_both_systems_of_units_say_the_same_amounts(code, values):
    metric, us = (answer_of(code, units, **values) for units in ("metric", "us"))
    labelled = dict(us.facts)
    pairs = [(metric.headline, us.headline)]
    pairs += [(value, labelled[label]) for label, value in metric.facts if label in labelled]
    for ours, theirs in pairs:
        left, right = amounts_in(ours), amounts_in(theirs)
        assert len(left) == len(right), (ours, theirs)
        assert all(is_same(*both) for both in zip(left, right, strict=True)), (ours, theirs)
    assert len(metric.working) == len(us.working)
    for ours, theirs in zip(metric.working, us.working, strict=True):
        left, right = amounts_in(ours)[-1:], amounts_in(theirs)[-1:]  # what a line comes to stands last
        assert all(is_same(*both) for both in zip(left, right, strict=False)), (ours, theirs)


@pytest.mark.parametrize("code", CODES)
@pytest.mark.parametrize("units", ["metric", "us"])
def test_what_is_refused_at_the_ends_of_the_inputs_speaks_of_no_name_of_the_code(code, units):
    tool = all_tools()[code]
    for field in tool.fields:
        for end in (field.low, field.high) if field.is_amount else ():
            if field.above and end == field.low:
                continue
            try:
                work_out(tool, {**tool.example(), field.name: end}, Wording(units))
            except Refused as refused:
                assert "_" not in str(refused), (field.name, end)
                assert units == "metric" or not METRIC.search(str(refused)), (field.name, end)
