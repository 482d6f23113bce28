"""Values from outside the engine.

The first two were computed by enumeration when the method was chosen, before the engine was written, and
by hand or by a second algorithm; they are check values, not published ones.
"""

import pytest

from consults.diagnosis.inference import posterior
from consults.diagnosis.network import Evidence, Network


def test_tiny_network_worked_by_hand():
    """Two causes, two findings; joint weights 00 .00684, 01 .086355, 10 .0243808, 11 .0068476, by hand."""
    network = Network(("a", "b"), ("f1", "f2"), [0.1, 0.2], [0.01, 0.05], [[0.8, 0.6], [0.5, 0.0]])
    result = posterior(network, Evidence(frozenset({"f1"}), frozenset({"f2"})))
    assert 10**result.log10_evidence == pytest.approx(0.1244234, abs=1e-7)
    assert result.marginals["a"] == pytest.approx(0.2509849, abs=1e-7)
    assert result.marginals["b"] == pytest.approx(0.7490761, abs=1e-7)
    assert result.none == pytest.approx(0.00684 / 0.1244234, rel=1e-6)


@pytest.mark.parametrize(
    ("present", "absent", "evidence", "wet", "rot", "alkaline"),
    [
        ({"limp", "pale"}, set(), 0.039571, 0.6391, 0.2970, 0.2515),
        ({"limp", "pale"}, {"brown-roots"}, 0.026606, 0.8059, 0.0345, 0.2823),
        ({"limp", "pale", "brown-roots"}, set(), 0.012965, 0.2968, 0.8357, 0.1881),
    ],
)
def test_check_vector_of_three_causes(present, absent, evidence, wet, rot, alkaline):
    """Computed by full enumeration and by inclusion-exclusion, which agreed to 12 digits; given to 4."""
    network = Network(
        ("alkaline", "rot", "wet"),
        ("brown-roots", "limp", "pale"),
        [0.08, 0.04, 0.09],
        [0.01, 0.05, 0.03],
        [[0.0, 0.0, 0.92], [0.92, 0.68, 0.32], [0.08, 0.68, 0.32]],
    )
    result = posterior(network, Evidence(frozenset(present), frozenset(absent)))
    assert 10**result.log10_evidence == pytest.approx(evidence, abs=5e-7)
    assert result.marginals["wet"] == pytest.approx(wet, abs=5e-5)
    assert result.marginals["rot"] == pytest.approx(rot, abs=5e-5)
    assert result.marginals["alkaline"] == pytest.approx(alkaline, abs=5e-5)


@pytest.mark.parametrize(
    ("present", "posterior_cancer"),
    [({"dyspnoea"}, 0.024861), ({"xray"}, 0.050288), ({"dyspnoea", "xray"}, 0.102919)],
)
def test_cancer_network_of_korb_and_nicholson(present, posterior_cancer):
    """K. Korb and A. Nicholson, Bayesian Artificial Intelligence, the "Cancer" network.

    One cause with two findings is a noisy-OR exactly: leak P(f | no cancer), strength 1 - (1 - P(f |
    cancer)) / (1 - leak). Its tables are recalled from memory: pollution high .1, smoker .3, cancer .03
    .001 .05 .02, X-ray .9 and .2, dyspnoea .65 and .30. The posteriors were computed with pgmpy 1.0.4
    from the network file it ships, and this engine has no part in them.
    """
    prior = 0.9 * 0.3 * 0.03 + 0.9 * 0.7 * 0.001 + 0.1 * 0.3 * 0.05 + 0.1 * 0.7 * 0.02
    strength = [[1 - (1 - 0.65) / (1 - 0.30), 1 - (1 - 0.9) / (1 - 0.2)]]
    network = Network(("cancer",), ("dyspnoea", "xray"), [prior], [0.30, 0.2], strength)
    result = posterior(network, Evidence(frozenset(present)))
    assert result.marginals["cancer"] == pytest.approx(posterior_cancer, abs=1e-6)
    assert result.none == pytest.approx(1 - posterior_cancer, abs=1e-6)


def test_two_causes_of_one_finding_explain_each_other_away():
    """Learning that one is true lowers the other (the pattern of the burglary and earthquake example)."""
    network = Network(
        ("burglary", "earthquake"),
        ("alarm", "rumble"),
        [0.01, 0.02],
        [0.001, 0.001],
        [[0.94, 0.0], [0.29, 0.9]],
    )
    alarm = posterior(network, Evidence(frozenset({"alarm"})))
    rumble = posterior(network, Evidence(frozenset({"alarm", "rumble"})))
    assert rumble.marginals["burglary"] < 0.1 * alarm.marginals["burglary"]
    assert rumble.marginals["earthquake"] > alarm.marginals["earthquake"]
