"""What is said with 3 in 10 comes true 3 times in 10."""

import numpy as np
import pytest

from consults.diagnosis.calibration import EDGES, calibrate, draw, reliability, wilson
from tests.consults.diagnosis.enumeration import network_of, random_network


def test_the_same_seed_gives_the_same_cases_and_another_seed_others():
    network = random_network(1, 8, 12)
    first, again = calibrate(network, 40, 3), calibrate(network, 40, 3)
    assert first == again
    assert first != calibrate(network, 40, 4)


def test_what_was_said_comes_true_as_often_as_said():
    found = calibrate(random_network(2, 8, 14, touched=(4, 6)), 1500, 11)
    for part in found.bins:
        if part.count >= 30:
            spread = part.observed_high - part.observed_low
            assert part.observed_low - spread / 2 <= part.expected <= part.observed_high + spread / 2
    assert found.brier < found.brier_prior


def test_a_wrong_reckoning_shows_as_a_bin_outside_its_interval():
    random = np.random.default_rng(5)
    said = random.uniform(0.3, 0.4, 2000)
    true = (random.random(2000) < 0.6).astype(float)
    part = next(part for part in reliability(said, true) if part.count)
    assert not part.observed_low <= part.expected <= part.observed_high


def test_every_probability_falls_into_one_bin():
    said = np.array([0.0, 0.005, 0.01, 0.05, 0.899999, 0.9, 1.0])
    bins = reliability(said, np.array([0, 0, 1, 0, 1, 1, 1], dtype=float))
    assert [part.low for part in bins] == list(EDGES[:-1])
    assert sum(part.count for part in bins) == len(said)
    assert [part.count for part in bins if part.count] == [2, 1, 1, 1, 2]
    assert bins[-1].observed == 1.0
    empty = next(part for part in bins if part.count == 0)
    assert (empty.expected, empty.observed, empty.observed_low, empty.observed_high) == (None,) * 4


@pytest.mark.parametrize(
    ("hits", "count", "low", "high"),
    [(0, 10, 0.0, 0.2775), (10, 10, 0.7225, 1.0), (5, 10, 0.2366, 0.7634), (81, 263, 0.2553, 0.3662)],
)
def test_the_score_interval_of_a_share(hits, count, low, high):
    """81 of 263: R. Newcombe, Statistics in Medicine 17:857, 1998, as remembered; the others computed."""
    assert wilson(hits, count) == pytest.approx((low, high), abs=1e-4)


@pytest.mark.parametrize(("hits", "count"), [(0, 1), (1, 1), (3, 7), (400, 1000)])
def test_the_ends_of_the_interval_are_where_the_score_test_turns(hits, count):
    for end in wilson(hits, count):
        if 0 < end < 1:
            distance = abs(hits / count - end)
            assert distance == pytest.approx(1.959964 * (end * (1 - end) / count) ** 0.5, abs=1e-12)


def test_hidden_findings_are_not_looked_at_and_shown_ones_follow_the_causes():
    network = network_of([0.5], [1e-6, 1e-6], [[0.99, 0.0]])
    cases = list(draw(network, 300, 1, hidden=0.5))
    assert 0.4 < np.mean([case.looked for case in cases]) < 0.6
    assert all(not case.shown[0] for case in cases if not case.causes[0])
    for case in cases:
        evidence = case.evidence(network)
        assert len(evidence.present | evidence.absent) == case.looked.sum()
        assert len(evidence.present) == (case.shown & case.looked).sum()


def test_everything_hidden_leaves_the_priors_said():
    network = random_network(3, 5, 6)
    found = calibrate(network, 30, 1, hidden=1.0)
    assert found.brier == pytest.approx(found.brier_prior, rel=1e-9)


@pytest.mark.parametrize(("count", "hidden"), [(0, 0.5), (5, -0.1), (5, 1.1)])
def test_impossible_counts_and_shares_are_refused(count, hidden):
    with pytest.raises(ValueError, match=r"needed|allowed"):
        next(draw(random_network(3, 5, 6), count, 1, hidden))
