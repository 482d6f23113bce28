"""Finding the one grower somebody means."""

from django.utils.translation import gettext as _

from garden.models import Grower


class GrowerNotFoundError(Exception):
    """No grower, or several; the message says which."""


def grower_by(text: str) -> Grower:
    """The grower with this number or email address. Raises GrowerNotFoundError."""
    text = text.strip()
    if text.isascii() and text.isdigit() and len(text) < 19:
        found = list(Grower.objects.filter(pk=int(text)))
    else:
        found = list(Grower.objects.filter(email__iexact=text).order_by("pk")) if "@" in text else []
    if not found:
        raise GrowerNotFoundError(
            _("There is no grower “%(text)s”. Give a number or an email address.") % {"text": text}
        )
    if len(found) > 1:
        numbers = ", ".join(str(grower.pk) for grower in found)
        raise GrowerNotFoundError(
            _("Several growers have this address. Give one of their numbers: %s") % numbers
        )
    return found[0]
