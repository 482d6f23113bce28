"""The page for managers: says beforehand what goes and what stays, and asks for the name."""

import io
import zipfile

import pytest
from django.core.management import CommandError, call_command
from django.urls import reverse
from django.utils import timezone

from consults.models import Erasure
from reports.keeping.erasing import forecast
from reports.models import Message
from tests.factories import client_of, signed_in
from tests.reports.keeping.making import NAME, found_in_tables, make_life

pytestmark = pytest.mark.django_db


@pytest.fixture
def life():
    return make_life()


@pytest.fixture
def address(life):
    return reverse("grower-held", args=[life.grower.pk])


def test_a_manager_gets_there_from_the_growers_page_and_nobody_else_is_shown_the_way(life, address):
    grower = reverse("grower", args=[life.grower.pk])
    assert address in signed_in(life.manager).get(grower).content.decode()
    assert address not in client_of("consultant").get(grower).content.decode()


@pytest.mark.parametrize("role", ["counter", "consultant"])
def test_only_a_manager_may_look_download_or_erase(life, address, role):
    client = client_of(role)
    assert client.get(address).status_code == 403
    assert client.post(address, {"typed_name": NAME}).status_code == 403
    assert client.get(reverse("grower-export", args=[life.grower.pk])).status_code == 403
    assert not Erasure.objects.exists()


def shown(name: str, count: int) -> str:
    return f'<span class="row-name">{name} <span class="quiet small-type">{count}</span></span>'


def test_it_says_beforehand_how_much_goes_and_how_much_stays(life, address):
    text = " ".join(signed_in(life.manager).get(address).content.decode().split())
    counted = forecast(life.grower)
    for line in counted.goes + counted.stays:
        assert shown(line.name[0].upper() + line.name[1:], line.rows) in text
    assert shown("Files", counted.files) in text
    assert "cannot be undone" in text


@pytest.mark.parametrize("typed", ["", "Zoë", "yes", NAME + "x"])
def test_without_the_name_nothing_is_erased(life, address, typed):
    answer = signed_in(life.manager).post(address, {"typed_name": typed})
    assert answer.status_code == 422
    life.grower.refresh_from_db()
    assert life.grower.name == NAME


@pytest.mark.django_db(transaction=True)
def test_with_the_name_it_is_erased_and_the_page_then_says_when_and_by_whom(life, address):
    client = signed_in(life.manager)
    text = client.post(address, {"typed_name": f"  {NAME.lower()} "}, follow=True).content.decode()
    assert "was erased on" in text
    assert "Done by Ada Marsh" in text
    assert "typed_name" not in text
    assert found_in_tables() == []


def test_while_a_mail_is_being_sent_the_page_says_so_and_nothing_is_erased(life, address):
    held = {"claimed_by": "w", "claimed_until": timezone.now() + timezone.timedelta(minutes=1)}
    Message.objects.filter(plan=life.issued).update(**held)
    text = signed_in(life.manager).post(address, {"typed_name": NAME}, follow=True).content.decode()
    assert "right now" in text
    assert not Erasure.objects.exists()


def test_the_download_is_whole_private_and_kept_by_nobody(life):
    answer = signed_in(life.manager).get(reverse("grower-export", args=[life.grower.pk]))
    assert "no-store" in answer["Cache-Control"]
    assert answer["Content-Disposition"].startswith(f'attachment; filename="grower-{life.grower.pk}-')
    archive = zipfile.ZipFile(io.BytesIO(b"".join(answer.streaming_content)))
    assert archive.testzip() is None
    assert {"README.txt", "grower.json"} <= set(archive.namelist())


@pytest.mark.django_db(transaction=True)
def test_the_command_tells_first_and_erases_only_when_told_yes(life, capsys):
    with pytest.raises(CommandError, match="Nothing was erased"):
        call_command("erase-grower", str(life.grower.pk))
    assert "photos" in capsys.readouterr().out
    assert not Erasure.objects.exists()
    call_command("erase-grower", str(life.grower.pk), yes=True)
    assert "is erased" in capsys.readouterr().out
    assert found_in_tables() == []
    with pytest.raises(CommandError, match="no grower"):
        call_command("erase-grower", "99999999", yes=True)
