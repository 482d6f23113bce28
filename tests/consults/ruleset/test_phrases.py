"""Measuring how growers' words are read: on sentences written without sight of the matcher's phrases."""

import pytest

from consults.ruleset.loader import load_bundled
from consults.ruleset.phrases import Sentence, in_half, load_sentences, score


@pytest.fixture
def findings():
    return load_bundled().findings


def test_the_held_out_sentences_name_known_findings_and_each_stands_once(findings):
    sentences = load_sentences()
    assert len(sentences) >= 260
    assert len({sentence.id for sentence in sentences}) == len(sentences)
    for sentence in sentences:
        assert {*sentence.present, *sentence.absent} <= set(findings), sentence.id
        assert not {*sentence.present} & {*sentence.absent}, sentence.id


def test_the_two_halves_are_apart_and_together_everything():
    sentences = load_sentences()
    halves = [in_half(sentences, half) for half in ("seen", "unseen")]
    assert sorted(s.id for half in halves for s in half) == sorted(s.id for s in sentences)
    assert min(map(len, halves)) > 0.4 * len(sentences)


def test_a_score_counts_what_was_missed_and_what_was_wrong(findings):
    found = score(
        [
            Sentence(id="right", text="White crust on the pot.", present=("salt-crust",)),
            Sentence(id="missed", text="Nothing we know.", present=("stunting",)),
            Sentence(id="wrong", text="White crust on the pot.", absent=("salt-crust",)),
        ],
        findings,
    )
    assert (found.n, found.precision, found.recall, found.exact) == (3, 1 / 2, 1 / 3, 1 / 3)
    assert [fault.id for fault in found.misread] == ["missed", "wrong"]
    assert found.misread[1].missed == ("not:salt-crust",)
    assert found.misread[1].wrong == ("salt-crust",)


def test_nothing_to_read_is_read_without_a_fault(findings):
    assert score([], findings).exact == 1
