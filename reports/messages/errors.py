"""What this room refuses, said in sentences for people."""

from django.core.exceptions import ValidationError


class MessageRefusedError(ValidationError):
    """This message may not be made or tried again.

    A ValidationError, so that a lower floor that issues a plan can catch it without knowing this room.
    """
