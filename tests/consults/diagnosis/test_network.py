import math

import numpy as np
import pytest

from consults.diagnosis.errors import EvidenceError, NetworkError, UnknownCodeError
from consults.diagnosis.inference import posterior
from consults.diagnosis.network import Evidence, Network


def _network(**changes):
    parts = {
        "causes": ("drought", "flood"),
        "findings": ("wilting", "brown-roots", "dry-pot"),
        "prior": [0.1, 0.2],
        "leak": [0.02, 0.02, 0.02],
        "strength": [[0.9, 0.0, 0.9], [0.5, 0.6, 0.0]],
    }
    return Network(**{**parts, **changes})


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"leak": [0.02, 0.0, 0.02]}, "leak must be at least 1e-06"),
        ({"leak": [0.02, 1.0, 0.02]}, "leak"),
        ({"leak": [0.02, math.nan, 0.02]}, "leak"),
        ({"prior": [0.0, 0.2]}, "prior must be above 0"),
        ({"prior": [0.1, 1.0]}, "prior"),
        ({"prior": [0.1]}, "shape"),
        ({"strength": [[0.9, 0.0, 1.0], [0.5, 0.6, 0.0]]}, "strength"),
        ({"strength": [[0.9, 0.0, -0.1], [0.5, 0.6, 0.0]]}, "strength"),
        ({"strength": [[0.9, 0.0], [0.5, 0.6]]}, "shape"),
        ({"causes": ("drought", "drought")}, "more than once"),
        ({"causes": ("drought", "none-of-these")}, "reserved"),
        ({"causes": (), "prior": [], "strength": np.zeros((0, 3))}, "at least one cause"),
    ],
)
def test_impossible_numbers_are_refused_on_construction(changes, words):
    with pytest.raises(NetworkError, match=words):
        _network(**changes)


def test_a_network_cannot_be_changed_afterwards():
    source = np.array([0.1, 0.2])
    network = _network(prior=source)
    source[0] = 0.9
    assert network.prior[0] == 0.1
    with pytest.raises(ValueError, match="read-only"):
        network.prior[0] = 0.5


def test_an_unknown_finding_is_named_with_the_nearest_spelling():
    with pytest.raises(UnknownCodeError, match=r"finding 'wiltin' is not known\. Nearest spellings: wilting"):
        posterior(_network(), Evidence(frozenset({"wiltin"})))


def test_an_unknown_cause_among_the_odds_is_named():
    with pytest.raises(UnknownCodeError, match=r"cause 'drougth'.*drought"):
        posterior(_network(), Evidence(odds={"drougth": 2.0}))


def test_a_finding_cannot_be_present_and_absent():
    with pytest.raises(EvidenceError, match="Both present and absent: wilting"):
        posterior(_network(), Evidence(frozenset({"wilting"}), frozenset({"wilting"})))


@pytest.mark.parametrize("factor", [0.0, -1.0, math.nan, math.inf])
def test_impossible_odds_factors_are_refused(factor):
    with pytest.raises(EvidenceError, match="odds factor of 'flood'"):
        posterior(_network(), Evidence(odds={"flood": factor}))
