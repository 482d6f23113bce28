"""What this room refuses, said in sentences for people."""

from consults.errors import DeskError


class MessageRefusedError(DeskError):
    """This message may not be made or tried again."""
