"""The rules as a zip of text files: out and in again without loss, and nothing hostile gets in."""

import functools
import io
import json
import zipfile

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from consults.models import RulesetVersion
from consults.models.rules import RulesDraft
from consults.rules import bundle
from consults.rules.bundle import read_upload, ruleset_of, tables_of_json, write_zip
from consults.rules.tables import load
from consults.ruleset.errors import RulesetError
from consults.ruleset.files import MAX_FILE_BYTES
from consults.ruleset.loader import load_bundled, load_folder, reference_codes
from tests.consults.rules.making import break_link, drafted, make_draft
from tests.factories import client_of


def bundled():
    return load(load_bundled().to_json())


@functools.cache
def whole_zip():
    return write_zip(bundled())


def zipped(files, kind=zipfile.ZIP_DEFLATED):
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", kind) as archive:
        for name, content in files.items():
            archive.writestr(name, content)
    return buffer.getvalue()


def files_of(data):
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def read(data):
    return read_upload(io.BytesIO(data))


def refusal(data):
    with pytest.raises(RulesetError) as caught:
        read(data)
    return str(caught.value)


# --- there and back -------------------------------------------------------------------------------
def test_the_rules_come_back_from_a_zip_with_the_same_version():
    assert ruleset_of(read(whole_zip())).version == load_bundled().version


def test_the_zip_has_the_layout_of_the_bundled_files_and_is_read_by_the_same_loader(tmp_path):
    for name, content in files_of(whole_zip()).items():
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_bytes(content)
    assert load_folder(tmp_path, reference_codes()).version == load_bundled().version


def test_the_same_rules_give_the_same_file_to_the_byte():
    assert write_zip(bundled()) == write_zip(bundled())


def test_json_comes_back_with_the_same_version():
    assert ruleset_of(read(load_bundled().to_json().encode())).version == load_bundled().version


def test_a_folder_around_the_files_does_no_harm():
    files = {f"rules-2026/{name}": content for name, content in files_of(whole_zip()).items()}
    assert ruleset_of(read(zipped(files))).version == load_bundled().version


@given(st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=60).filter(str.strip))
def test_any_words_survive_the_way_through_yaml(words):
    tables = {name: entries[:1] for name, entries in bundled().items()}
    tables["causes"][0]["name"]["en"] = words
    tables["findings"][0]["synonyms"] = [words.strip()]
    expected = tables_of_json(json.dumps(tables))
    assert read(write_zip(expected)) == expected


# --- hostile --------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    "name",
    [
        "../evil.yaml",
        "causes/../../evil.yaml",
        "/etc/cron.d/evil.yaml",
        "causes/../findings.yaml",
        "causes\\evil.yaml",
        "evil.py",
        "causes/Evil.yaml",
        "causes/a/b.yaml",
        "causes/" + "a" * 200 + ".yaml",
        "findings.yml",
        ".hidden.yaml",
        "causes/.yaml",
    ],
)
def test_a_name_that_is_none_of_the_rules_is_refused_and_nothing_is_written(name, tmp_path, monkeypatch):
    monkeypatch.setattr(bundle.tempfile, "tempdir", str(tmp_path / "in"))
    (tmp_path / "in").mkdir()
    before = sorted(tmp_path.rglob("*"))
    said = refusal(zipped({**files_of(whole_zip()), name: b"x: 1"}))
    assert "No file of a rule set is called so" in said
    assert sorted(tmp_path.rglob("*")) == before


def test_a_file_that_unpacks_to_more_than_rules_are_is_refused():
    assert "Larger than" in refusal(zipped({"findings.yaml": b"#" * (MAX_FILE_BYTES + 1)}))


def test_many_small_bombs_together_are_refused():
    files = {f"causes/c{n}.yaml": b"#" * (MAX_FILE_BYTES - 1) for n in range(12)}
    assert "larger than" in refusal(zipped(files))


def test_a_zip_that_lies_about_its_sizes_is_refused():
    data = bytearray(zipped({"findings.yaml": b"#" * 3_000_000}))
    size = (3_000_000).to_bytes(4, "little")
    lie = (10).to_bytes(4, "little")
    assert data.count(size) == 2
    assert "cannot be read" in refusal(bytes(data.replace(size, lie))) or "larger than" in refusal(
        bytes(data.replace(size, lie))
    )


def test_too_many_files_are_refused():
    assert "at most" in refusal(zipped({f"causes/c{n}.yaml": b"" for n in range(1001)}))


def test_a_file_given_twice_is_refused():
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        archive.writestr("findings.yaml", "[]")
        with pytest.warns(UserWarning, match="Duplicate"):
            archive.writestr("findings.yaml", "[]")
    assert "twice" in refusal(buffer.getvalue())


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (b"- &a [1]\n- *a\n", "aliases"),
        (b"[" * 50 + b"]" * 50, "Nested deeper"),
        (b"!!python/object/apply:os.system ['true']", "Not readable as YAML"),
        (b"- code: x\n  code: y\n", "given twice"),
        (b"- 2020-01-01\n", "Only words"),
        (b"- !!set {a}\n", "Only words"),
        (b"- !!binary aGFsbG8=\n", "Only words"),
        (b"\xff\xfe", "Not UTF-8"),
        (b"just words", "list of entries"),
    ],
)
def test_yaml_that_is_more_than_data_is_refused(content, sentence):
    files = {**files_of(whole_zip()), "practices.yaml": content}
    assert sentence in refusal(zipped(files))


@pytest.mark.parametrize("data", [b"PK", b"PK\x03\x04nonsense", b"PK\x05\x06" + b"\0" * 18, b"", b"\xff"])
def test_what_is_no_zip_of_rules_is_refused(data):
    assert refusal(data)


def test_a_broken_zip_is_refused_at_any_length():
    whole = whole_zip()
    for length in range(0, len(whole), len(whole) // 40):
        assert refusal(whole[:length])


# --- through the page -----------------------------------------------------------------------------
def send(client, name, data, **more):
    upload = SimpleUploadedFile("rules.zip", data, "application/zip")
    return client.post(reverse(name), {"file": upload, **more})


@pytest.mark.django_db
def test_a_zip_is_published_from_the_page_of_the_rules():
    tables = bundled()
    tables["causes"][0]["name"]["en"] = "Another name"
    assert send(client_of("manager"), "rules-publish", write_zip(tables)).status_code == 302
    assert RulesetVersion.objects.get().version == ruleset_of(tables).version


@pytest.mark.django_db
def test_a_file_is_put_into_the_draft_even_when_something_does_not_fit_yet():
    client, draft, tables = client_of("manager"), make_draft(), bundled()
    break_link(tables)
    page = send(client, "rules-draft-import", write_zip(tables), revision=draft.revision)
    assert page.status_code == 302
    assert drafted("causes", "overwatering")["findings"][0]["finding"] == "no-such-sign"
    assert "1 thing to mend" in client.get(reverse("rules-draft")).content.decode()
    again = client.get(reverse("rules-draft-export"))
    assert read(again.content) == load(RulesDraft.objects.get().content)


@pytest.mark.django_db
def test_a_file_with_an_entry_that_is_none_leaves_the_draft_as_it_was():
    client, draft, tables = client_of("manager"), make_draft(), bundled()
    tables["findings"][0]["leak"] = 7
    page = send(client, "rules-draft-import", write_zip(tables), revision=draft.revision)
    assert page.status_code == 422
    assert "leak" in page.content.decode()
    assert RulesDraft.objects.get().content == draft.content


@pytest.mark.django_db
def test_a_file_does_not_overwrite_what_somebody_saved_meanwhile():
    client, draft = client_of("manager"), make_draft()
    send(client, "rules-draft-import", whole_zip(), revision=draft.revision + 5)
    assert RulesDraft.objects.get().revision == draft.revision


@pytest.mark.django_db
def test_a_hostile_zip_gets_a_sentence_and_no_failure():
    client = client_of("manager")
    make_draft()
    for data in (zipped({"../x": b""}), b"PK\x03\x04", zipped({"findings.yaml": b"- &a [*a]"})):
        page = send(client, "rules-draft-import", data, revision=1)
        assert page.status_code == 422
        assert "The draft is as it was" in page.content.decode()


@pytest.mark.django_db
def test_the_export_of_the_rules_in_force_is_a_zip():
    page = client_of("counter").get(reverse("rules-export-files"))
    assert page["Content-Type"] == "application/zip"
    assert ruleset_of(read(page.content)) == load_bundled()
