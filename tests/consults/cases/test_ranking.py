"""From a case to ranked causes: what counts, what does not, and the published form of the answer."""

import itertools
import json
import math
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

import consults.ruleset
from consults.cases.casefile import CaseFile, read_case_file
from consults.cases.facts import gather
from consults.cases.ranking import Ranking, rank_case, ranking_json
from consults.cases.sentences import Speaker
from consults.ruleset.loader import Ruleset, load_bundled
from garden.reference.loader import load_reference
from garden.wording import Wording
from tests.consults.cases.samples import BUNDLED, casefile

RULES, REFERENCE = load_bundled(), load_reference()
FOLDER = Path(consults.ruleset.__file__).parent


def ranked(case: CaseFile, rules: Ruleset = RULES) -> Ranking:
    return rank_case(case, rules, REFERENCE)


def order(case: CaseFile) -> list[str]:
    return [cause.code for cause in ranked(case).causes]


def probabilities(case: CaseFile) -> dict[str, float]:
    return {cause.code: cause.probability for cause in ranked(case).causes}


def bundled(name: str) -> CaseFile:
    return read_case_file(FOLDER / "cases" / f"{name}.json", REFERENCE, RULES)


def test_daily_watered_pots_that_stay_wet_are_overwatered() -> None:
    assert order(bundled("daily-watered-pots"))[0] == "overwatering"


def test_new_leaves_yellow_between_green_veins_at_ph_7_6_lack_iron_because_the_ph_is_high() -> None:
    assert set(order(bundled("new-leaves-yellow-high-ph"))[:2]) == {"iron-deficiency", "high-root-zone-ph"}


@pytest.mark.parametrize("path", [p for p in BUNDLED if p.stem != "walk-in"], ids=lambda path: path.stem)
def test_the_expected_causes_of_a_reference_case_are_among_the_first_three(path: Path) -> None:
    case = bundled(path.stem)
    assert case.expected
    assert set(case.expected.causes) <= set(order(case)[:3])


@settings(max_examples=25, deadline=None)
@given(st.randoms(use_true_random=False), st.sampled_from([path.stem for path in BUNDLED]))
def test_the_order_in_which_things_were_noted_changes_nothing(random: Any, name: str) -> None:
    case = bundled(name)

    def mixed(values: Any) -> Any:
        shuffled = list(values)
        random.shuffle(shuffled)
        return shuffled

    other = case.model_copy(
        update={
            "present": tuple(mixed(case.present)),
            "absent": tuple(mixed(case.absent)),
            "practices": tuple(mixed(case.practices)),
            "readings": dict(mixed(case.readings.items())),
        }
    )
    assert ranking_json(ranked(other), RULES) == ranking_json(ranked(case), RULES)


@pytest.mark.parametrize(
    "change",
    [
        {"story": "The roots are rotten, it is pythium, spider mites and overwatering, iron deficiency!"},
        {"expected": {"causes": ["spider-mites"], "source": "no source"}},
        {"expected": None},
        {"grower": {"name": "Overwatering", "units": "us"}},
    ],
)
def test_neither_the_story_nor_the_expected_answer_nor_the_person_changes_the_ranking(
    change: dict[str, Any],
) -> None:
    case = bundled("walk-in")
    data = {**json.loads(case.model_dump_json(exclude_none=True)), **change}
    other = CaseFile.model_validate({key: value for key, value in data.items() if value is not None})
    assert ranking_json(ranked(other), RULES) == ranking_json(ranked(case), RULES)


def test_an_expected_answer_never_reaches_the_ranking() -> None:
    class Unreadable:
        def __getattr__(self, name: str) -> Any:
            raise AssertionError("the ranking looked at the expected answer")

    case = bundled("daily-watered-pots").model_copy(update={"expected": Unreadable()})
    assert order(case)[0] == "overwatering"


def test_a_reading_inside_its_band_is_evidence_too() -> None:
    sign = {"planting": {"crop": "pepper"}, "present": ["interveinal-chlorosis-young"]}
    unknown, inside, above = (
        probabilities(casefile(**sign, **({"readings": {"root_zone_ph": value}} if value else {})))[
            "high-root-zone-ph"
        ]
        for value in (None, 5.9, 7.6)
    )
    assert inside < unknown < above


def test_a_reading_inside_its_band_stands_among_the_reasons_against() -> None:
    case = casefile(
        planting={"crop": "pepper"}, present=["interveinal-chlorosis-young"], readings={"root_zone_ph": 5.9}
    )
    cause = next(c for c in ranked(case).causes if c.code == "high-root-zone-ph")
    assert any(reason.kind == "reading" and reason.bits < 0 for reason in cause.against)


def test_the_crop_decides_what_a_reading_means() -> None:
    """The same EC is strong for lettuce and right for tomato, by their own profiles."""
    edge = (
        REFERENCE.crops["lettuce"].band("runoff_ec_ms_cm"),
        REFERENCE.crops["tomato"].band("runoff_ec_ms_cm"),
    )
    assert edge[0] is not None and edge[1] is not None
    value = (edge[0].wide_high + edge[1].high) / 2
    assert edge[0].wide_high < value < edge[1].high
    salt = {
        crop: probabilities(casefile(planting={"crop": crop}, readings={"runoff_ec_ms_cm": value}))[
            "salt-buildup"
        ]
        for crop in ("lettuce", "tomato")
    }
    assert salt["lettuce"] > 3 * salt["tomato"]


def test_what_follows_from_readings_counts_as_they_do() -> None:
    """Warm air at 30 % is too dry for basil: FAO-56 equation 11 gives 4.76 kPa at 32 °C, 70 % of it 3.3."""
    dry = ranked(casefile(readings={"air_temp_c": 32, "rh_percent": 30}))
    assert any(RULES.conditions[code].reading == "vpd_kpa" and true for code, true in dry.conditions.items())


def test_a_finding_the_rules_no_longer_list_says_nothing() -> None:
    case = bundled("daily-watered-pots")
    old = case.model_copy(
        update={"present": (*case.present, "gone-since"), "absent": (*case.absent, "also-gone"),
                "practices": (*case.practices, "given-up")}
    )  # fmt: skip
    assert ranking_json(ranked(old), RULES) == ranking_json(ranked(case), RULES)


def test_with_nothing_seen_it_says_that_this_is_not_enough() -> None:
    empty = ranked(casefile())
    assert not empty.enough
    assert empty.checks


def rules_with_link(cause: str, **link: Any) -> Ruleset:
    tables = json.loads(RULES.to_json())
    (entry,) = (entry for entry in tables["causes"] if entry["code"] == cause)
    entry["readings"] = [*entry["readings"], {"source": "common practice, no source", **link}]
    return Ruleset.from_json(json.dumps(tables))


def test_how_long_ago_it_began_counts_when_a_rule_asks_for_it() -> None:
    rules = rules_with_link("nitrogen-deficiency", condition="onset-sudden", if_true=0.25, if_false=1.5)
    sign = {"planting": {"crop": "pepper"}, "present": ["chlorosis-uniform-older"]}

    def chance(**told: int) -> tuple[float, dict[str, bool]]:
        ranking = ranked(casefile(**sign, **told), rules)
        (cause,) = (c for c in ranking.causes if c.code == "nitrogen-deficiency")
        return cause.probability, {k: v for k, v in ranking.conditions.items() if k.startswith("onset")}

    sudden, untold, later = chance(onset_days=1), chance(), chance(onset_days=9)
    assert sudden[0] < untold[0] < later[0]
    assert sudden[1] == {"onset-slow": False, "onset-sudden": True}
    assert untold[1] == {}


def test_how_long_ago_it_began_is_told_as_a_reason() -> None:
    rules = rules_with_link("nitrogen-deficiency", condition="onset-sudden", if_true=0.25, if_false=1.5)
    for days, said in (
        (1, "First noticed within the last two days: 1 day ago"),
        (9, "not so: First noticed within the last two days (9 days ago)"),
    ):
        case = casefile(present=["chlorosis-uniform-older"], onset_days=days)
        ranking = ranked(case, rules)
        speaker = Speaker(rules, gather(case, REFERENCE), ranking, Wording(), "en")
        (cause,) = (c for c in ranking.causes if c.code == "nitrogen-deficiency")
        (reason,) = (r for r in (*cause.supports, *cause.against) if r.code == "onset-sudden")
        assert speaker.reason(reason) == said


# --- the published form ---------------------------------------------------------------------------
_PARTS = {"ruleset", "exact", "error_bound", "fit", "enough_to_tell", "causes", "combinations", "next_checks"}


@pytest.mark.parametrize("path", BUNDLED, ids=lambda path: path.stem)
def test_the_answer_has_exactly_the_published_form(path: Path) -> None:
    answer = ranking_json(ranked(bundled(path.stem)), RULES)
    assert set(answer) == _PARTS
    assert answer["ruleset"] == RULES.version
    assert answer["exact"] is True and answer["error_bound"] == 0.0
    assert set(answer["fit"]) == {"log10_evidence", "verdict"}
    assert answer["fit"]["verdict"] in {"fits", "unusual", "fits-nothing-known"}
    assert answer["fit"]["log10_evidence"] <= 0
    assert isinstance(answer["enough_to_tell"], bool)
    json.dumps(answer, allow_nan=False)
    causes = answer["causes"]
    assert {cause["code"] for cause in causes} == {*RULES.causes, "none-of-these"}
    for cause in causes:
        assert set(cause) == {"code", "name", "probability", "for", "against"}
        assert 0 <= cause["probability"] <= 1 and cause["name"]
        for reason in (*cause["for"], *cause["against"]):
            assert set(reason) == {"kind", "code", "bits"}
            # A context (the crop, the system) moves odds too, but is no reason to read out.
            assert reason["kind"] in {"finding", "reading", "practice"}
        assert all(reason["bits"] > 0 for reason in cause["for"])
        assert all(reason["bits"] < 0 for reason in cause["against"])
    assert [(c["probability"], c["code"]) for c in causes] == sorted(
        ((c["probability"], c["code"]) for c in causes), key=lambda pair: (-pair[0], pair[1])
    )
    for combination in answer["combinations"]:
        assert set(combination) == {"causes", "probability"}
        assert 0 <= combination["probability"] <= 1
    for check in answer["next_checks"]:
        assert set(check) == {"code", "name", "bits", "minutes"}
        assert check["bits"] >= 0 and check["minutes"] > 0
        assert check["code"] not in {*bundled(path.stem).present, *bundled(path.stem).absent}


def test_equal_probabilities_stand_in_order_of_code() -> None:
    causes = ranked(casefile()).causes
    equal = [list(group) for _p, group in itertools.groupby(causes, key=lambda cause: cause.probability)]
    assert any(len(group) > 1 for group in equal), "without evidence some causes are equally likely"
    assert all([c.code for c in group] == sorted(c.code for c in group) for group in equal)


def test_top_cuts_the_causes_and_nothing_else() -> None:
    ranking = ranked(bundled("walk-in"))
    whole, cut = ranking_json(ranking, RULES), ranking_json(ranking, RULES, top=2)
    assert cut == {**whole, "causes": whole["causes"][:2]}


# --- against a brute force ------------------------------------------------------------------------
# The words of the rule files, read from YAML here and turned into numbers by the published scale.
SCALE = {"almost-always": 0.92, "often": 0.68, "sometimes": 0.32, "rarely": 0.08}
PRIOR = {"common": 0.08, "fairly-common": 0.045, "uncommon": 0.02, "rare": 0.006}
TEN = [
    "overwatering", "underwatering", "nitrogen-deficiency", "iron-deficiency", "high-root-zone-ph",
    "salt-buildup", "heat-stress", "low-humidity", "excess-light", "insufficient-light",
]  # fmt: skip


def reduced_rules() -> Ruleset:
    tables = json.loads(RULES.to_json())
    tables["causes"] = [cause for cause in tables["causes"] if cause["code"] in TEN]
    kept = {action["code"] for cause in tables["causes"] for action in cause["actions"]}
    for cause in tables["causes"]:
        for action in cause["actions"]:
            action["opposes"] = [code for code in action["opposes"] if code in kept]
    return Ruleset.from_json(json.dumps(tables))


def brute_force(case: dict[str, Any], conditions: dict[str, bool]) -> tuple[dict[str, float], float]:
    """Every one of the 1024 sets of causes weighed from the YAML words; marginals and the weight of none."""
    causes = [
        yaml.safe_load((FOLDER / "causes" / f"{code}.yaml").read_text(encoding="utf-8")) for code in TEN
    ]
    leaks = {
        f["code"]: f["leak"] for f in yaml.safe_load((FOLDER / "findings.yaml").read_text(encoding="utf-8"))
    }
    context = {
        key: case["planting"].get(field)
        for key, field in (("crops", "crop"), ("stages", "stage"), ("systems", "system"), ("media", "medium"))
    }
    profiles = {case["planting"]["crop"], case["profile"]}
    odds = []
    for cause in causes:
        factors = [
            factor["factor"]
            for factor in cause.get("prior_factors") or []
            if all(context[key] in factor[key] for key in context if factor.get(key))
            and (not factor.get("profiles") or profiles & set(factor["profiles"]))
        ]
        factors += [
            link["if_true"] if conditions[link["condition"]] else link.get("if_false", 1.0)
            for link in cause.get("readings") or []
            if link["condition"] in conditions
        ]
        factors += [
            link["if_true"] for link in cause.get("practices") or [] if link["practice"] in case["practices"]
        ]
        together = min(64.0, max(1 / 64, math.prod(factors)))
        prior = PRIOR[cause["prior"]]
        odds.append(prior / (1 - prior) * together)
    strength = [{link["finding"]: SCALE[link["strength"]] for link in cause["findings"]} for cause in causes]
    total, marginal, none = 0.0, [0.0] * len(TEN), 0.0
    for chosen in itertools.product((False, True), repeat=len(TEN)):
        weight = math.prod(o / (1 + o) if on else 1 / (1 + o) for o, on in zip(odds, chosen, strict=True))
        for finding, seen in [(c, True) for c in case["present"]] + [(c, False) for c in case["absent"]]:
            miss = (1 - leaks[finding]) * math.prod(
                1 - strength[at].get(finding, 0.0) for at, on in enumerate(chosen) if on
            )
            weight *= 1 - miss if seen else miss
        total += weight
        none += 0 if any(chosen) else weight
        for at, on in enumerate(chosen):
            marginal[at] += weight if on else 0
    return {code: value / total for code, value in zip(TEN, marginal, strict=True)}, none / total


def conditions_by_hand(case: dict[str, Any]) -> dict[str, bool]:
    """Which conditions hold, from the YAML words and the crop's bands."""
    crop, states = REFERENCE.crops[case["planting"]["crop"]], {}
    for entry in yaml.safe_load((FOLDER / "conditions.yaml").read_text(encoding="utf-8")):
        value = case["readings"].get(entry["reading"])
        band = crop.band(entry["reading"], case["planting"].get("stage"))
        if value is None:
            continue
        if "above_value" in entry or "below_value" in entry:
            states[entry["code"]] = (
                value > entry["above_value"] if "above_value" in entry else value < entry["below_value"]
            )
        elif band is not None:
            by = entry.get("by", 0)
            states[entry["code"]] = (
                value > getattr(band, entry["above"]) + by
                if "above" in entry
                else value < getattr(band, entry["below"]) - by
            )
    return states


# Readings from which nothing else follows, so that the test need compute nothing.
@pytest.mark.parametrize(
    "parts",
    [
        {},
        {"present": ["interveinal-chlorosis-young"], "readings": {"root_zone_ph": 7.6}},
        {"present": ["medium-stays-wet", "chlorosis-uniform-older", "wilting-medium-moist"],
         "absent": ["pests-on-leaves"], "practices": ["waters-daily"],
         "planting": {"system": "hand-watered-pot", "stage": "vegetative", "medium": "peat-perlite"}},
        {"present": ["tip-necrosis", "salt-crust"], "absent": ["fungus-gnats", "bleaching-top"],
         "readings": {"root_zone_ec_ms_cm": 5.5, "root_zone_ph": 6.0, "air_temp_c": 24.0}},
        {"present": ["bleaching-top", "leaf-upward-roll", "midday-wilt"], "practices": ["lamp-moved-closer"],
         "readings": {"ppfd_umol_m2_s": 1400.0, "air_temp_c": 36.0, "root_zone_temp_c": 29.0},
         "planting": {"stage": "seedling", "crop": "lettuce", "system": "deep-water"}},
    ],
    ids=["nothing", "iron", "wet", "salt", "light"],
)  # fmt: skip
def test_probabilities_equal_a_brute_force_over_all_sets_of_ten_causes(parts: dict[str, Any]) -> None:
    case = casefile(**parts)
    data = {
        "planting": json.loads(case.planting.model_dump_json()), "present": case.present,
        "absent": case.absent, "practices": case.practices, "readings": case.readings,
        "profile": REFERENCE.crops[case.planting.crop].profile_of,
    }  # fmt: skip
    marginals, none = brute_force(data, conditions_by_hand(data))
    found = {c.code: c.probability for c in ranked(case, reduced_rules()).causes}
    assert found.pop("none-of-these") == pytest.approx(none, abs=1e-12)
    assert set(found) == set(TEN)
    for code, probability in found.items():
        assert probability == pytest.approx(marginals[code], abs=1e-12), code
