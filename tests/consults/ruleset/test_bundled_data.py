"""What the bundled rule set promises: enough of everything, plain words, honest sources, cautions where due.

The minimum counts come from the project's own design. Which causes must exist is a published promise: a code,
once published, is never renamed.
"""

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

import consults.ruleset
from consults.ruleset.crosscheck import KnownCodes
from consults.ruleset.loader import Ruleset, load_bundled, load_folder
from consults.ruleset.schema import Action
from garden.reference.loader import load_reference

NO_SOURCE = "common practice, no source"
FOLDER = Path(consults.ruleset.__file__).parent
PUBLISHED_CAUSES = {
    "overwatering",
    "underwatering",
    "nitrogen-deficiency",
    "iron-deficiency",
    "high-root-zone-ph",
    "salt-buildup",
    "heat-stress",
    "low-humidity",
    "excess-light",
    "insufficient-light",
}
OPPOSED = [
    ("water-more", "let-pot-dry"),
    ("leach-pot", "let-pot-dry"),
    ("raise-lamp", "lower-lamp"),
    ("dim-lamp", "brighten-lamp"),
    ("feed-stronger", "feed-weaker"),
    ("humidify-air", "dry-air"),
    ("raise-ph", "lower-ph"),
    ("cool-reservoir", "warm-root-zone"),
]
# Which words of an action ask for which caution; judgement. Each pattern must find something.
NEEDS_CAUTION = [
    ("acid", r"\bacid\b(?!-forming)"),
    ("acid", r"\bLower the pH\b"),
    ("caustic", r"\bRaise the pH\b"),
    ("fertiliser-label", r"\b(complete feed|fresh feed|magnesium sulfate|iron chelate|Thin the feed)\b"),
    ("pesticide-label", r"\b(class of product|spray with)\b"),
    ("spray-injury", r"\b(class of product|spray with)\b"),
    ("electricity-water", r"\b(tanks?|reservoirs?|pumps?|hose)\b|\bLower the solution\b|\bTop up\b"),
    ("electricity-water", r"\b(plug|humidifier|thermostat|fan|extraction)\b"),
    ("electricity-water", r"\b(soft spray of water|Rinse the leaves with|standing (water|in)|clean it)\b"),
    ("electricity-water", r"\b(Raise the lamp|lamp closer|fit one made for the area)\b"),
    ("lamp-eyes", r"\b(Turn the lamp|turn the lamp|Raise the lamp|lamp closer|fit one made)\b"),
    ("lamp-eyes", r"\b(light back up|Measure the light)\b"),
    ("lifting", r"\b(Raise the lamp|lamp closer|fit one made)\b"),
    ("heat", r"\b(lamp (up|closer)|fit one made|lamp hours to|timer to the hours|status lamps)\b"),
    ("heat", r"\b(heater|heat a little|warm the (space|root zone)|thermostat-controlled)\b"),
    ("combustion-gas", r"\bburner\b"),
    ("co2", r"\b(burner|CO2|carbon dioxide|outdoor air)\b"),
    ("mould", r"\bmouldy?\b|\bBag affected plants\b|\bsuspect leaf\b"),
    ("disinfectant", r"\b(disinfect|clean trays)\b"),
    ("waste-solution", r"\b(Empty the tank|empty, scrub|Lower the solution|Replace part of the tank)\b"),
    ("waste-solution", r"\b(run-off away|Pour away|Rinse the pot)\b"),
    ("lifting", r"\b(Lift the pot|raise pots|Stand the pot|stand a pot|Rinse the pot)\b"),
    ("lifting", r"\b(Empty the tank|empty, scrub)\b"),
    ("food-crop", r"\b(Harvest|class of product|mouldy parts|Rinse the leaves|rinse leaves)\b"),
]
# Words that may have a capital inside a sentence: units, organisms. Anything else looks like a brand.
CAPITALS = {"EC", "A", "I", "UV-C", "US", "Pythium"}


@pytest.fixture(scope="module")
def rules() -> Ruleset:
    return load_bundled()


def actions(rules: Ruleset) -> Iterator[tuple[str, Action]]:
    for cause in rules.causes.values():
        for action in cause.actions:
            yield cause.code, action


def texts(value: Any) -> Iterator[str]:
    """Every English text anywhere in a dumped rule set."""
    if isinstance(value, dict):
        if isinstance(value.get("en"), str):
            yield value["en"]
        for inner in value.values():
            yield from texts(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from texts(inner)


def test_there_is_enough_to_tell_the_usual_troubles_apart(rules: Ruleset) -> None:
    assert len(rules.causes) >= 26
    assert len(rules.findings) >= 60
    assert len(rules.conditions) >= 16
    assert len(rules.practices) >= 16
    assert rules.causes.keys() >= PUBLISHED_CAUSES


def test_every_reading_crop_stage_and_system_named_exists_in_the_reference_data() -> None:
    reference = load_reference()
    known = KnownCodes(
        readings=frozenset(reference.readings),
        crops=frozenset(reference.crops),
        stages=frozenset(reference.stages),
        systems=frozenset(reference.systems),
        media=frozenset(reference.media),
        profiles=frozenset(reference.profiles),
    )
    assert load_folder(FOLDER, known).version == load_bundled().version


def test_every_cause_has_several_signs_a_way_to_act_and_says_what_a_mistake_costs(rules: Ruleset) -> None:
    for cause in rules.causes.values():
        assert len(cause.findings) >= 3, cause.code
        assert cause.actions, cause.code
        assert len(cause.wrong_cost["en"]) > 30, cause.code


def test_what_is_free_comes_before_what_must_be_bought(rules: Ruleset) -> None:
    for cause in rules.causes.values():
        bought = [action.buys for action in cause.actions]
        assert bought == sorted(bought) and not bought[0], cause.code


def test_no_cause_begins_with_a_check(rules: Ruleset) -> None:
    checks = {"check-roots", "check-ph", "check-ec", "test-alkalinity", "measure-light", "log-min-max"}
    for cause in rules.causes.values():
        codes = [action.code for action in cause.actions]
        assert codes[0] not in checks, cause.code


def test_an_urgent_cause_offers_something_for_today(rules: Ruleset) -> None:
    for cause in rules.causes.values():
        assert cause.urgency < 2 or cause.actions[0].when == "today", cause.code


def test_every_finding_practice_condition_caution_and_source_is_used(rules: Ruleset) -> None:
    causes = rules.causes.values()
    linked = {link.finding for cause in causes for link in cause.findings}
    assert set(rules.findings) - linked == {"roots-white-firm"}  # a healthy sign: no cause produces it
    assert {link.practice for cause in causes for link in cause.practices} == set(rules.practices)
    assert {link.condition for cause in causes for link in cause.readings} == set(rules.conditions)
    assert {code for _, action in actions(rules) for code in action.cautions} == set(rules.cautions)
    assert set(rules.sources) <= used_sources(rules)


def used_sources(rules: Ruleset) -> set[str]:
    written = set(re.findall(r'"source":"([^"]+)"', rules.to_json()))
    for path in FOLDER.glob("cases/*.json"):
        expected = json.loads(path.read_text(encoding="utf-8")).get("expected", {})
        written.add(expected.get("source", NO_SOURCE).split(":")[0])
    return written


def test_the_healthy_root_finding_tells_staff_what_to_tick_instead(rules: Ruleset) -> None:
    said = rules.findings["roots-white-firm"].definition["en"]
    assert "absent" in said
    for code in ("roots-brown-soft", "root-tips-dead"):  # as the checklist words them, capital first
        plain = rules.findings[code].plain["en"]
        assert plain[0].upper() + plain[1:] in said


def test_no_text_holds_an_address_a_brand_mark_or_a_word_spelled_like_a_brand(rules: Ruleset) -> None:
    assert "http" not in rules.to_json().lower()
    dumped = json.loads(rules.to_json())
    del dumped["sources"]
    for text in texts(dumped):
        assert not re.search("[™®©]", text), text
        inner = re.findall(r"(?<![.:?!\"'] )(?<!^)(?<!')\b[A-Z][\w-]*", text)
        inner = [word for word in inner if word not in CAPITALS and f"'{word}" not in text]
        assert not inner, f"{inner} in {text!r}"


def test_grower_words_are_plain_short_and_never_the_staff_term(rules: Ruleset) -> None:
    jargon = re.compile(r"chlorosis|necrosis|interveinal|etiolation|oedema|guttation|epinasty", re.IGNORECASE)
    for finding in rules.findings.values():
        plain = finding.plain["en"]
        assert plain != finding.name["en"] and len(plain) <= 60, finding.code
        assert not jargon.search(plain), finding.code
        assert finding.synonyms, finding.code
        assert not any(jargon.search(phrase) for phrase in finding.synonyms), finding.code


def test_actions_are_orders_with_a_reason_and_where_it_is_one_a_point_to_stop(rules: Ruleset) -> None:
    for cause, action in actions(rules):
        where = f"{cause}: {action.code}"
        assert action.text["en"][0].isupper() and action.text["en"].endswith("."), where
        assert action.why["en"].endswith("."), where
        if action.stop_when:
            assert re.match(r"(If|When) ", action.stop_when["en"]), where
            assert action.stop_when["en"].endswith("."), where
        assert not re.match(r"(You|The|It|This|There)\b", action.text["en"]), where


def test_one_action_code_is_one_action_wherever_it_stands(rules: Ruleset) -> None:
    first: dict[str, Action] = {}
    for cause, action in actions(rules):
        assert first.setdefault(action.code, action) == action, f"{cause}: {action.code}"


@pytest.mark.parametrize(("one", "other"), OPPOSED)
def test_actions_that_undo_each_other_say_so_both_ways(rules: Ruleset, one: str, other: str) -> None:
    by_code = {action.code: action for _, action in actions(rules)}
    assert other in by_code[one].opposes
    assert one in by_code[other].opposes


def test_opposition_is_always_mutual(rules: Ruleset) -> None:
    by_code = {action.code: action for _, action in actions(rules)}
    for action in by_code.values():
        for other in action.opposes:
            assert action.code in by_code[other].opposes, f"{action.code} and {other}"


def test_no_cause_gives_orders_that_undo_each_other(rules: Ruleset) -> None:
    # A labelled product would kill the natural enemies: a choice between two ways, both offered on purpose.
    choice = {"beneficials", "labelled-control"}
    for cause in rules.causes.values():
        codes = {action.code for action in cause.actions}
        for action in cause.actions:
            clash = codes & set(action.opposes)
            assert not clash or clash | {action.code} == choice, f"{cause.code}: {action.code} and {clash}"


@pytest.mark.parametrize(("caution", "words"), NEEDS_CAUTION)
def test_dangerous_work_carries_its_caution(rules: Ruleset, caution: str, words: str) -> None:
    named = [action for _, action in actions(rules) if re.search(words, action.text["en"], re.IGNORECASE)]
    assert named, "nothing is tested"
    for action in named:
        if action.code == "fan-away":  # only turned, never wired
            continue
        assert caution in action.cautions, f"{action.code} lacks {caution}"


def test_whoever_works_at_a_lamp_is_warned_of_its_glare_or_heat(rules: Ruleset) -> None:
    only_mentioned = {"exchange-air", "log-min-max", "vent-hot-air"}
    for _, action in actions(rules):
        if re.search(r"\blamps?\b", action.text["en"]) and action.code not in only_mentioned:
            assert {"lamp-eyes", "heat"} & set(action.cautions), action.code


def test_an_action_that_may_meet_a_live_cable_says_how_to_stay_safe(rules: Ruleset) -> None:
    for _, action in actions(rules):
        if action.stop_when and re.search(r"\b(cable|plug|wiring)\b", action.stop_when["en"]):
            assert "electricity-water" in action.cautions, action.code


def test_a_base_is_handled_as_carefully_as_an_acid(rules: Ruleset) -> None:
    said = rules.cautions["caustic"].text["en"]
    for word in ("gloves", "goggles", "small amounts into the water", "never mix", "label", "local rules"):
        assert word in said


def test_no_action_names_a_pesticide_or_a_dose(rules: Ruleset) -> None:
    forbidden = re.compile(
        r"\b(neem|pyrethrin|pyrethrum|abamectin|spinosad|permethrin|copper|sulfur|bleach|peroxide|bicarbonate)\b"
        r"|\d+(\.\d+)?\s*(ml|mL|g|mg|oz|tsp|drops?)\b|\b(spoon|drops? per)\b",
        re.IGNORECASE,
    )
    for cause, action in actions(rules):
        assert not forbidden.search(action.text["en"]), f"{cause}: {action.code}"


def test_no_action_writes_a_number_that_its_quantity_computes(rules: Ruleset) -> None:
    for cause, action in actions(rules):
        if action.quantity:
            assert not re.search(r"\d", action.text["en"]), f"{cause}: {action.code}"


def test_contagious_incurable_and_poisonous_causes_are_marked_urgent(rules: Ruleset) -> None:
    for code in ("basil-downy-mildew", "grey-mould", "pythium-root-rot", "damping-off"):
        assert rules.causes[code].urgency == 3 and rules.causes[code].contagious, code
    gas = rules.causes["combustion-gas-injury"]
    assert gas.urgency == 3
    assert gas.actions[0].code == "switch-off-burner", "people come before plants"


def test_every_file_says_that_its_numbers_are_judgement() -> None:
    for path in [*FOLDER.glob("causes/*.yaml"), FOLDER / "findings.yaml"]:
        assert "judgement" in path.read_text(encoding="utf-8").split("code:")[0], path.name


def test_what_was_only_seen_in_a_copy_or_remembered_is_not_called_read(rules: Ruleset) -> None:
    for source in rules.sources.values():
        words = f"{source.title} {source.publisher}".lower()
        if "copy" in words or "quoted" in words:
            assert source.status == "read-in-copy", source.id
