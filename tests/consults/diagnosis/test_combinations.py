import pytest
from hypothesis import given, settings

from consults.diagnosis import combinations as combinations_module
from consults.diagnosis.combinations import combinations
from consults.diagnosis.inference import posterior
from consults.diagnosis.network import Evidence
from tests.consults.diagnosis.enumeration import cases, enumerate_all, network_of, random_network


@settings(max_examples=120, deadline=None)
@given(cases())
def test_the_most_probable_sets_equal_full_enumeration(case):
    network, evidence = case
    truth = enumerate_all(network, evidence)
    expected = sorted(truth.weights / truth.evidence, reverse=True)[:5]
    found = combinations(network, evidence, limit=5)
    assert [item.probability for item in found] == pytest.approx(expected, rel=1e-9, abs=1e-12)
    by_set = {
        tuple(code for code, on in zip(network.causes, row, strict=True) if on): weight / truth.evidence
        for row, weight in zip(truth.sets, truth.weights, strict=True)
    }
    for item in found:
        assert item.probability == pytest.approx(by_set[item.causes], rel=1e-9, abs=1e-12)
    assert len({item.causes for item in found}) == len(found)
    assert sum(item.probability for item in found) <= 1 + 1e-12


def test_all_sets_together_have_probability_one():
    network = random_network(1, 6, 9)
    evidence = Evidence(frozenset(network.findings[:4]), frozenset(network.findings[4:6]))
    found = combinations(network, evidence, limit=2**6)
    assert len(found) == 2**6
    assert sum(item.probability for item in found) == pytest.approx(1.0, abs=1e-12)


def test_no_cause_at_all_is_a_combination_and_equals_none():
    network = random_network(2, 6, 9)
    evidence = Evidence(absent=frozenset(network.findings))
    first = combinations(network, evidence, limit=1)[0]
    assert first.causes == ()
    assert first.probability == pytest.approx(posterior(network, evidence).none, rel=1e-12)


def test_two_causes_that_only_together_explain_the_picture_come_first():
    network = network_of(
        [0.05, 0.05, 0.05], [0.01] * 4, [[0.9, 0.9, 0, 0], [0, 0, 0.9, 0.9], [0.1, 0, 0.1, 0]]
    )
    found = combinations(network, Evidence(frozenset(network.findings)), limit=3)
    assert found[0].causes == ("cause-00", "cause-01")
    assert found[0].probability > 0.9


def test_a_limit_below_one_is_refused():
    with pytest.raises(ValueError, match="limit is 0"):
        combinations(random_network(1, 3, 6), Evidence(), limit=0)


@pytest.mark.parametrize("seed", range(12))
def test_with_many_overlapping_causes_sets_still_come_in_falling_order(seed):
    network = random_network(seed, 12, 16, touched=(5, 9))
    evidence = Evidence(frozenset(network.findings[:7]), frozenset(network.findings[7:10]))
    truth = enumerate_all(network, evidence)
    expected = sorted(truth.weights / truth.evidence, reverse=True)[:40]
    found = [item.probability for item in combinations(network, evidence, limit=40)]
    assert found == pytest.approx(expected, rel=1e-9)


def test_a_search_that_is_cut_short_returns_the_beginning_of_the_right_answer(monkeypatch):
    network = random_network(3, 12, 16, touched=(5, 9))
    evidence = Evidence(frozenset(network.findings[:7]))
    whole = combinations(network, evidence, limit=40)
    monkeypatch.setattr(combinations_module, "MAX_NODES", 180)
    part = combinations(network, evidence, limit=40)
    assert 0 < len(part) < 40
    assert part == whole[: len(part)]
