"""What would be believed after each answer to a check."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from consults.diagnosis.inference import posterior
from consults.diagnosis.network import Evidence, Network
from consults.diagnosis.outlook import answers_by_odds, answers_of_test, look_ahead
from tests.consults.diagnosis.enumeration import cases, enumerate_all, random_network


@settings(max_examples=60, deadline=None)
@given(cases(max_causes=5, max_findings=5))
def test_each_answer_leads_to_the_beliefs_of_a_case_with_it(case):
    network, evidence = case
    ahead = look_ahead(network, evidence)
    now = posterior(network, evidence)
    assert ahead.marginals == pytest.approx(list(now.marginals.values()), rel=1e-12)
    assert ahead.none == pytest.approx(now.none, rel=1e-9, abs=1e-15)
    assert set(ahead.findings) == set(network.findings) - evidence.present - evidence.absent
    for code, outlook in ahead.findings.items():
        answers = (
            Evidence(evidence.present | {code}, evidence.absent, evidence.odds),
            Evidence(evidence.present, evidence.absent | {code}, evidence.odds),
        )
        for at, answered in enumerate(answers):
            then = posterior(network, answered)
            assert outlook.marginals[at] == pytest.approx(list(then.marginals.values()), abs=1e-9)
            assert outlook.none[at] == pytest.approx(then.none, rel=1e-6, abs=1e-12)


@settings(max_examples=60, deadline=None)
@given(cases(max_causes=5, max_findings=5))
def test_chances_sum_to_one_and_the_answers_average_to_what_is_believed_now(case):
    network, evidence = case
    ahead = look_ahead(network, evidence)
    for outlook in ahead.findings.values():
        assert outlook.chances.sum() == pytest.approx(1.0, abs=1e-12)
        assert outlook.mean == pytest.approx(ahead.marginals, abs=1e-9)
        assert outlook.chances @ outlook.none == pytest.approx(ahead.none, abs=1e-9)


@settings(max_examples=40, deadline=None)
@given(cases(max_causes=4, max_findings=4), st.floats(0.5, 0.99), st.floats(0.5, 0.99))
def test_a_test_of_one_cause_is_a_finding_that_only_it_shows(case, sensitivity, specificity):
    network, evidence = case
    leak = 1 - specificity
    if sensitivity <= leak:
        sensitivity = 0.995
    column = np.zeros((len(network.causes), 1))
    column[0] = 1 - (1 - sensitivity) / (1 - leak)
    wider = Network(
        network.causes,
        (*network.findings, "the-test"),
        network.prior,
        np.append(network.leak, leak),
        np.hstack([network.strength, column]),
    )
    expected = look_ahead(wider, evidence).findings["the-test"]
    found = answers_of_test(network, evidence, network.causes[0], sensitivity, specificity)
    assert found.chances == pytest.approx(expected.chances, abs=1e-10)
    assert found.marginals == pytest.approx(expected.marginals, abs=1e-9)
    assert found.none == pytest.approx(expected.none, rel=1e-6, abs=1e-12)
    assert found.bits() == pytest.approx(expected.bits(), abs=1e-9)


@settings(max_examples=40, deadline=None)
@given(cases(max_causes=4, max_findings=4), st.floats(0.05, 0.95), st.floats(1 / 8, 8))
def test_a_fact_that_moves_odds_is_as_likely_as_it_agrees_with_what_was_seen(case, share, factor):
    network, evidence = case
    code = network.causes[0]
    odds = [{**evidence.odds, code: evidence.odds.get(code, 1.0) * factor}, dict(evidence.odds)]
    (found,) = answers_by_odds(network, evidence, [list(zip(odds, [share, 1 - share], strict=True))])
    under = [enumerate_all(network, Evidence(evidence.present, evidence.absent, each)) for each in odds]
    weights = np.array([share, 1 - share]) * [truth.evidence for truth in under]
    assert found.chances == pytest.approx(weights / weights.sum(), abs=1e-9)
    for at, truth in enumerate(under):
        assert found.marginals[at] == pytest.approx(truth.marginals, abs=1e-10)
        assert found.none[at] == pytest.approx(truth.none, abs=1e-10)


@settings(max_examples=60, deadline=None)
@given(cases(max_causes=4, max_findings=4), st.lists(st.floats(1 / 8, 8), min_size=2, max_size=4))
def test_no_answer_is_expected_to_leave_more_doubt(case, factors):
    network, evidence = case
    odds = [{network.causes[0]: factor} for factor in factors]
    (fact,) = answers_by_odds(network, evidence, [[(each, 1.0) for each in odds]])
    assert fact.bits() >= 0
    assert all(outlook.bits() >= 0 for outlook in look_ahead(network, evidence).findings.values())


def test_bits_can_be_counted_for_some_causes_only():
    network = random_network(2, 5, 6)
    outlook = look_ahead(network, Evidence()).findings["finding-00"]
    each = sum(outlook.bits([at]) for at in range(5))
    assert outlook.bits() == pytest.approx(each, rel=1e-9)


def test_answers_without_a_chance_and_perfect_tests_are_refused():
    network = random_network(2, 5, 6)
    with pytest.raises(ValueError, match="share above 0"):
        answers_by_odds(network, Evidence(), [[({}, 1.0), ({}, 0.0)]])
    with pytest.raises(ValueError, match="no test is perfect"):
        answers_of_test(network, Evidence(), "cause-00", 1.0, 0.9)


def test_facts_asked_together_get_the_answers_they_get_alone():
    network = random_network(2, 5, 6)
    evidence = Evidence(frozenset({"finding-01"}), frozenset({"finding-03"}))
    one = [({"cause-00": 3.0}, 0.3), ({}, 0.7)]
    other = [({"cause-01": 0.5}, 0.2), ({"cause-02": 2.0}, 0.3), ({}, 0.5)]
    together = answers_by_odds(network, evidence, [one, other])
    alone = [answers_by_odds(network, evidence, [fact])[0] for fact in (one, other)]
    for both, single in zip(together, alone, strict=True):
        assert both.chances == pytest.approx(single.chances, abs=1e-12)
        assert both.marginals == pytest.approx(single.marginals, abs=1e-12)
    assert answers_by_odds(network, evidence, []) == []
