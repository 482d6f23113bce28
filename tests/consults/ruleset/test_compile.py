import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from consults.diagnosis.errors import EvidenceError, UnknownCodeError
from consults.diagnosis.inference import posterior
from consults.ruleset.compile import MAX_ODDS, build_evidence, build_network
from consults.ruleset.loader import load_bundled, load_folder
from consults.ruleset.schema import STRENGTHS
from tests.consults.ruleset.small_ruleset import SOURCE, entries, write


@pytest.fixture
def ruleset(tmp_path):
    return load_folder(write(tmp_path, entries()))


def _factors(compiled, cause="flood"):
    return [(item.kind, item.code, item.factor) for item in compiled.factors.get(cause, ())]


def test_the_network_holds_the_numbers_behind_the_words(ruleset):
    network = build_network(ruleset)
    assert network.causes == ("drought", "flood")
    assert network.findings == ("limp", "pale", "unused")
    assert network.prior.tolist() == [0.006, 0.08]
    assert network.leak.tolist() == [0.03, 0.03, 0.03]
    assert network.strength.tolist() == [[STRENGTHS["often"], 0, 0], [STRENGTHS["often"], 0, 0]]


def test_equal_versions_share_one_network(tmp_path, ruleset):
    again = load_folder(write(tmp_path, entries()))
    assert again is not ruleset
    assert build_network(again) is build_network(ruleset)


def test_nothing_known_gives_no_factor(ruleset):
    compiled = build_evidence(ruleset)
    assert compiled.factors == {}
    assert compiled.evidence.odds == {}


def test_readings_practices_and_context_multiply(ruleset):
    compiled = build_evidence(
        ruleset,
        system="hand-watered-pot",
        practices=["waters-daily"],
        condition_states={"ph-high": True},
    )
    assert _factors(compiled) == [
        ("context", "hand-watered-pot", 1.5),
        ("practice", "waters-daily", 3.0),
        ("reading", "ph-high", 4.0),
    ]
    assert compiled.evidence.odds == {"flood": pytest.approx(18.0)}


def test_a_reading_inside_its_band_is_evidence_too(ruleset):
    compiled = build_evidence(ruleset, condition_states={"ph-high": False})
    assert _factors(compiled) == [("reading", "ph-high", 0.5)]


def test_a_practice_not_reported_says_nothing(ruleset):
    assert _factors(build_evidence(ruleset, practices=[])) == []


def test_another_system_gets_no_context_factor(ruleset):
    assert _factors(build_evidence(ruleset, system="nft", crop="basil")) == []


def _with_prior_factors(tmp_path, *factors):
    tables = entries()
    tables["causes"][0]["prior_factors"] = list(factors)
    return load_folder(write(tmp_path, tables))


def test_all_lists_of_a_prior_factor_must_match(tmp_path):
    factor = {"systems": ["nft", "raft"], "crops": ["basil"], "factor": 2, "source": SOURCE}
    ruleset = _with_prior_factors(tmp_path, factor)
    assert _factors(build_evidence(ruleset, system="raft", crop="basil")) == [("context", "basil+raft", 2.0)]
    assert _factors(build_evidence(ruleset, system="raft", crop="mint")) == []
    assert _factors(build_evidence(ruleset, system="raft")) == []


def test_a_profile_matches_its_crops_and_itself(tmp_path):
    factor = {"profiles": ["generic-leafy"], "factor": 2, "source": SOURCE}
    ruleset = _with_prior_factors(tmp_path, factor)
    assert _factors(build_evidence(ruleset, crop="basil", profile="generic-leafy"))
    assert _factors(build_evidence(ruleset, crop="generic-leafy"))
    assert not _factors(build_evidence(ruleset, crop="tomato", profile="generic-fruiting"))


@given(
    factors=st.lists(st.floats(1 / 8, 8), min_size=1, max_size=6),
)
def test_the_product_stays_within_its_cap_and_equals_the_listed_factors(tmp_path_factory, factors):
    stages = ["seedling", "vegetative", "flowering", "fruiting", "cutting", "germination"]
    parts = [
        {"stages": ["vegetative", stages[at]], "factor": factor, "source": SOURCE}
        for at, factor in enumerate(factors)
    ]
    ruleset = _with_prior_factors(tmp_path_factory.mktemp("rules"), *parts)
    compiled = build_evidence(ruleset, stage="vegetative")
    used = compiled.evidence.odds.get("flood", 1.0)
    product = math.prod(factors)
    expected = min(max(product, 1 / MAX_ODDS), MAX_ODDS)
    assert used == pytest.approx(expected, rel=1e-9)
    assert math.prod(factor for _, _, factor in _factors(compiled)) == pytest.approx(used, rel=1e-12)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ({"present": ["limpp"]}, "finding 'limpp' is not known. Nearest spellings: limp"),
        ({"absent": ["pales"]}, "finding 'pales' is not known. Nearest spellings: pale"),
        (
            {"practices": ["water-daily"]},
            "practice 'water-daily' is not known. Nearest spellings: waters-daily",
        ),
        ({"condition_states": {"ph-hi": True}}, "condition 'ph-hi' is not known. Nearest spellings: ph-high"),
    ],
)
def test_an_unknown_code_is_named_with_the_nearest_spellings(ruleset, arguments, words):
    with pytest.raises(UnknownCodeError) as caught:
        build_evidence(ruleset, **arguments)
    assert words in str(caught.value)


def test_a_finding_in_both_lists_is_refused(ruleset):
    with pytest.raises(EvidenceError, match="limp"):
        build_evidence(ruleset, present=["limp"], absent=["limp"])


def test_a_favourable_reading_raises_and_an_unfavourable_one_lowers_the_cause(ruleset):
    network = build_network(ruleset)
    chances = [
        posterior(network, build_evidence(ruleset, present=["limp"], condition_states=states).evidence)
        for states in ({"ph-high": False}, {}, {"ph-high": True})
    ]
    values = [chance.marginals["flood"] for chance in chances]
    assert values == sorted(values)
    assert values[0] < values[1] < values[2]


def test_every_bundled_cause_is_raised_by_the_findings_it_shows_often():
    ruleset = load_bundled()
    network = build_network(ruleset)
    before = posterior(network, build_evidence(ruleset).evidence).marginals
    for code, cause in ruleset.causes.items():
        present = [link.finding for link in cause.findings if link.strength in {"almost-always", "often"}]
        after = posterior(network, build_evidence(ruleset, present=present).evidence).marginals[code]
        assert not present or after > before[code], code
