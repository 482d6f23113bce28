import math

import pytest
from hypothesis import given, settings

from consults.diagnosis.explain import explain
from consults.diagnosis.network import Evidence, OddsFactor
from tests.consults.diagnosis.enumeration import cases, enumerate_all, network_of, random_network


def _without(evidence, code):
    return Evidence(evidence.present - {code}, evidence.absent - {code}, evidence.odds)


def _weight(network, evidence, code, holds):
    """log2 P(f | holds, other evidence) / P(f | not holds, other evidence), by counting sets."""
    full, rest = enumerate_all(network, evidence), enumerate_all(network, _without(evidence, code))
    inside, outside = holds(full.sets), ~holds(full.sets)
    given_true = full.weights[inside].sum() / rest.weights[inside].sum()
    given_false = full.weights[outside].sum() / rest.weights[outside].sum()
    return math.log2(given_true / given_false)


def _weights(explanation):
    return {reason.code: reason.bits for reason in (*explanation.supports, *explanation.against)}


@settings(max_examples=60, deadline=None)
@given(cases(max_causes=4, max_findings=5))
def test_bits_of_every_finding_equal_full_enumeration(case):
    network, evidence = case
    explanations = explain(network, evidence, {})
    for at, cause in enumerate(network.causes):
        weights = _weights(explanations[cause])
        for code in evidence.present | evidence.absent:
            expected = _weight(network, evidence, code, lambda sets, at=at: sets[:, at] == 1)
            assert weights.get(code, 0.0) == pytest.approx(expected, abs=1e-8)


@settings(max_examples=60, deadline=None)
@given(cases(max_causes=4, max_findings=5))
def test_bits_for_none_of_these_equal_full_enumeration_unless_it_is_all_but_certain(case):
    network, evidence = case
    weights = _weights(explain(network, evidence, {})["none-of-these"])
    for code in evidence.present | evidence.absent:
        chances = [enumerate_all(network, e).none for e in (evidence, _without(evidence, code))]
        if max(chances) < 1 - 1e-6:
            expected = _weight(network, evidence, code, lambda sets: sets.sum(axis=1) == 0)
            assert weights.get(code, 0.0) == pytest.approx(expected, abs=1e-6)


def test_an_all_but_certain_none_of_these_gets_finite_weights():
    network = network_of([1e-4], [1e-6] * 4, [[0.999999] * 4])
    weights = _weights(explain(network, Evidence(absent=frozenset(network.findings)), {})["none-of-these"])
    assert all(0 < bits < 41 for bits in weights.values())


def test_one_finding_of_one_cause_weighs_its_likelihood_ratio():
    network = network_of([0.1], [0.02, 0.05], [[0.68, 0.32]])
    weights = _weights(
        explain(network, Evidence(frozenset({"finding-00"}), frozenset({"finding-01"})), {})["cause-00"]
    )
    assert weights["finding-00"] == pytest.approx(math.log2((1 - 0.98 * 0.32) / 0.02), rel=1e-12)
    assert weights["finding-01"] == pytest.approx(math.log2(1 - 0.32), rel=1e-12)


def test_reasons_are_split_by_sign_and_come_longest_first():
    network = random_network(6, 8, 14, touched=(4, 6))
    evidence = Evidence(frozenset(network.findings[:5]), frozenset(network.findings[5:9]))
    for explanation in explain(network, evidence, {}).values():
        supports = [reason.bits for reason in explanation.supports]
        against = [reason.bits for reason in explanation.against]
        assert supports == sorted(supports, reverse=True)
        assert against == sorted(against)
        assert all(bits > 0 for bits in supports)
        assert all(bits < 0 for bits in against)


def test_odds_factors_weigh_their_logarithm_and_context_stands_apart():
    network = network_of([0.1], [0.02], [[0.68]])
    factors = {
        "cause-00": [
            OddsFactor("reading", "ph-high", 4.0),
            OddsFactor("practice", "waters-daily", 0.5),
            OddsFactor("context", "raft", 1.5),
        ]
    }
    explanation = explain(network, Evidence(odds={"cause-00": 3.0}), factors)["cause-00"]
    assert [(reason.kind, reason.code, reason.bits) for reason in explanation.supports] == [
        ("reading", "ph-high", 2.0)
    ]
    assert [(reason.kind, reason.code, reason.bits) for reason in explanation.against] == [
        ("practice", "waters-daily", -1.0)
    ]
    assert [(reason.code, reason.bits) for reason in explanation.context] == [("raft", math.log2(1.5))]


def test_a_finding_that_has_nothing_to_do_with_a_cause_is_no_reason():
    network = network_of([0.1, 0.1], [0.02, 0.02], [[0.9, 0.0], [0.0, 0.9]])
    explanation = explain(network, Evidence(frozenset({"finding-00"})), {})["cause-01"]
    assert explanation.supports == ()
    assert explanation.against == ()
