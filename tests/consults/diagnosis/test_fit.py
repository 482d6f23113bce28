import numpy as np
import pytest

from consults.diagnosis import fit as fit_module
from consults.diagnosis.fit import enough_to_tell, fit, word
from consults.diagnosis.inference import Posterior, posterior
from consults.diagnosis.network import Evidence
from tests.consults.diagnosis.enumeration import network_of


@pytest.fixture(scope="module")
def separate_pictures():
    """Twelve causes with six findings each, none shared, and six findings nothing produces."""
    strength = np.hstack([np.kron(np.eye(12), np.full((1, 6), 0.7)), np.zeros((12, 6))])
    return network_of(np.full(12, 0.06), np.full(78, 0.01), strength)


def _findings(network, *positions):
    return frozenset(network.findings[at] for at in positions)


def test_the_full_picture_of_one_cause_fits(separate_pictures):
    result = fit(separate_pictures, Evidence(_findings(separate_pictures, 0, 1, 2, 3, 4)))
    assert result.verdict == "fits"


def test_scattered_findings_of_many_causes_fit_nothing_known(separate_pictures):
    result = fit(separate_pictures, Evidence(_findings(separate_pictures, 0, 6, 12, 18, 24, 30, 36, 42)))
    assert result.verdict == "fits-nothing-known"


def test_findings_that_nothing_produces_fit_worse_than_findings_of_one_cause(separate_pictures):
    stray = fit(separate_pictures, Evidence(_findings(separate_pictures, 72, 73, 74, 75)))
    known = fit(separate_pictures, Evidence(_findings(separate_pictures, 0, 1, 2, 3)))
    assert stray.score < known.score
    assert stray.verdict != "fits"


def test_ruling_out_what_would_explain_the_picture_makes_it_fit_worse(separate_pictures):
    seen = _findings(separate_pictures, 0, 1)
    with_rest = fit(separate_pictures, Evidence(seen, _findings(separate_pictures, 8, 9, 10)))
    without_rest = fit(separate_pictures, Evidence(seen, _findings(separate_pictures, 2, 3, 4)))
    assert without_rest.score < with_rest.score


def test_nothing_seen_or_a_single_finding_contradicts_nothing(separate_pictures):
    assert fit(separate_pictures, Evidence()).verdict == "fits"
    assert fit(separate_pictures, Evidence(_findings(separate_pictures, 72))).verdict == "fits"


def test_the_log_evidence_is_that_of_the_posterior(separate_pictures):
    evidence = Evidence(_findings(separate_pictures, 0, 1, 6), _findings(separate_pictures, 2))
    expected = posterior(separate_pictures, evidence).log10_evidence
    assert fit(separate_pictures, evidence).log10_evidence == pytest.approx(expected, rel=1e-12)


def test_the_same_case_always_gets_the_same_score(separate_pictures):
    evidence = Evidence(_findings(separate_pictures, 0, 1, 6))
    first = fit(separate_pictures, evidence)
    fit_module._simulated.cache_clear()
    assert fit(separate_pictures, evidence) == first


def test_the_whole_picture_of_a_cause_with_very_many_findings_fits():
    strength = np.vstack([np.full(30, 0.9), np.full(30, 0.05)])
    network = network_of([0.05, 0.05], np.full(30, 0.02), strength)
    assert fit(network, Evidence(frozenset(network.findings[:26]))).verdict == "fits"


def test_more_findings_than_the_causes_can_ever_show_fit_nothing_known():
    network = network_of([0.01], np.full(30, 0.005), np.full((1, 30), 0.08))
    assert fit(network, Evidence(frozenset(network.findings))).verdict == "fits-nothing-known"


def _posterior(none, **marginals):
    return Posterior(marginals, none, -1.0, True, 0.0)


def test_enough_to_tell_needs_a_first_cause_of_35_percent():
    assert enough_to_tell(_posterior(0.1, overwatering=0.35, aphids=0.1), "fits")
    assert not enough_to_tell(_posterior(0.1, overwatering=0.349, aphids=0.1), "fits")


def test_not_enough_to_tell_when_none_of_these_leads_or_nothing_fits():
    assert not enough_to_tell(_posterior(0.55, overwatering=0.4), "fits")
    assert not enough_to_tell(_posterior(0.01, overwatering=0.9), "fits-nothing-known")
    assert enough_to_tell(_posterior(0.01, overwatering=0.9), "unusual")


@pytest.mark.parametrize(
    ("probability", "expected"),
    [
        (1.0, "almost-certain"),
        (0.9, "almost-certain"),
        (0.8999, "likely"),
        (0.65, "likely"),
        (0.35, "possible"),
        (0.3499, "less-likely"),
        (0.1, "less-likely"),
        (0.0999, "unlikely"),
        (0.0, "unlikely"),
    ],
)
def test_words_change_at_their_thresholds(probability, expected):
    assert word(probability) == expected


def test_a_word_for_an_impossible_probability_is_refused():
    with pytest.raises(ValueError, match="from 0 to 1"):
        word(1.01)
