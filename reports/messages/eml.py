"""Mail as files, for a shop without a mail server: each mail is one .eml that any mail program opens."""

import hashlib
import os
import tempfile
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.exceptions import ImproperlyConfigured
from django.core.mail import EmailMessage
from django.core.mail.backends.filebased import EmailBackend
from django.utils.translation import gettext_lazy as _

_TROUBLE = _("The mail could not be written into the folder for outgoing mail: %(why)s")


class OutgoingFolderError(Exception):
    """The folder cannot take the mail: full, or not ours to write."""


class EmlBackend(EmailBackend):
    """Writes `<timestamp>-<id>.eml` into OUTGOING_MAIL_DIR and leaves its path on the mail as `sent_as`.

    A file is there whole or not at all, and only this account can read it.
    """

    def __init__(self, fail_silently: bool = False, **kwargs: Any) -> None:
        folder = Path(settings.OUTGOING_MAIL_DIR)
        try:
            folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            super().__init__(fail_silently=fail_silently, file_path=str(folder))
        except (OSError, ImproperlyConfigured) as error:
            raise OutgoingFolderError(_TROUBLE % {"why": error}) from error

    def open(self) -> bool:
        return False  # each mail has its own file

    def send_messages(self, email_messages: Sequence[EmailMessage]) -> int:
        for mail in email_messages:
            try:
                mail.sent_as = str(self._write(mail))  # type: ignore[attr-defined]
            except OSError as error:
                raise OutgoingFolderError(_TROUBLE % {"why": error}) from error
        return len(email_messages)

    def _write(self, mail: EmailMessage) -> Path:
        message = mail.message()
        mark = hashlib.sha256(str(message["Message-ID"]).encode()).hexdigest()[:12]
        path = Path(self.file_path) / f"{datetime.now(UTC):%Y%m%dT%H%M%S.%fZ}-{mark}.eml"
        with tempfile.NamedTemporaryFile(
            dir=self.file_path, prefix=".", suffix=".part", delete=False
        ) as part:
            try:
                part.write(message.as_bytes(linesep="\r\n"))  # type: ignore[call-arg]  # Django's own takes it
                part.flush()
                os.fsync(part.fileno())
                Path(part.name).replace(path)
            except BaseException:
                Path(part.name).unlink(missing_ok=True)
                raise
        return path
