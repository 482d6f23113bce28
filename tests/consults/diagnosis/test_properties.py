"""What must hold for every network and every case, coherent or not."""

import math
import random

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from consults.diagnosis.explain import explain
from consults.diagnosis.inference import posterior
from consults.diagnosis.network import Evidence, Network
from consults.diagnosis.next_check import next_checks
from tests.consults.diagnosis.enumeration import cases, enumerate_all, networks, random_network


def odds(probability: float) -> float:
    return probability / (1 - probability)


@settings(max_examples=100, deadline=None)
@given(cases())
def test_probabilities_are_probabilities(case):
    network, evidence = case
    result = posterior(network, evidence)
    assert all(0 <= p <= 1 for p in (*result.marginals.values(), result.none))
    assert result.none <= 1 - max(result.marginals.values()) + 1e-12
    assert result.log10_evidence <= 1e-12


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("present", [12, 20, 26])
def test_probabilities_are_probabilities_on_large_incoherent_pictures(seed, present):
    network = random_network(seed, 65, 110, touched=(8, 15))
    codes = random.Random(seed).sample(network.findings, present + 20)
    result = posterior(network, Evidence(frozenset(codes[:present]), frozenset(codes[present:])))
    assert all(0 <= p <= 1 for p in (*result.marginals.values(), result.none))


@settings(max_examples=60, deadline=None)
@given(cases(), st.randoms(use_true_random=False))
def test_the_order_of_entry_changes_nothing_in_ranking_reasons_or_checks(case, shuffler):
    network, evidence = case

    def mixed(codes):
        codes = sorted(codes)
        shuffler.shuffle(codes)
        return frozenset(codes)

    entries = list(evidence.odds.items())
    shuffler.shuffle(entries)
    other = Evidence(mixed(evidence.present), mixed(evidence.absent), dict(entries))
    assert posterior(network, other) == posterior(network, evidence)
    assert explain(network, other, {}) == explain(network, evidence, {})
    assert next_checks(network, other) == next_checks(network, evidence)


@settings(max_examples=120, deadline=None)
@given(cases())
def test_a_cause_that_explains_nothing_seen_has_no_more_than_its_own_odds(case):
    """Its odds are exactly prior times readings and practices times what its absent findings leave of it."""
    network, evidence = case
    result = posterior(network, evidence)
    for at, code in enumerate(network.causes):
        if any(network.strength[at, network.finding_index[f]] > 0 for f in evidence.present):
            continue
        own = odds(network.prior[at]) * evidence.odds.get(code, 1.0)
        missed = math.prod(1 - network.strength[at, network.finding_index[f]] for f in evidence.absent)
        assert odds(result.marginals[code]) == pytest.approx(own * missed, rel=1e-9)
        assert result.marginals[code] <= own / (1 + own) * (1 + 1e-12)


@settings(max_examples=100, deadline=None)
@given(networks(), st.data())
def test_with_nothing_seen_an_absent_finding_raises_no_cause(network, data):
    absent = data.draw(st.sets(st.sampled_from(network.findings), min_size=1))
    before = posterior(network, Evidence()).marginals
    after = posterior(network, Evidence(absent=frozenset(absent))).marginals
    assert all(after[code] <= before[code] * (1 + 1e-12) for code in network.causes)


@settings(max_examples=100, deadline=None)
@given(cases(max_causes=4, max_findings=4), cases(max_causes=3, max_findings=3), st.data())
def test_an_absent_finding_changes_no_cause_that_nothing_links_to_it(one, other, data):
    """Two networks side by side that share no finding: what one misses says nothing about the other."""
    (left, seen), (right, elsewhere) = one, other
    size = len(left.findings)
    strength = np.zeros((len(left.causes) + len(right.causes), size + len(right.findings)))
    strength[: len(left.causes), :size] = left.strength
    strength[len(left.causes) :, size:] = right.strength
    joined = Network(
        (*left.causes, *(f"r-{c}" for c in right.causes)),
        (*left.findings, *(f"r-{f}" for f in right.findings)),
        np.concatenate([left.prior, right.prior]),
        np.concatenate([left.leak, right.leak]),
        strength,
    )
    evidence = Evidence(seen.present | {f"r-{f}" for f in elsewhere.present}, seen.absent, seen.odds)
    open_right = [f"r-{f}" for f in right.findings if f not in elsewhere.present]
    assume(open_right)
    missing = data.draw(st.sampled_from(open_right))
    before = posterior(joined, evidence).marginals
    after = posterior(
        joined, Evidence(evidence.present, evidence.absent | {missing}, evidence.odds)
    ).marginals
    for code in left.causes:
        assert after[code] == pytest.approx(before[code], rel=1e-9, abs=1e-15)


@settings(max_examples=100, deadline=None)
@given(cases(), st.floats(1.1, 8.0), st.integers(0, 5))
def test_better_odds_beforehand_never_lower_a_cause(case, factor, at):
    network, evidence = case
    code = network.causes[at % len(network.causes)]
    more = {**evidence.odds, code: evidence.odds[code] * factor}
    before = posterior(network, evidence).marginals[code]
    after = posterior(network, Evidence(evidence.present, evidence.absent, more)).marginals[code]
    assert after >= before * (1 - 1e-12)
    assume(1e-9 < before < 1 - 1e-9)
    assert odds(after) == pytest.approx(odds(before) * factor, rel=1e-6)


@settings(max_examples=80, deadline=None)
@given(cases(), st.integers(0, 5), st.integers(0, 6), st.floats(0.01, 0.9))
def test_a_stronger_link_to_a_finding_seen_never_lowers_a_cause(case, cause, finding, share):
    network, evidence = case
    row, column = cause % len(network.causes), finding % len(network.findings)
    code = network.findings[column]
    assume(code in evidence.present)
    strength = network.strength.copy()
    strength[row, column] += (0.999999 - strength[row, column]) * share
    stronger = Network(network.causes, network.findings, network.prior, network.leak, strength)
    before = posterior(network, evidence).marginals[network.causes[row]]
    after = posterior(stronger, evidence).marginals[network.causes[row]]
    assert after >= before * (1 - 1e-10)


@pytest.mark.parametrize("seed", range(4))
def test_fifteen_findings_that_belong_to_nothing_are_exact_to_twelve_digits(seed):
    network = random_network(seed, 12, 20)
    codes = random.Random(seed).sample(network.findings, 20)
    evidence = Evidence(frozenset(codes[:15]), frozenset(codes[15:]))
    found = list(posterior(network, evidence).marginals.values())
    assert found == pytest.approx(enumerate_all(network, evidence).marginals, abs=1e-12)
