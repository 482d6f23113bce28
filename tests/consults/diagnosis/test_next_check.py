import pytest
from hypothesis import given, settings

from consults.diagnosis import outlook, sweep
from consults.diagnosis.network import Evidence
from consults.diagnosis.next_check import Check, next_checks, rank_checks
from tests.consults.diagnosis.enumeration import cases, enumerate_all, network_of, random_network


def _by_enumeration(network, evidence, code):
    now = enumerate_all(network, evidence)
    seen = enumerate_all(network, Evidence(evidence.present | {code}, evidence.absent, evidence.odds))
    missed = enumerate_all(network, Evidence(evidence.present, evidence.absent | {code}, evidence.odds))
    chance = seen.evidence / now.evidence
    return now.entropy() - chance * seen.entropy() - (1 - chance) * missed.entropy(), chance


@settings(max_examples=80, deadline=None)
@given(cases(max_causes=5, max_findings=5))
def test_expected_bits_equal_full_enumeration(case):
    network, evidence = case
    checks = next_checks(network, evidence)
    asked = evidence.present | evidence.absent
    assert {check.code for check in checks} == set(network.findings) - asked
    for check in checks:
        bits, chance = _by_enumeration(network, evidence, check.code)
        assert check.bits == pytest.approx(bits, abs=1e-9)
        assert check.probability == pytest.approx(chance, rel=1e-8, abs=1e-13)


def test_a_finding_hardly_ever_seen_is_computed_without_subtraction(monkeypatch):
    network = network_of([0.001, 0.3], [1e-6, 0.02], [[1e-4, 0.5], [0.0, 0.5]])
    evidence = Evidence(frozenset({"finding-01"}))
    bits, chance = _by_enumeration(network, evidence, "finding-00")
    assert chance < outlook.SAFE_PROBABILITY
    assert next_checks(network, evidence)[0].bits == pytest.approx(bits, abs=1e-12)
    monkeypatch.setattr(outlook, "SAFE_PROBABILITY", 1.0)
    assert next_checks(network, evidence)[0].bits == pytest.approx(bits, abs=1e-12)


def test_most_telling_first_and_ties_by_code():
    network = network_of([0.2, 0.2], [0.02] * 3, [[0.1, 0.9, 0.9], [0.0, 0.0, 0.0]])
    assert [check.code for check in next_checks(network, Evidence())] == [
        "finding-01",
        "finding-02",
        "finding-00",
    ]


def test_a_finding_no_cause_touches_tells_nothing():
    network = network_of([0.2], [0.02, 0.05], [[0.9, 0.0]])
    last = next_checks(network, Evidence())[-1]
    assert last.code == "finding-01"
    assert last.bits == pytest.approx(0.0, abs=1e-14)
    assert last.probability == pytest.approx(0.05)


def test_nothing_is_left_to_check_when_everything_was_looked_at():
    network = random_network(1, 4, 6)
    assert next_checks(network, Evidence(absent=frozenset(network.findings))) == []


def test_bits_per_minute_prefer_a_quick_look_to_a_slow_test():
    checks = [
        Check("laboratory-culture", 0.9, 0.5),
        Check("lift-the-pot", 0.3, 0.5),
        Check("smell", 0.3, 0.5),
    ]
    minutes = {"laboratory-culture": 60, "lift-the-pot": 1, "smell": 1}
    assert [check.code for check in rank_checks(checks, minutes)] == [
        "lift-the-pot",
        "smell",
        "laboratory-culture",
    ]


def test_a_glance_does_not_win_by_dividing_by_almost_nothing():
    checks = [Check("glance", 0.1, 0.5), Check("lens", 0.3, 0.5)]
    minutes = {"glance": 0.01, "lens": 1.0}
    assert rank_checks(checks, minutes, floor=0.5)[0].code == "lens"
    assert rank_checks(checks, minutes, floor=0.01)[0].code == "glance"
    with pytest.raises(ValueError, match="must be above 0"):
        rank_checks(checks, minutes, floor=0)


def test_a_batch_cut_to_save_memory_gives_the_same_bits(monkeypatch):
    network = random_network(4, 10, 30, touched=(5, 9))
    evidence = Evidence(frozenset(network.findings[:6]), frozenset(network.findings[6:9]))
    whole = next_checks(network, evidence)
    monkeypatch.setattr(sweep, "MAX_STORED_BYTES", 1)
    assert next_checks(network, evidence) == whole
