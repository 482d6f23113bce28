"""The whole main job on one case file, from the command line: ranked, planned, printed, sent once."""

import email
import email.policy
import json
from io import StringIO
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.core.management import CommandError, call_command
from django.utils import timezone

from consults.cases.describe import spoken_date
from consults.models import Case, Plan, Shop
from garden.models import CropProfile, Grower, Staff
from reports.management.commands import consult
from reports.messages.delivery import Drained
from reports.models import Document, Message
from tests.consults.cases.samples import content
from tests.consults.plans.making import POTS
from tests.servers import free_port

pytestmark = pytest.mark.django_db


@pytest.fixture
def outgoing(settings: Any, tmp_path: Path) -> Path:
    """Mail goes into files of this folder."""
    settings.EMAIL_BACKEND = "reports.messages.eml.EmlBackend"
    settings.OUTGOING_MAIL_DIR = tmp_path / "outgoing"
    settings.MEDIA_ROOT = tmp_path / "private"
    return tmp_path / "outgoing"


@pytest.fixture
def case_file(tmp_path: Path) -> Path:
    path = tmp_path / "case.json"
    path.write_text(json.dumps(content(**POTS)), encoding="utf-8")
    return path


def run(*arguments: Any) -> tuple[int, str, str]:
    """Exit status, what it printed, and its complaints."""
    out, err = StringIO(), StringIO()
    try:
        call_command("consult", *map(str, arguments), stdout=out, stderr=err)
    except SystemExit as end:
        return int(end.code or 0), out.getvalue(), err.getvalue()
    return 0, out.getvalue(), err.getvalue()


def test_a_case_of_a_shops_own_crop_profile_is_judged_by_it(outgoing: Path, tmp_path: Path) -> None:
    bands = {"air_temp_c": {"wide_low": 12.0, "low": 15.0, "high": 20.0, "wide_high": 24.0}}
    CropProfile.objects.create(code="cool-basil", name="Cool basil", based_on="basil", bands=bands)
    path = tmp_path / "own.json"
    planting = {**POTS["planting"], "crop": "cool-basil"}
    path.write_text(json.dumps(content(**{**POTS, "planting": planting, "readings": {"air_temp_c": 27.0}})))
    status, _said, complaints = run(path, "--pdf", tmp_path / "plan.pdf")
    assert (status, complaints) == (0, "")
    assert "15.0 to 20.0" in json.dumps(Plan.objects.get().snapshot)


def test_one_command_ranks_plans_prints_and_sends(outgoing: Path, case_file: Path, tmp_path: Path) -> None:
    pdf = tmp_path / "deep" / "plan.pdf"
    status, said, complaints = run(case_file, "--pdf", pdf, "--email")
    assert (status, complaints) == (0, "")
    lines = said.splitlines()
    assert lines[0] == "What it probably is"
    assert lines[1].startswith("  1. Overwatering: ") and "; for: " in lines[1]
    assert "What to do, and how much" in lines
    assert any(line.startswith("  How often to water: about every") for line in lines)
    assert lines[-2] == f"plan: {pdf}"
    sent = list(outgoing.glob("*.eml"))
    assert lines[-1] == f"email: {sent[0]}" and len(sent) == 1
    assert pdf.read_bytes().startswith(b"%PDF-")
    mail = email.message_from_bytes(sent[0].read_bytes(), policy=email.policy.default)
    assert mail["To"] == "nela@home.example"
    attached = list(mail.iter_attachments())  # type: ignore[attr-defined]
    assert [part.get_content_type() for part in attached] == ["application/pdf", "text/calendar"]
    assert attached[0].get_content() == pdf.read_bytes()
    plan = Plan.objects.get()
    assert not plan.is_draft
    assert plan.causes[0] == "overwatering"
    assert not plan.issued_by.has_usable_password()  # type: ignore[union-attr]


def test_running_it_again_gives_the_same_plan_and_sends_nothing(
    outgoing: Path, case_file: Path, tmp_path: Path
) -> None:
    first, again = tmp_path / "a.pdf", tmp_path / "b.pdf"
    run(case_file, "--pdf", first, "--email")
    status, said, complaints = run(case_file, "--pdf", again, "--email")
    assert (status, complaints) == (0, "")
    assert again.read_bytes() == first.read_bytes()
    assert len(list(outgoing.glob("*.eml"))) == 1
    assert "email: " in said, "it says where the mail went the first time"
    assert [m.objects.count() for m in (Case, Grower, Plan, Document, Message, Staff)] == [1] * 6


def test_without_email_nothing_is_sent_and_asking_for_it_later_sends_the_same_plan(
    outgoing: Path, case_file: Path, tmp_path: Path
) -> None:
    assert run(case_file, "--pdf", tmp_path / "a.pdf")[0] == 0
    assert not Message.objects.exists() and not outgoing.exists()
    assert not Grower.objects.get().may_be_emailed
    status, said, complaints = run(case_file, "--pdf", tmp_path / "a.pdf", "--email")
    assert (status, complaints) == (0, "")
    assert "email: " in said
    assert Plan.objects.count() == 1 and len(list(outgoing.glob("*.eml"))) == 1


def test_without_an_address_the_email_is_refused_and_nothing_is_issued(
    outgoing: Path, tmp_path: Path
) -> None:
    path, pdf = tmp_path / "case.json", tmp_path / "plan.pdf"
    path.write_text(json.dumps(content(**{**POTS, "grower": {"name": "Nela"}})), encoding="utf-8")
    status, _said, complaints = run(path, "--pdf", pdf, "--email")
    assert status == 2
    assert "Nela has no email address" in complaints
    assert not pdf.exists() and not Plan.objects.filter(status="issued").exists()


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (None, "file: It cannot be read"),
        ("{}", "case_file: This field is needed."),
        (json.dumps(content(present=["medium-stay-wet"])), "present.0: There is no finding"),
        (json.dumps(content(planting={"crop": "okra"})), "planting.profile: "),
    ],
)
def test_a_case_file_that_cannot_be_used_ends_with_2_and_says_why(
    text: str | None, says: str, outgoing: Path, tmp_path: Path
) -> None:
    path = tmp_path / "case.json"
    if text is not None:
        path.write_text(text)
    status, said, complaints = run(path, "--pdf", tmp_path / "plan.pdf", "--email")
    assert (status, said) == (2, "")
    assert f"{path}: {says}" in complaints
    assert not Case.objects.exists() and not (tmp_path / "plan.pdf").exists()


def test_it_asks_where_to_write_the_plan(case_file: Path) -> None:
    with pytest.raises(CommandError, match="--pdf"):
        call_command("consult", str(case_file))


def test_a_place_that_cannot_be_written_to_is_said_and_the_plan_is_kept(
    outgoing: Path, case_file: Path, tmp_path: Path
) -> None:
    (tmp_path / "file").write_text("in the way")
    status, said, complaints = run(case_file, "--pdf", tmp_path / "file" / "plan.pdf")
    assert status == 1
    assert "The plan was issued, but its PDF could not be written" in complaints
    assert "plan: " not in said
    assert run(case_file, "--pdf", tmp_path / "plan.pdf")[0] == 0
    assert Plan.objects.count() == 1


def test_when_the_mail_server_is_away_the_mail_waits_and_the_command_says_so(
    settings: Any, case_file: Path, tmp_path: Path
) -> None:
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", free_port()
    settings.MEDIA_ROOT = tmp_path / "private"
    status, said, complaints = run(case_file, "--pdf", tmp_path / "plan.pdf", "--email")
    assert status == 1
    assert "plan: " in said and "email: " not in said
    assert "will be tried again" in complaints
    assert Message.objects.get().state == "waiting"


def test_a_mail_that_was_given_up_is_not_promised_again(
    outgoing: Path, case_file: Path, tmp_path: Path
) -> None:
    run(case_file, "--pdf", tmp_path / "plan.pdf", "--email")
    reason = "550 no such mailbox"
    Message.objects.update(state="dead", sent_at=None, last_error=reason)
    status, said, complaints = run(case_file, "--pdf", tmp_path / "plan.pdf", "--email")
    assert status == 1
    assert "email: " not in said
    assert "given up" in complaints and reason in complaints
    assert "will be tried again" not in complaints


def test_a_mail_whose_plan_was_replaced_is_not_promised_either(
    outgoing: Path, case_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def replaced_meanwhile(**_how: Any) -> Drained:
        Message.objects.update(state="replaced")
        return Drained()

    monkeypatch.setattr(consult, "drain", replaced_meanwhile)
    status, _said, complaints = run(case_file, "--pdf", tmp_path / "plan.pdf", "--email")
    assert status == 1
    assert "newer version" in complaints and "tried again" not in complaints


@pytest.mark.parametrize("zone", ["Pacific/Kiritimati", "Pacific/Pago_Pago"])
def test_the_dates_of_a_plan_are_the_days_of_the_shop(
    zone: str, outgoing: Path, case_file: Path, tmp_path: Path
) -> None:
    # 14 h ahead of UTC and 11 h behind (IANA time zone database): never the same day.
    Shop.objects.create(pk=1, time_zone=zone)
    before = timezone.localdate(timezone=ZoneInfo(zone))
    run(case_file, "--pdf", tmp_path / "plan.pdf")
    plan = Plan.objects.get()
    assert plan.snapshot is not None
    days = {before, timezone.localdate(timezone=ZoneInfo(zone))}  # midnight may have passed
    assert plan.snapshot["plan"]["date"] in {spoken_date(day) for day in days}


def test_when_nothing_is_likely_the_plan_is_made_for_the_likeliest_listed_cause(
    outgoing: Path, tmp_path: Path
) -> None:
    path = tmp_path / "case.json"
    path.write_text(json.dumps(content()))
    status, said, _complaints = run(path, "--pdf", tmp_path / "plan.pdf")
    assert status == 0
    assert "Not enough to tell" in said
    assert len(Plan.objects.get().causes) == 1 and Plan.objects.get().causes != ["none-of-these"]


def test_the_walk_in_that_comes_with_the_program_can_be_run_twice(
    outgoing: Path, settings: Any, tmp_path: Path
) -> None:
    settings.DATA_DIR = tmp_path
    for _ in range(2):
        call_command("walkin", stdout=StringIO())
    assert (tmp_path / "walk-in-plan.pdf").read_bytes().startswith(b"%PDF-")
    assert len(list(outgoing.glob("*.eml"))) == 1
    assert Plan.objects.get().causes[0] == "overwatering"
