import pytest
import yaml

from consults.ruleset.errors import RulesetError
from consults.ruleset.loader import load_folder, reference_codes
from tests.consults.ruleset.small_ruleset import SOURCE, entries, write


def _problems(folder, tables=None, known=None):
    if tables is not None:
        write(folder, tables)
    with pytest.raises(RulesetError) as caught:
        load_folder(folder, known)
    assert len(str(caught.value).splitlines()) == len(caught.value.problems)
    return caught.value.problems


def _bent(change):
    tables = entries()
    change(tables)
    return tables


def _flood(tables):
    return tables["causes"][0]


CASES = {
    "unknown finding": (
        lambda t: _flood(t)["findings"][0].update(finding="lump"),
        (
            "causes/flood.yaml",
            "flood",
            "findings",
            "The finding 'lump' is not known. Nearest spellings: limp.",
        ),
    ),
    "unknown condition": (
        lambda t: _flood(t)["readings"][0].update(condition="ph-hihg"),
        (
            "causes/flood.yaml",
            "flood",
            "readings",
            "The condition 'ph-hihg' is not known. Nearest spellings: ph-high.",
        ),
    ),
    "unknown practice": (
        lambda t: _flood(t)["practices"][0].update(practice="waters-dayly"),
        ("causes/flood.yaml", "flood", "practices", "waters-daily"),
    ),
    "unknown caution": (
        lambda t: _flood(t)["actions"][0].update(cautions=["wet-flour"]),
        ("causes/flood.yaml", "flood", "actions.do-flood.cautions", "wet-floor"),
    ),
    "unknown opposed action": (
        lambda t: t["causes"][1]["actions"][0].update(opposes=["do-floood"]),
        ("causes/drought.yaml", "drought", "actions.water.opposes", "do-flood"),
    ),
    "action opposing itself": (
        lambda t: t["causes"][1]["actions"][0].update(opposes=["water"]),
        ("causes/drought.yaml", "drought", "actions.water.opposes", "cannot oppose itself"),
    ),
    "unknown quantity": (
        lambda t: _flood(t)["actions"][0].update(quantity="litres"),
        ("causes/flood.yaml", "flood", "actions.0.quantity", "'watering-interval'"),
    ),
    "one action, two quantities": (
        lambda t: t["causes"][1]["actions"].append({**_flood(t)["actions"][0], "quantity": "leach-volume"}),
        ("causes/flood.yaml", "flood", "actions.do-flood.quantity", "leach-volume in 'drought'"),
    ),
    "unknown source of a link": (
        lambda t: _flood(t)["findings"][0].update(source="book-two"),
        ("causes/flood.yaml", "flood", "findings.limp.source", "Nearest spellings: book-one."),
    ),
    "unknown source of a finding": (
        lambda t: t["findings"][0].update(source="the internet"),
        ("findings.yaml", "limp", "source", "The source 'the internet' is not known."),
    ),
    "cause without finding": (
        lambda t: _flood(t).update(findings=[]),
        ("causes/flood.yaml", "flood", "findings", "at least one finding"),
    ),
    "finding listed twice in a cause": (
        lambda t: _flood(t)["findings"].append(_flood(t)["findings"][0]),
        ("causes/flood.yaml", "flood", "findings", "'limp' is given 2 times"),
    ),
    "code given twice": (
        lambda t: t["findings"].append(t["findings"][0]),
        ("findings.yaml", "limp", "code", "Already given in findings.yaml"),
    ),
    "alias that is a code": (
        lambda t: _flood(t).update(aliases=["drought"]),
        ("causes/flood.yaml", "flood", "aliases", "already names the cause 'drought'"),
    ),
    "unknown key": (
        lambda t: t["practices"][0].update(colour="red"),
        ("practices.yaml", "waters-daily", "colour", "not known here"),
    ),
    "missing key": (
        lambda t: t["practices"][0].pop("definition"),
        ("practices.yaml", "waters-daily", "definition", "missing"),
    ),
    "text without English": (
        lambda t: t["practices"][0].update(name={"de": "Täglich"}),
        ("practices.yaml", "waters-daily", "name", "English"),
    ),
    "factor out of range": (
        lambda t: _flood(t)["readings"][0].update(if_true=9),
        ("causes/flood.yaml", "flood", "readings.0.if_true", "Found 9"),
    ),
    "yes instead of a word": (
        lambda t: t["findings"][0].update(check=True),
        ("findings.yaml", "limp", "check", "Found True"),
    ),
    "leak of zero": (
        lambda t: t["findings"][0].update(leak=0.0),
        ("findings.yaml", "limp", "leak", "Found 0.0"),
    ),
    "number written as text": (
        lambda t: t["findings"][0].update(leak="0.03"),
        ("findings.yaml", "limp", "leak", "Found '0.03'"),
    ),
    "two edges": (
        lambda t: t["conditions"][0].update(below="low"),
        ("conditions.yaml", "ph-high", "", "exactly one of"),
    ),
    "no edge": (
        lambda t: t["conditions"][0].pop("above"),
        ("conditions.yaml", "ph-high", "", "none of them"),
    ),
    "offset on a bare number": (
        lambda t: (t["conditions"][0].pop("above"), t["conditions"][0].update(above_value=7.0)),
        ("conditions.yaml", "ph-high", "", "bare number"),
    ),
    "prior factor for every context": (
        lambda t: _flood(t)["prior_factors"][0].pop("systems"),
        ("causes/flood.yaml", "flood", "prior_factors.0", "at least one of crops"),
    ),
    "unknown system": (
        lambda t: _flood(t)["prior_factors"][0].update(systems=["hand-watered-pots"]),
        ("causes/flood.yaml", "flood", "prior_factors.0.systems", "Nearest spellings: hand-watered-pot"),
    ),
    "unknown reading": (
        lambda t: t["conditions"][0].update(reading="rootzone_ph"),
        ("conditions.yaml", "ph-high", "reading", "root_zone_ph"),
    ),
}


@pytest.mark.parametrize(("change", "expected"), CASES.values(), ids=CASES)
def test_a_mistake_is_named_with_file_entry_field_and_remedy(tmp_path, change, expected):
    problems = _problems(tmp_path, _bent(change), reference_codes())
    file, entry, field, words = expected
    assert len(problems) == 1
    assert problems[0][:3] == (file, entry, field)
    assert words in problems[0].message


def test_the_reserved_code_cannot_name_a_cause(tmp_path):
    problems = _problems(tmp_path, _bent(lambda t: _flood(t).update(code="none-of-these")))
    assert [problem.field for problem in problems] == ["code"]
    assert "reserved" in problems[0].message


def test_all_problems_of_all_files_come_at_once(tmp_path):
    tables = entries()
    tables["practices"][0]["colour"] = "red"
    _flood(tables)["findings"][0]["finding"] = "lump"
    tables["causes"][1]["urgency"] = 7
    write(tmp_path, tables)
    (tmp_path / "cautions.yaml").write_text("- code: [unclosed")
    files = {problem.file for problem in _problems(tmp_path)}
    assert files == {"practices.yaml", "causes/flood.yaml", "causes/drought.yaml", "cautions.yaml"}


def test_an_unreadable_table_does_not_make_every_use_of_it_a_problem(tmp_path):
    write(tmp_path, entries())
    (tmp_path / "findings.yaml").write_text("- code: [unclosed")
    problems = _problems(tmp_path)
    assert [problem.file for problem in problems] == ["findings.yaml"]


def test_a_wrong_entry_is_reported_once_and_its_code_still_counts(tmp_path):
    problems = _problems(tmp_path, _bent(lambda t: t["findings"][0].update(part="petal")))
    assert [problem[:3] for problem in problems] == [("findings.yaml", "limp", "part")]


def test_a_missing_file_is_named(tmp_path):
    write(tmp_path, entries())
    (tmp_path / "sources.yaml").unlink()
    assert [problem.file for problem in _problems(tmp_path)] == ["sources.yaml"]


def test_an_empty_folder_names_everything_that_is_missing(tmp_path):
    assert len(_problems(tmp_path)) == 6


def test_a_cause_file_must_be_named_after_its_code(tmp_path):
    write(tmp_path, entries())
    (tmp_path / "causes" / "flood.yaml").rename(tmp_path / "causes" / "deluge.yaml")
    problem = _problems(tmp_path)[0]
    assert problem[:3] == ("causes/deluge.yaml", "flood", "code")


def test_a_cause_file_with_another_ending_is_not_silently_overlooked(tmp_path):
    write(tmp_path, entries())
    (tmp_path / "causes" / "flood.yaml").rename(tmp_path / "causes" / "flood.yml")
    assert any("ending .yaml" in problem.message for problem in _problems(tmp_path))


def test_an_unquoted_comma_in_braces_is_explained(tmp_path):
    write(tmp_path, entries())
    path = tmp_path / "practices.yaml"
    named = "code: waters-daily, name: {en: Daily}, definition: {en: every day}"
    path.write_text(f"- {{{named}, source: common practice, no source}}")
    messages = [problem.message for problem in _problems(tmp_path)]
    assert any(f'"{SOURCE}" in quotes' in message for message in messages)


def test_a_file_over_a_megabyte_is_refused(tmp_path):
    write(tmp_path, entries())
    with (tmp_path / "findings.yaml").open("a") as stream:
        stream.write("#" * 1_000_001)
    problems = _problems(tmp_path)
    assert [problem.file for problem in problems] == ["findings.yaml"]
    assert "Larger than 1,000,000 bytes" in problems[0].message


def test_a_key_given_twice_is_refused(tmp_path):
    write(tmp_path, entries())
    path = tmp_path / "causes" / "drought.yaml"
    path.write_text(path.read_text() + "urgency: 3\n")
    assert "'urgency' is given twice" in _problems(tmp_path)[0].message


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ("a: &x [1]\nb: *x\n", "aliases"),
        ("[" * 30 + "]" * 30, "Nested deeper"),
        ("code: one", "list of entries"),
        ("- just words", "mapping"),
        ("- !!python/object/apply:os.system [echo]", "Not readable as YAML"),
        ("- {[1]: 2}", "plain word"),
        ("- 2020-13-45", "Not readable as YAML"),
    ],
)
def test_hostile_or_shapeless_files_are_refused(tmp_path, content, words):
    write(tmp_path, entries())
    (tmp_path / "practices.yaml").write_text(content)
    problems = [problem for problem in _problems(tmp_path) if problem.file == "practices.yaml"]
    assert any(words in problem.message for problem in problems)


def test_a_file_that_is_not_utf8_is_refused(tmp_path):
    write(tmp_path, entries())
    (tmp_path / "practices.yaml").write_bytes(yaml.safe_dump(entries()["practices"]).encode() + b"# \xff")
    assert "Not UTF-8" in _problems(tmp_path)[0].message


def test_brackets_without_end_are_refused_and_do_not_crash(tmp_path):
    write(tmp_path, entries())
    (tmp_path / "practices.yaml").write_text("[" * 400_000)
    assert [problem.file for problem in _problems(tmp_path)] == ["practices.yaml"]
