"""The whole main job on one case file: rank, plan, print, send."""

import sys
import time
import zoneinfo
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from consults.cases.casefile import CaseFileError, read_case_file
from consults.cases.ranking import Ranking, rank_case
from consults.cases.rows import case_import
from consults.choices import PlanStatus
from consults.diagnosis import NONE_OF_THESE
from consults.errors import DeskError
from consults.management.commands.diagnose import describe
from consults.models import Case, Plan
from consults.plans.services import plan_draft, plan_issue
from consults.rules.selectors import ruleset_current
from consults.shop.selectors import shop_get
from garden.access import Role
from garden.models import Staff
from garden.profiles.selectors import reference_current
from garden.reference.loader import load_reference, using_reference
from reports.documents.services import document_get_or_render
from reports.messages.delivery import drain
from reports.messages.errors import MessageRefusedError
from reports.messages.services import plan_message_create
from reports.models import MessageState
from reports.pdf import PdfUnavailable

WORTH_ACTING_ON = 0.35  # probability from which a cause goes into the plan by itself; judgement
MOST_CAUSES = 3
WAIT_S = 60
_NOT_SENT = {
    MessageState.WAITING: "The email is not out yet and will be tried again: ",
    MessageState.DEAD: (
        "The email was given up and is not tried again by itself. Once the reason is gone,"
        " press “Try again” on the page Messages: "
    ),
    MessageState.REPLACED: "The email is not sent, because a newer version of the plan was issued. ",
}


class Command(BaseCommand):
    help = (
        "The whole job on one case file: ranks causes, makes and issues the plan, writes the PDF, mails it."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", metavar="FILE", help="case file (JSON)")
        parser.add_argument("--pdf", required=True, metavar="OUT", help="where to write the plan")
        parser.add_argument(
            "--email", action="store_true", help="send it to the grower's address, who has agreed to that"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        # The dates of a plan are the shop's, wherever it is made.
        zone = zoneinfo.ZoneInfo(shop_get().time_zone)
        with timezone.override(zone), using_reference(reference_current()):
            self._consult(options)

    def _consult(self, options: dict[str, Any]) -> None:
        try:
            ruleset, reference = ruleset_current(), load_reference()
            casefile = read_case_file(Path(options["file"]), reference, ruleset)
            ranking = rank_case(casefile, ruleset, reference)
            self.stdout.write("What it probably is")
            self.stdout.write(describe(casefile, ranking, ruleset, 3))
            case = case_import(casefile=casefile, by=desk_staff(), consent=options["email"])
            plan = self._plan(case, ranking, send_email=options["email"])
        except CaseFileError as error:
            for problem in error.problems:
                self.stderr.write(f"{options['file']}: {problem.field}: {problem.message}")
            sys.exit(2)
        except (DeskError, MessageRefusedError) as error:
            self.stderr.write(str(error))
            sys.exit(2)
        self._report_quantities(plan)
        self._write_pdf(plan, Path(options["pdf"]))
        if options["email"]:
            self._deliver(plan)

    def _plan(self, case: Case, ranking: Ranking, *, send_email: bool) -> Plan:
        issued = case.plans.filter(status=PlanStatus.ISSUED).first()
        staff = desk_staff()
        if issued is not None:
            # One plan has one message: asking again for what is queued or sent changes nothing.
            plan_message_create(Plan, plan=issued, send_email=send_email, by=staff)
            return issued
        plan = plan_draft(case=case, causes=worth_acting_on(ranking), by=staff)
        return plan_issue(plan=plan, by=staff, send_email=send_email)

    def _report_quantities(self, plan: Plan) -> None:
        self.stdout.write("What to do, and how much")
        assert plan.snapshot is not None  # noqa: S101 - issued above
        for row in plan.snapshot["workings"]:
            self.stdout.write(f"  {row['title']}: {row['shown']}")

    def _write_pdf(self, plan: Plan, out: Path) -> None:
        try:
            document = document_get_or_render(plan)
            out.parent.mkdir(parents=True, exist_ok=True)
            with document.file.open("rb") as stored:
                out.write_bytes(stored.read())
        except (PdfUnavailable, OSError) as error:
            self.stderr.write(f"The plan was issued, but its PDF could not be written: {error}")
            sys.exit(1)
        if document.undrawn:
            self.stderr.write(
                f"{document.undrawn} characters could not be drawn: a font for them is missing."
            )
        self.stdout.write(f"plan: {_short(out)}")

    def _deliver(self, plan: Plan) -> None:
        message = plan.messages.get()
        deadline = time.monotonic() + WAIT_S
        while message.state == MessageState.WAITING and time.monotonic() < deadline:
            drain(worker="consult")
            message.refresh_from_db()
            if message.last_error:
                break
            if message.state == MessageState.WAITING:
                time.sleep(0.2)  # a worker elsewhere has it in hand
        if message.state != MessageState.SENT:
            self.stderr.write(_NOT_SENT[MessageState(message.state)] + message.last_error)
            sys.exit(1)
        self.stdout.write(f"email: {_short(Path(message.sent_as)) if message.sent_as else message.to}")


def worth_acting_on(ranking: Ranking) -> list[str]:
    """The causes a plan is made for when nobody chooses: those more than possible, else the likeliest."""
    listed = [cause for cause in ranking.causes if cause.code != NONE_OF_THESE]
    likely = [cause.code for cause in listed if cause.probability >= WORTH_ACTING_ON][:MOST_CAUSES]
    return likely or [listed[0].code]


def desk_staff() -> Staff:
    """The account that plans made on the command line are issued by. Nobody can sign in with it."""
    staff, created = Staff.objects.get_or_create(
        username="command-line", defaults={"role": Role.CONSULTANT, "first_name": "The desk"}
    )
    if created:
        staff.set_unusable_password()
        staff.save()
    return staff


def _short(path: Path) -> str:
    """The path as seen from here, when it lies below."""
    full = path.resolve()
    return str(full.relative_to(Path.cwd())) if full.is_relative_to(Path.cwd()) else str(full)
