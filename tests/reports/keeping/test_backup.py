"""A backup brings back every row and every byte, on either database, or says why it will not."""

import contextlib
import copy
import gzip
import json
import os
import shutil
import stat
import subprocess
import sys
from pathlib import Path

import pytest
from django.apps import apps
from django.conf import settings
from django.core.management import CommandError, call_command
from django.db import IntegrityError, connection, connections, transaction
from django.db.backends.base.base import BaseDatabaseWrapper

from consults.models import Case, Plan
from garden.models import Grower, Photo
from reports.keeping import backing
from reports.keeping.backing import backup_make, named_files
from reports.keeping.folders import BackupError
from reports.keeping.restoring import backup_check, backup_restore
from reports.keeping.tables import kept_models, last_numbers
from tests.factories import make_grower, make_photo
from tests.reports.keeping.making import make_life
from tests.servers import postgres

pytestmark = pytest.mark.django_db(transaction=True)
OTHER = "the-other-kind"


@pytest.fixture(autouse=True)
def connections_of_ours(transactional_db, monkeypatch):
    """Tests may open no connection that the settings do not name; these two we open on purpose."""
    guarded = BaseDatabaseWrapper.ensure_connection

    def ensure_connection(self):
        if self.alias not in {backing.SNAPSHOT, OTHER}:
            guarded(self)
        elif self.connection is None:
            with self.wrap_database_errors:
                self.connect()

    monkeypatch.setattr(BaseDatabaseWrapper, "ensure_connection", ensure_connection)


@pytest.fixture
def own_folders(tmp_path, settings):
    """Stores of this test's own, so that byte by byte means all bytes."""
    settings.MEDIA_ROOT = tmp_path / "private"
    settings.OUTGOING_MAIL_DIR = tmp_path / "outgoing"
    return tmp_path


@contextlib.contextmanager
def other_database(folder: Path):
    """A database of the kind that this run is not on, with tables and nothing in them."""
    server = copy.deepcopy(connections.databases["default"]) | {"OPTIONS": {}}
    with contextlib.ExitStack() as stack:
        if connection.vendor == "sqlite":
            url = stack.enter_context(postgres())
            port = url.rpartition(":")[2].partition("/")[0]
            server |= {"ENGINE": "django.db.backends.postgresql", "NAME": "postgres", "USER": "postgres"}
            server |= {"HOST": "127.0.0.1", "PORT": port}
        else:
            url = f"sqlite:///{folder / 'other.sqlite3'}"
            server |= {"ENGINE": "django.db.backends.sqlite3", "NAME": str(folder / "other.sqlite3")}
        module = "consults.project.settings.test"
        environment = {**os.environ, "DATABASE_URL": url, "DJANGO_SETTINGS_MODULE": module}
        command = [sys.executable, str(settings.ROOT / "manage.py"), "migrate", "-v0"]
        subprocess.run(command, env=environment, check=True)
        connections.databases[OTHER] = server
        try:
            yield OTHER
        finally:
            connections[OTHER].close()
            del connections[OTHER]
            del connections.databases[OTHER]


def all_rows(using: str = "default") -> dict[str, list[dict[str, object]]]:
    return {
        model._meta.db_table: list(model._base_manager.using(using).order_by("pk").values())
        for model in kept_models()
    }


def all_files(folder: Path) -> dict[str, bytes]:
    return {
        f"{root}/{path.relative_to(folder / root)}": path.read_bytes()
        for root in ("private", "outgoing")
        for path in sorted((folder / root).rglob("*"))
        if path.is_file()
    }


def sequences_work(using: str) -> None:
    """A new row gets a number never given before."""
    highest = max(Grower.objects.using(using).values_list("pk", flat=True))
    (row,) = Grower.objects.using(using).bulk_create([Grower(name="New")])
    assert row.pk > highest
    Grower.objects.using(using).filter(pk=row.pk)._raw_delete(
        using
    )  # no history, which goes to the first one


def guards_hold(using: str) -> None:
    issued = Plan.objects.using(using).filter(status="issued")
    assert issued.exists()
    with pytest.raises(IntegrityError, match="never changes"), transaction.atomic(using=using):
        issued.update(greeting="changed")


# --- there and back -------------------------------------------------------------------------------
def test_a_backup_comes_back_row_for_row_and_byte_for_byte_from_either_database_into_the_other(own_folders):
    make_life()
    Grower.objects.create(name="Gone").delete()  # its number is not to be given again
    rows, files, numbers = all_rows(), all_files(own_folders), last_numbers("default")
    assert sum(map(len, rows.values())) > 500
    assert len(files) > 3
    made = backup_make(own_folders / "first")
    assert (made.rows, made.files, made.missing) == (sum(map(len, rows.values())), len(files), ())
    with other_database(own_folders) as other:
        for root in ("private", "outgoing"):
            shutil.rmtree(own_folders / root)
        backup_restore(own_folders / "first", using=other)
        assert all_rows(other) == rows
        assert all_files(own_folders) == files
        assert last_numbers(other) == numbers
        guards_hold(other)
        backup_make(own_folders / "second", using=other)
        # And back, in place of what has become of the first one.
        Case.objects.update(notes="written since")
        since = make_photo(caption="taken since")
        backup_restore(own_folders / "second", replace=True)
        sequences_work(other)
    assert all_rows() == rows
    assert all_files(own_folders) == files
    assert not Path(since.image.path).exists()
    assert last_numbers("default") == numbers
    guards_hold("default")
    sequences_work("default")


def test_a_backup_is_of_one_moment_while_the_site_goes_on(own_folders, monkeypatch):
    make_grower(name="Before")
    plain, written = backing.read_rows, []

    def slowly(model, using):
        if not written:  # somebody enters a grower after the snapshot was taken
            written.append(make_grower(name="Meanwhile"))
        return plain(model, using)

    monkeypatch.setattr(backing, "read_rows", slowly)
    backup_make(own_folders / "b")
    lines = gzip.decompress((own_folders / "b/tables/garden_grower.jsonl.gz").read_bytes()).decode()
    assert "Before" in lines
    assert "Meanwhile" not in lines
    assert Grower.objects.filter(name="Meanwhile").exists()


def test_a_photo_deleted_while_the_backup_runs_is_in_it_neither_as_row_nor_as_file(own_folders, monkeypatch):
    kept, gone = make_photo(), make_photo()
    plain, calls = backing._copy_files, []

    def slowly(*args, **kwargs):
        if not calls:
            Photo.objects.filter(pk=gone.pk).delete()
            Path(gone.image.path).unlink()
        calls.append(1)
        return plain(*args, **kwargs)

    monkeypatch.setattr(backing, "_copy_files", slowly)
    made = backup_make(own_folders / "b")
    assert len(calls) == 2
    assert made.missing == ()
    lines = gzip.decompress((own_folders / "b/tables/garden_photo.jsonl.gz").read_bytes()).decode()
    assert (kept.image.name in lines, gone.image.name in lines) == (True, False)


def test_a_file_lost_long_ago_is_named_and_does_not_stop_the_backup(own_folders):
    photo = make_photo()
    Path(photo.image.path).unlink()
    made = backup_make(own_folders / "b")
    assert made.missing == (photo.image.name,)
    assert backup_check(own_folders / "b")["missing"] == [photo.image.name]


# --- what is in it --------------------------------------------------------------------------------
def test_only_this_account_can_read_it(own_folders):
    make_photo()
    backup_make(own_folders / "b")
    for path in [own_folders / "b", *(own_folders / "b").rglob("*")]:
        wanted = 0o700 if path.is_dir() else 0o600
        assert stat.S_IMODE(path.stat().st_mode) == wanted, path


def test_it_says_what_is_inside_and_holds_no_secret_key_and_no_sign_ins(own_folders, client, admin_user):
    client.force_login(admin_user, backend="django.contrib.auth.backends.ModelBackend")
    backup_make(own_folders / "b")
    manifest = backup_check(own_folders / "b")
    assert "passwords" in manifest["holds"]
    assert "django_session" not in manifest["tables"]
    assert manifest["left_out"] == {"sessions.Session": "who is signed in right now"}
    key = client.session.session_key
    for path in (own_folders / "b").rglob("*"):
        if path.is_file():
            raw = path.read_bytes()
            text = gzip.decompress(raw) if path.suffix == ".gz" else raw
            assert settings.SECRET_KEY.encode() not in text
            assert key.encode() not in text
    assert not (own_folders / "b" / "snapshot.sqlite3").exists()


def test_every_table_is_in_it_but_those_that_are_named_as_left_out(own_folders):
    backup_make(own_folders / "b")
    manifest = backup_check(own_folders / "b")
    tables = {m._meta.db_table for m in apps.get_models(include_auto_created=True)}
    left_out = {apps.get_model(label)._meta.db_table for label in manifest["left_out"]}
    assert set(manifest["tables"]) == tables - left_out


# --- refusals -------------------------------------------------------------------------------------
@pytest.fixture
def made(own_folders):
    make_photo()
    backup_make(own_folders / "b")
    return own_folders / "b"


def refuses(folder: Path, words: str) -> None:
    """Refused with these words, and nothing has changed."""
    rows, files = all_rows(), all_files(folder.parent)
    with pytest.raises(BackupError, match=words):
        backup_restore(folder, replace=True)
    assert all_rows() == rows
    assert all_files(folder.parent) == files


def test_a_database_that_holds_something_is_not_written_over_unasked(made):
    rows = all_rows()
    with pytest.raises(BackupError, match=r"not empty \(.*\).*--replace"):
        backup_restore(made)
    assert all_rows() == rows


def test_a_folder_that_holds_something_is_not_written_into(made):
    with pytest.raises(BackupError, match="not empty"):
        backup_make(made)


@pytest.mark.parametrize("name", ["tables/garden_grower.jsonl.gz", "files.jsonl", "manifest.json", "photo"])
@pytest.mark.parametrize("harm", ["flipped", "cut", "gone", "longer"])
def test_a_damaged_backup_is_refused_before_anything_is_written(made, name, harm):
    path = next((made / "private").rglob("*.jpg")) if name == "photo" else made / name
    raw = path.read_bytes()
    if harm == "gone":
        path.unlink()
    elif harm == "flipped":
        path.write_bytes(raw[: len(raw) // 2] + bytes([raw[len(raw) // 2] ^ 1]) + raw[len(raw) // 2 + 1 :])
    else:
        path.write_bytes(raw[:-3] if harm == "cut" else raw + b" " * 3 + b"x")
    refuses(made, "damaged|incomplete|no backup")


def test_a_backup_that_was_broken_off_is_refused(own_folders, monkeypatch):
    make_photo()
    monkeypatch.setattr(backing, "_clear", lambda folder: None)  # as if the machine had stopped
    monkeypatch.setattr(backing, "write_manifest", lambda *args: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        backup_make(own_folders / "b")
    refuses(own_folders / "b", "broken off")


def test_a_backup_that_fails_leaves_nothing_behind(own_folders, monkeypatch):
    monkeypatch.setattr(backing, "write_manifest", lambda *args: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        backup_make(own_folders / "b")
    assert list((own_folders / "b").iterdir()) == []


def sealed(folder: Path, **changes: object) -> None:
    content = json.loads((folder / "manifest.json").read_text())
    (folder / "manifest.json").unlink()
    backing.write_manifest(folder, {**content, **changes})


def test_a_backup_of_another_version_is_refused_and_says_what_differs(made):
    manifest = backup_check(made)
    sealed(
        made,
        migrations={**manifest["migrations"], "garden": [*manifest["migrations"]["garden"], "9999_later"]},
    )
    refuses(made, r"another version.*garden 9999_later")
    sealed(made, migrations=manifest["migrations"], desk_backup=2)
    refuses(made, "form 2")


def test_a_path_that_leads_out_of_the_backup_is_refused(made):
    lines = (made / "files.jsonl").read_text().splitlines()
    entry = json.loads(lines[0])
    (made / "files.jsonl").write_text(json.dumps({**entry, "path": "private/../../out.jpg"}) + "\n")
    told = backing.hash_of(made / "files.jsonl")
    sealed(made, files={**told, "count": 1, "size": 0})
    refuses(made, "outside")


def test_when_the_database_refuses_a_row_nothing_has_changed(made, monkeypatch):
    monkeypatch.setattr("reports.keeping.restoring.set_last_numbers", lambda *args: _broken_key())
    refuses(made, "refused the backup")


def _broken_key() -> None:
    Photo._base_manager.update(planting_id=10**9)


def test_the_commands_say_what_they_did(own_folders, capsys):
    make_photo()
    folder = str(own_folders / "b")
    call_command("backup", folder)
    call_command("restore", folder, check=True)
    call_command("restore", folder, replace=True)
    said = capsys.readouterr().out
    assert "2 files" in said
    assert "is whole" in said
    assert "Everybody signs in again" in said
    with pytest.raises(CommandError, match="not empty"):
        call_command("restore", folder)
    with pytest.raises(CommandError, match="not empty"):
        call_command("backup", folder)
    photos = sorted((own_folders / "private").rglob("*.jpg"))
    assert sorted(named_files("default")) == [str(p.relative_to(own_folders / "private")) for p in photos]
