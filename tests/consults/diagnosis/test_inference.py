import math
import random

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from consults.diagnosis.inference import absorb, believe, posterior, prepare
from consults.diagnosis.network import Evidence, Network, locate
from tests.consults.diagnosis.enumeration import cases, enumerate_all, network_of, random_network


def _values(result):
    return np.array(list(result.marginals.values()))


@settings(max_examples=150, deadline=None)
@given(cases())
def test_marginals_none_and_evidence_equal_full_enumeration(case):
    network, evidence = case
    truth = enumerate_all(network, evidence)
    result = posterior(network, evidence)
    assert result.exact
    assert result.error_bound == 0.0
    assert list(result.marginals) == list(network.causes)
    assert _values(result) == pytest.approx(truth.marginals, rel=1e-10, abs=1e-12)
    assert result.none == pytest.approx(truth.none, rel=1e-10, abs=1e-12)
    assert 10**result.log10_evidence == pytest.approx(truth.evidence, rel=1e-10)


@pytest.mark.parametrize("seed", range(6))
def test_incoherent_evidence_on_ten_causes_is_exact_to_twelve_digits(seed):
    """Random findings that no picture explains: where inclusion-exclusion loses its digits."""
    network = random_network(seed, 10, 18)
    codes = random.Random(seed).sample(network.findings, 17)
    evidence = Evidence(frozenset(codes[:13]), frozenset(codes[13:]))
    assert _values(posterior(network, evidence)) == pytest.approx(
        enumerate_all(network, evidence).marginals, abs=1e-12
    )


def test_hopelessly_improbable_evidence_keeps_its_digits():
    """Fourteen findings that come from leaks of one in a million or from causes that hardly show them."""
    strength = np.full((8, 14), 1e-5)
    network = network_of(np.full(8, 0.01), np.full(14, 1e-6), strength)
    evidence = Evidence(frozenset(network.findings))
    truth = enumerate_all(network, evidence)
    result = posterior(network, evidence)
    assert result.log10_evidence < -50
    assert _values(result) == pytest.approx(truth.marginals, rel=1e-9)


def test_hundreds_of_findings_do_not_underflow():
    """Independent pairs of one cause and one finding: the answer is a product known in closed form."""
    pairs = 400
    network = network_of(np.full(pairs, 0.02), np.full(pairs, 1e-4), np.diag(np.full(pairs, 0.5)))
    result = posterior(network, Evidence(frozenset(network.findings)))
    seen_if_true, seen_if_false = 1 - (1 - 1e-4) * 0.5, 1e-4
    seen = 0.02 * seen_if_true + 0.98 * seen_if_false
    assert result.exact
    assert result.log10_evidence == pytest.approx(pairs * math.log10(seen), rel=1e-12)
    assert _values(result) == pytest.approx(np.full(pairs, 0.02 * seen_if_true / seen), rel=1e-12)
    assert result.none == 0.0


def test_without_evidence_the_priors_come_back():
    network = random_network(3, 9, 12)
    result = posterior(network, Evidence())
    assert _values(result) == pytest.approx(network.prior, rel=1e-14)
    assert result.none == pytest.approx(np.prod(1 - network.prior), rel=1e-13)
    assert result.log10_evidence == 0.0


def test_odds_factors_multiply_the_odds():
    network = random_network(4, 5, 6)
    result = posterior(network, Evidence(odds={"cause-02": 6.0}))
    prior = network.prior[2]
    odds = prior / (1 - prior) * 6
    assert result.marginals["cause-02"] == pytest.approx(odds / (1 + odds), rel=1e-14)


@settings(max_examples=100, deadline=None)
@given(cases(), st.floats(0.05, 0.99), st.integers(0, 5))
def test_a_finding_that_only_one_cause_explains_raises_that_cause(case, strength, at):
    network, evidence = case
    cause = at % len(network.causes)
    column = np.zeros((len(network.causes), 1))
    column[cause] = strength
    wider = Network(
        network.causes,
        (*network.findings, "its-sign"),
        network.prior,
        np.append(network.leak, 0.02),
        np.hstack([network.strength, column]),
    )
    code = network.causes[cause]
    before = posterior(wider, evidence).marginals[code]
    seen = Evidence(evidence.present | {"its-sign"}, evidence.absent, evidence.odds)
    missed = Evidence(evidence.present, evidence.absent | {"its-sign"}, evidence.odds)
    assume(1e-9 < before < 1 - 1e-9)
    assert posterior(wider, missed).marginals[code] < before < posterior(wider, seen).marginals[code]


@settings(max_examples=60, deadline=None)
@given(cases())
def test_findings_not_looked_at_change_nothing(case):
    network, evidence = case
    asked = evidence.present | evidence.absent
    columns = [at for at, code in enumerate(network.findings) if code in asked]
    assume(columns)
    narrower = Network(
        network.causes,
        tuple(network.findings[at] for at in columns),
        network.prior,
        network.leak[columns],
        network.strength[:, columns],
    )
    assert posterior(narrower, evidence) == posterior(network, evidence)


def test_the_order_in_which_things_are_entered_changes_no_bit():
    network = random_network(5, 20, 40, touched=(8, 12))
    codes = list(network.findings[:24])
    odds = dict.fromkeys(network.causes[:9], 1.7)
    results = set()
    for seed in range(8):
        random.Random(seed).shuffle(codes)
        present = frozenset(sorted(codes)[:12])
        shuffled = frozenset(code for code in codes if code in present)
        absent = frozenset(code for code in codes if code not in present)
        entries = list(odds.items())
        random.Random(seed).shuffle(entries)
        results.add(repr(posterior(network, Evidence(shuffled, absent, dict(entries)))))
    assert len(results) == 1


def test_independent_groups_of_findings_are_solved_apart_however_many_they_are():
    """Thirty present findings, in ten groups of three: far more than one table could hold."""
    strength = np.kron(np.eye(10), np.array([[0.8, 0.5, 0.3], [0.1, 0.6, 0.7]]))
    prior = np.tile([0.05, 0.1], 10)
    network = network_of(prior, np.full(30, 0.02), strength)
    small = network_of([0.05, 0.1], np.full(3, 0.02), strength[:2, :3])
    truth = enumerate_all(small, Evidence(frozenset(small.findings)))
    result = posterior(network, Evidence(frozenset(network.findings)))
    assert result.exact
    assert _values(result) == pytest.approx(np.tile(truth.marginals, 10), abs=1e-12)
    assert 10**result.log10_evidence == pytest.approx(truth.evidence**10, rel=1e-10)


@settings(max_examples=60, deadline=None)
@given(cases())
def test_leaving_a_finding_out_in_the_same_pass_equals_not_having_looked(case):
    network, evidence = case
    located = locate(network, evidence)
    rows = [-1, *located.present.tolist()]
    log_odds, constant = absorb(network, located)
    beliefs = believe(
        prepare(network, located),
        np.repeat(log_odds, len(rows), axis=0),
        np.repeat(constant, len(rows)),
        np.array(rows),
    )
    for row, position in enumerate(rows):
        present = evidence.present - ({network.findings[position]} if position >= 0 else set())
        alone = posterior(network, Evidence(present, evidence.absent, evidence.odds))
        assert beliefs.marginals[row] == pytest.approx(_values(alone), rel=1e-9, abs=1e-13)
        assert math.exp(beliefs.log_none[row]) == pytest.approx(alone.none, rel=1e-9, abs=1e-13)
        assert beliefs.log_evidence[row] == pytest.approx(alone.log10_evidence * math.log(10), abs=1e-9)
