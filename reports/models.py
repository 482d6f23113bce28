"""Rows of the top floor: rendered documents and outgoing messages."""

import secrets

from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from consults.models import Plan


def private_document_path(document: "Document", filename: str) -> str:
    return f"documents/{secrets.token_hex(16)}.pdf"


class Work(models.Model):
    """Something that is done in the background. The row is the truth; a broker only nudges.

    A worker takes a row by writing its name and an end of its lease into it (`reports.claims`).
    """

    due_at = models.DateTimeField(default=timezone.now)
    tries = models.PositiveSmallIntegerField(default=0)
    claimed_by = models.CharField(max_length=80, blank=True)
    claimed_until = models.DateTimeField(null=True, blank=True)
    last_error = models.CharField(max_length=500, blank=True)

    class Meta:
        abstract = True

    @property
    def is_in_hand(self) -> bool:
        """Whether somebody works on it right now."""
        return self.claimed_until is not None and self.claimed_until > timezone.now()


class DocumentState(models.TextChoices):
    WAITING = "waiting", _("being made")
    READY = "ready", _("ready")
    FAILED = "failed", _("could not be made")


class Document(Work):
    """A document of an issued plan: its bytes, made once from the snapshot, the same ever after.

    `kind` is a code of `reports.documents.kinds`; a plan has at most one of each kind.
    """

    plan = models.ForeignKey(Plan, on_delete=models.PROTECT, related_name="documents")
    kind = models.CharField(max_length=40, default="plan")
    state = models.CharField(max_length=8, choices=DocumentState.choices, default=DocumentState.WAITING)
    file = models.FileField(upload_to=private_document_path, blank=True)
    sha256 = models.CharField(max_length=64, blank=True)
    pages = models.PositiveSmallIntegerField(default=0)
    undrawn = models.PositiveIntegerField(_("characters no font could draw"), default=0)
    created_at = models.DateTimeField(auto_now_add=True)
    ready_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        verbose_name = _("document")
        indexes = [models.Index(fields=["state", "due_at"])]
        constraints = [
            models.UniqueConstraint(fields=["plan", "kind"], name="document_once_of_each_kind"),
            models.CheckConstraint(condition=Q(state__in=DocumentState.values), name="document_state_known"),
            models.CheckConstraint(
                condition=~Q(state="ready") | Q(ready_at__isnull=False) & ~Q(sha256="") & ~Q(file=""),
                name="document_ready_is_whole",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.plan} ({self.kind})"


class MessageKind(models.TextChoices):
    PLAN = "plan", _("plan")  # somebody asked for it
    # Nobody asked for these just now: they end with the link under each mail.
    REMINDER = "reminder", _("reminder")
    CHECK_IN = "check-in", _("check-in")


class MessageState(models.TextChoices):
    WAITING = "waiting", _("waiting")
    SENT = "sent", _("sent")
    DEAD = "dead", _("given up")
    REPLACED = "replaced", _("replaced")  # a newer version of the plan was issued before this went out
    WITHHELD = "withheld", _("withheld")  # the grower, or the shop, does not want it any more
    BOUNCED = "bounced", _("came back")  # a mail server on the way reported that it cannot be delivered


class Message(Work):
    """One outgoing email.

    `key` says what the message is about, so that the same news can never become two rows.
    """

    key = models.CharField(max_length=120, unique=True)
    kind = models.CharField(max_length=10, choices=MessageKind.choices, default=MessageKind.PLAN)
    plan = models.ForeignKey(Plan, on_delete=models.PROTECT, null=True, blank=True, related_name="messages")
    to = models.EmailField(_("to"))
    subject = models.CharField(_("subject"), max_length=200)
    body = models.TextField(_("text"))
    message_id = models.CharField(max_length=200, unique=True)
    state = models.CharField(max_length=8, choices=MessageState.choices, default=MessageState.WAITING)
    created_at = models.DateTimeField(auto_now_add=True)
    sent_at = models.DateTimeField(null=True, blank=True)
    sent_as = models.CharField(_("where the sent message lies"), max_length=300, blank=True)
    reported_at = models.DateTimeField(null=True, blank=True)
    report_status = models.CharField(max_length=20, blank=True)
    report_note = models.CharField(_("what mail servers reported"), max_length=500, blank=True)

    class Meta:
        verbose_name = _("message")
        ordering = ["-pk"]
        indexes = [models.Index(fields=["state", "due_at"])]
        constraints = [
            models.CheckConstraint(condition=Q(state__in=MessageState.values), name="message_state_known"),
            models.CheckConstraint(condition=Q(kind__in=MessageKind.values), name="message_kind_known"),
            models.CheckConstraint(
                condition=Q(state="sent", sent_at__isnull=False) | ~Q(state="sent"),
                name="message_sent_has_time",
            ),
            models.CheckConstraint(
                condition=Q(state="bounced", reported_at__isnull=False) | ~Q(state="bounced"),
                name="message_bounced_has_time",
            ),
        ]

    def __str__(self) -> str:
        return self.subject

    @property
    def is_being_sent(self) -> bool:
        return self.state == MessageState.WAITING and self.is_in_hand
