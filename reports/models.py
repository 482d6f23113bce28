"""Rows of the top floor: rendered documents and outgoing messages."""

import secrets

from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from consults.models import Plan


def private_document_path(document: "Document", filename: str) -> str:
    return f"documents/{secrets.token_hex(16)}.pdf"


class Document(models.Model):
    """The bytes of an issued plan, rendered once from its snapshot."""

    plan = models.OneToOneField(Plan, on_delete=models.PROTECT, related_name="document")
    file = models.FileField(upload_to=private_document_path)
    sha256 = models.CharField(max_length=64)
    pages = models.PositiveSmallIntegerField()
    undrawn = models.PositiveIntegerField(_("characters no font could draw"), default=0)
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        verbose_name = _("document")
        constraints = [models.CheckConstraint(condition=~Q(sha256=""), name="document_has_hash")]

    def __str__(self) -> str:
        return str(self.plan)


class MessageState(models.TextChoices):
    WAITING = "waiting", _("waiting")
    SENT = "sent", _("sent")
    DEAD = "dead", _("given up")
    REPLACED = "replaced", _("replaced")  # a newer version of the plan was issued before this went out


class Message(models.Model):
    """One outgoing email. The row is the truth; a broker only nudges.

    `key` says what the message is about, so that the same news can never become two rows.
    """

    key = models.CharField(max_length=120, unique=True)
    plan = models.ForeignKey(Plan, on_delete=models.PROTECT, null=True, blank=True, related_name="messages")
    to = models.EmailField(_("to"))
    subject = models.CharField(_("subject"), max_length=200)
    body = models.TextField(_("text"))
    message_id = models.CharField(max_length=200, unique=True)
    state = models.CharField(max_length=8, choices=MessageState.choices, default=MessageState.WAITING)
    due_at = models.DateTimeField(default=timezone.now)
    tries = models.PositiveSmallIntegerField(default=0)
    claimed_by = models.CharField(max_length=80, blank=True)
    claimed_until = models.DateTimeField(null=True, blank=True)
    last_error = models.CharField(max_length=500, blank=True)
    created_at = models.DateTimeField(auto_now_add=True)
    sent_at = models.DateTimeField(null=True, blank=True)
    sent_as = models.CharField(_("where the sent message lies"), max_length=300, blank=True)

    class Meta:
        verbose_name = _("message")
        ordering = ["-pk"]
        indexes = [models.Index(fields=["state", "due_at"])]
        constraints = [
            models.CheckConstraint(condition=Q(state__in=MessageState.values), name="message_state_known"),
            models.CheckConstraint(
                condition=Q(state="sent", sent_at__isnull=False) | ~Q(state="sent"),
                name="message_sent_has_time",
            ),
        ]

    def __str__(self) -> str:
        return self.subject
