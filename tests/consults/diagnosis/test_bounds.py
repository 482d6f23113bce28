import random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from consults.diagnosis import inference
from consults.diagnosis.bounds import Linear, jensen_below, tangent_above
from consults.diagnosis.explain import explain
from consults.diagnosis.inference import Question, absorb, believe, posterior, prepare
from consults.diagnosis.network import Evidence, locate
from consults.diagnosis.next_check import next_checks
from tests.consults.diagnosis.enumeration import cases, enumerate_all, network_of, random_network


def _errors(network, evidence, result):
    truth = enumerate_all(network, evidence)
    errors = np.abs(np.array(list(result.marginals.values())) - truth.marginals)
    return max(errors.max(), abs(result.none - truth.none))


def _dense(seed, findings):
    random_numbers = np.random.default_rng(seed)
    return network_of(
        random_numbers.uniform(0.02, 0.3, 9),
        random_numbers.uniform(0.01, 0.1, findings),
        random_numbers.uniform(0.05, 0.9, (9, findings)),
    )


@pytest.mark.parametrize("seed", range(4))
def test_more_findings_than_fit_a_table_give_a_bound_that_holds(seed):
    network = _dense(seed, 22)
    evidence = Evidence(frozenset(network.findings))
    result = posterior(network, evidence)
    assert not result.exact
    assert 0 < result.error_bound <= 0.5 + 1e-9
    assert _errors(network, evidence, result) <= result.error_bound


def test_the_bound_is_of_use_when_a_coherent_picture_is_only_a_little_too_large():
    """One cause shows everything, the others little: the interval must not be the empty statement 0..1."""
    strength = np.full((9, 20), 0.02)
    strength[0] = 0.9
    network = network_of(np.full(9, 0.05), np.full(20, 0.05), strength)
    result = posterior(network, Evidence(frozenset(network.findings)))
    assert not result.exact
    assert result.error_bound < 0.1
    assert result.marginals["cause-00"] > 0.9


@settings(max_examples=60, deadline=None)
@given(cases(max_causes=5, max_findings=6))
def test_the_bound_holds_on_any_evidence_when_tables_are_kept_tiny(case):
    network, evidence = case
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(inference, "MAX_WIDTH", 1)
        patch.setattr(inference, "LINKED_WIDTH", 1)
        result = posterior(network, evidence)
    assert _errors(network, evidence, result) <= result.error_bound + 1e-12


@settings(max_examples=60, deadline=None)
@given(cases(max_causes=5), st.floats(0.001, 0.999))
def test_the_lines_lie_above_and_below_every_combination_of_causes(case, guess):
    network, _ = case
    every = np.arange(len(network.findings))
    around = np.full(len(network.causes), guess)
    sets = enumerate_all(network, Evidence()).sets
    actual = np.log(-np.expm1(network.log_leak_miss + sets @ network.log_miss)).sum(axis=1)
    above, below = tangent_above(network, every, around), jensen_below(network, every, around)
    assert np.all(above.constant + sets @ above.slopes >= actual - 1e-9)
    assert np.all(below.constant + sets @ below.slopes <= actual + 1e-9)


def test_reasons_and_next_checks_still_come_when_marginals_are_bounded():
    network = _dense(1, 24)
    evidence = Evidence(frozenset(network.findings[:22]))
    checks = next_checks(network, evidence)
    assert [check.code for check in sorted(checks, key=lambda check: check.code)] == list(
        network.findings[22:]
    )
    assert all(check.bits >= 0 and 0 <= check.probability <= 1 for check in checks)
    assert set(explain(network, evidence, {})) == {*network.causes, "none-of-these"}


def test_a_bounded_answer_does_not_depend_on_the_order_of_entry():
    network = _dense(2, 22)
    codes = list(network.findings)
    results = set()
    for seed in range(3):
        random.Random(seed).shuffle(codes)
        results.add(repr(posterior(network, Evidence(frozenset(codes)))))
    assert len(results) == 1


def test_an_easy_network_of_forty_five_causes_stays_exact_with_twenty_findings():
    network = random_network(8, 45, 90, touched=(8, 15))
    assert posterior(network, Evidence(frozenset(network.findings[:20]))).exact


def test_a_loosened_finding_is_left_out_by_taking_away_its_own_line():
    network = _dense(3, 20)
    evidence = Evidence(frozenset(network.findings))
    located = locate(network, evidence)
    question, base = prepare(network, located), absorb(network, located)
    shift = question.shift
    assert shift is not None
    for place, position in enumerate(shift.findings):
        rest = Linear(
            np.delete(shift.findings, place),
            np.delete(shift.each_slope, place, axis=1),
            np.delete(shift.each_constant, place),
        )
        fewer = believe(Question(network, question.present, question.plan, rest), *base)
        same = believe(question, *base, np.array([position]))
        assert same.log_odds == pytest.approx(fewer.log_odds, abs=1e-9)
        assert same.log_evidence == pytest.approx(fewer.log_evidence, abs=1e-9)
        assert same.log_none == pytest.approx(fewer.log_none, abs=1e-9)
