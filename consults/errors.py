"""What a service refuses, in one sentence for the person who asked."""


class DeskError(Exception):
    """Something cannot be done as asked; the text says why and what to do."""
