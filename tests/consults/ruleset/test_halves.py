"""Reference cases fall into two halves by their id, and are scored by what comes first."""

import hashlib
import subprocess
import sys

import pytest

from consults.ruleset.halves import Judged, half_of, score


def judged(expected, *ranked, case_id="a"):
    return Judged(case_id, tuple(expected), tuple((code, 0.5 / at) for at, code in enumerate(ranked, 1)))


@pytest.mark.parametrize("case_id", ["walk-in", "basil-fuzz-under-leaf", "a", "ä", ""])
def test_the_half_is_the_parity_of_the_digest_read_as_a_number(case_id):
    number = int(hashlib.sha256(case_id.encode()).hexdigest(), 16)
    assert half_of(case_id) == ("seen" if number % 2 == 0 else "unseen")


def test_the_first_place_counts_when_it_is_any_of_the_expected():
    assert judged(["x", "y"], "y", "a", "b").top1
    assert not judged(["x", "y"], "a", "x", "y").top1


def test_the_third_place_still_counts_and_the_fourth_does_not():
    assert judged(["x"], "a", "b", "x").top3
    assert not judged(["x"], "a", "b", "c", "x").top3


def test_recall_is_the_share_of_expected_causes_among_the_first_three():
    assert judged(["x", "y"], "x", "a", "b", "y").recall == 0.5
    assert judged(["x", "y", "z"], "z", "x", "y").recall == 1
    assert judged(["x"], "a", "b", "c").recall == 0


def test_a_case_fails_when_the_first_is_wrong_or_a_second_expected_cause_is_missed():
    assert judged(["x"], "a", "x").failed
    assert not judged(["x"], "x", "a").failed
    assert judged(["x", "y"], "x", "a", "b", "y").failed
    assert not judged(["x", "y"], "x", "a", "y").failed


def test_scores_are_means_and_recall_is_only_of_cases_with_several_causes():
    found = score([judged(["x"], "x"), judged(["x"], "a", "x"), judged(["x", "y"], "a", "b", "x")])
    assert (found.n, found.top1, found.top3) == (3, pytest.approx(1 / 3), 1)
    assert found.two_cause_recall == 0.5


def test_no_case_scores_nothing_rather_than_zero():
    empty = score([])
    assert (empty.n, empty.top1, empty.top3, empty.two_cause_recall) == (0, None, None, None)


def test_halves_need_no_django():
    code = "import sys, consults.ruleset.halves; sys.exit('django' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
