import json
import re

import pytest

from consults.ruleset.errors import RulesetError
from consults.ruleset.loader import Ruleset, load_folder, reference_codes
from consults.ruleset.schema import PRIORS, STRENGTHS
from tests.consults.ruleset.small_ruleset import entries, write


@pytest.fixture
def ruleset(tmp_path):
    return load_folder(write(tmp_path, entries()), reference_codes())


def test_a_folder_is_read_into_mappings_in_order_of_code(ruleset):
    assert list(ruleset.causes) == ["drought", "flood"]
    assert list(ruleset.findings) == ["limp", "pale", "unused"]
    assert ruleset.causes["flood"].findings[0].probability == STRENGTHS["often"]
    assert ruleset.causes["drought"].prior_probability == PRIORS["rare"]


def test_words_stand_for_falling_probabilities_within_their_bands():
    """The bands the words stand for are judgement; the numbers must lie inside them."""
    bands = {
        "almost-always": (0.85, 0.98),
        "often": (0.50, 0.85),
        "sometimes": (0.15, 0.50),
        "rarely": (0.02, 0.15),
    }
    assert all(low <= STRENGTHS[name] <= high for name, (low, high) in bands.items())
    assert list(STRENGTHS.values()) == sorted(STRENGTHS.values(), reverse=True)
    assert list(PRIORS.values()) == sorted(PRIORS.values(), reverse=True)


def test_json_round_trip_gives_the_same_version_and_content(ruleset):
    again = Ruleset.from_json(ruleset.to_json())
    assert again == ruleset
    assert again.to_json() == ruleset.to_json()
    assert re.fullmatch("[0-9a-f]{12}", again.version)


def test_the_version_follows_the_content_and_not_the_order_of_files(tmp_path, ruleset):
    tables = entries()
    tables["causes"].reverse()
    tables["findings"].reverse()
    same = load_folder(write(tmp_path, tables))
    tables["findings"][0]["leak"] = 0.031
    other = load_folder(write(tmp_path, tables))
    assert same.version == ruleset.version
    assert other.version != ruleset.version
    assert other != ruleset


def test_a_ruleset_cannot_be_changed(ruleset):
    with pytest.raises(TypeError):
        ruleset.causes["new"] = ruleset.causes["flood"]
    with pytest.raises(ValueError, match="frozen"):
        ruleset.causes["flood"].urgency = 0


def test_an_alias_leads_to_the_present_code(ruleset):
    assert ruleset.cause_code("wet-feet") == "flood"
    assert ruleset.cause_code("flood") == "flood"
    assert ruleset.cause_code("unheard-of") is None


def test_an_edited_version_passes_the_same_checks_as_files(ruleset):
    content = json.loads(ruleset.to_json())
    content["causes"][0]["findings"][0]["finding"] = "lump"
    content["practices"][0]["colour"] = "red"
    content["extra"] = []
    del content["cautions"]
    with pytest.raises(RulesetError) as caught:
        Ruleset.from_json(json.dumps(content))
    text = str(caught.value)
    assert "The finding 'lump' is not known. Nearest spellings: limp." in text
    assert "colour" in text
    assert "extra: Not a table" in text
    assert "cautions: Must be a list" in text


@pytest.mark.parametrize("content", ["", "[1]", "{", '{"causes": 3}', "[" * 100_000])
def test_what_is_not_a_ruleset_is_refused(content):
    with pytest.raises(RulesetError):
        Ruleset.from_json(content)


def test_an_oversized_version_is_refused_before_it_is_read():
    with pytest.raises(RulesetError, match="Larger than"):
        Ruleset.from_json(" " * 8_000_001)
