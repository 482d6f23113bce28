"""What a grower is handed: all of it, in a form that is documented, readable and checked."""

import hashlib
import io
import json
import stat
import zipfile
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from garden.models import Photo
from reports.keeping.belongings import belongings
from reports.keeping.exporting import EXPORT_FIELDS, export_grower
from tests.factories import make_grower
from tests.reports.keeping.making import EARLIER_EMAIL, EMAIL, NAME, PHONE, make_life

pytestmark = pytest.mark.django_db


@pytest.fixture
def life():
    return make_life()


def opened(grower) -> zipfile.ZipFile:
    out = io.BytesIO()
    export_grower(grower=grower, out=out)
    return zipfile.ZipFile(out)


@pytest.fixture
def archive(life):
    return opened(life.grower)


@pytest.fixture
def content(archive):
    return json.loads(archive.read("grower.json"))


def test_it_has_the_parts_that_are_documented(content):
    assert list(content) == list(EXPORT_FIELDS)
    assert content["grower_export"] == 1


def test_every_row_of_the_grower_is_in_it_and_every_earlier_state(life, content):
    for share in belongings(life.grower.pk):
        kind = share.model._meta.object_name
        assert len(content["records"].get(kind, [])) == share.rows.count(), kind
        history = share.history.count() if share.history is not None else 0
        assert len(content["history"].get(kind, [])) == history, kind
    for kind in ("Grower", "Garden", "Planting", "Reading", "Case", "Plan", "Question", "Message", "FollowUp",
                 "BenchAnswer", "Document", "Photo"):  # fmt: skip
        assert content["records"][kind], kind


def test_words_numbers_and_what_was_deleted_long_ago_are_in_it(life, content):
    text = json.dumps(content, ensure_ascii=False)
    for words in (NAME, EMAIL, EARLIER_EMAIL, PHONE, "Dear Zoë, thank you.", "Zoë says it is better."):
        assert words in text, words
    plan = next(row for row in content["records"]["Plan"] if row["id"] == life.issued.pk)
    assert plan["snapshot"] == life.issued.snapshot
    assert any(row["history_type"] == "-" for row in content["history"]["Feed"])


def test_cases_are_in_it_as_case_files(life, content):
    case = content["case_files"][str(life.case.pk)]
    assert (case["case_file"], case["story"]) == (1, life.case.story)


def test_photos_and_plans_are_the_very_same_files_and_their_hashes_are_told(life, archive, content):
    photo = archive.read(f"photos/photo-{life.photo.pk}.jpg")
    assert photo == Path(life.photo.image.path).read_bytes()
    plan = f"documents/plan-{life.case.pk}-v{life.issued.version}.pdf"
    assert archive.read(plan) == Path(life.document.file.path).read_bytes()
    told = {file["path"]: file for file in content["files"]}
    assert told[plan]["noted_sha256"] == life.document.sha256
    for path, file in told.items():
        assert hashlib.sha256(archive.read(path)).hexdigest() == file["sha256"]
    sums = dict(reversed(line.split("  ")) for line in archive.read("SHA256SUMS.txt").decode().splitlines())
    assert sums == {n: hashlib.sha256(archive.read(n)).hexdigest() for n in archive.namelist() if n in sums}
    assert set(archive.namelist()) - set(sums) == {"README.txt", "SHA256SUMS.txt"}


def test_the_readme_says_in_plain_words_what_is_there(life, archive):
    text = archive.read("README.txt").decode()
    assert f"holds about {NAME}" in text
    for name in (*EXPORT_FIELDS, "photos/", "documents/"):
        assert name in text
    assert f"Photo: {Photo.objects.filter(planting__space__garden__grower=life.grower).count()}" in text


def test_nothing_of_another_grower_is_in_it(life):
    other = make_grower(name="Somebody Else", email="else@home.example")
    text = opened(other).read("grower.json").decode()
    assert "Farrow" not in text
    assert "Somebody Else" not in opened(life.grower).read("grower.json").decode()


def test_a_file_that_is_gone_is_named(life):
    Path(life.photo.image.path).unlink()
    archive = opened(life.grower)
    missing = f"photos/photo-{life.photo.pk}.jpg"
    assert json.loads(archive.read("grower.json"))["missing"] == [missing]
    assert missing in archive.read("README.txt").decode()


def test_the_command_writes_a_private_file_for_a_number_or_an_address(life, tmp_path, capsys):
    out = tmp_path / "zoe.zip"
    call_command("export-grower", EMAIL.upper(), out=out)
    assert stat.S_IMODE(out.stat().st_mode) == 0o600
    assert zipfile.ZipFile(out).testzip() is None
    with pytest.raises(CommandError, match="File exists"):
        call_command("export-grower", str(life.grower.pk), out=out)
    call_command("export-grower", str(life.grower.pk), out=tmp_path / "again.zip")
    assert "records" in capsys.readouterr().out


def test_the_command_asks_who_is_meant(life, tmp_path):
    make_grower(name="Her sister", email=EMAIL)
    for asked, words in ((EMAIL, "Several growers"), ("99999999", "no grower"), ("nobody", "no grower")):
        with pytest.raises(CommandError, match=words):
            call_command("export-grower", asked, out=tmp_path / "x.zip")
    assert not (tmp_path / "x.zip").exists()
