"""A grower's link to their check-in: signed, for this one purpose, not for ever, and to be taken back."""

from datetime import timedelta

from django.core.signing import BadSignature, SignatureExpired, TimestampSigner
from django.urls import reverse
from django.utils.crypto import constant_time_compare

from consults.models import CheckIn, Erasure

# The purpose is in the salt: a signature made for something else is not accepted here.
_PURPOSE = "consults.looks.links.check-in"
LIFETIME = timedelta(days=45)  # a look is closed long before; judgement


class LinkError(Exception):
    """The link does not lead anywhere. `made_up`: it was changed or guessed, not just old or taken back."""

    def __init__(self, *, made_up: bool) -> None:
        self.made_up = made_up
        super().__init__()


def check_in_token(check_in: CheckIn) -> str:
    """What names this look in its link; nobody can make it up or turn it into another's."""
    return TimestampSigner(salt=_PURPOSE).sign(f"{check_in.pk}.{check_in.key}")


def check_in_path(check_in: CheckIn) -> str:
    """The link without the site's own address."""
    return reverse("check-in", args=[check_in_token(check_in)])


def check_in_of(token: str) -> CheckIn:
    """The look whose link this is, with plan, case, grower and planting. Raises LinkError."""
    try:
        said = TimestampSigner(salt=_PURPOSE).unsign(token, max_age=LIFETIME)
    except SignatureExpired as error:
        raise LinkError(made_up=False) from error
    except BadSignature as error:
        raise LinkError(made_up=True) from error
    pk, _dot, key = said.partition(".")
    rows = CheckIn.objects.select_related("plan__case__grower", "plan__case__planting")
    found = rows.filter(pk=int(pk)).first()
    if found is None or found.link_revoked_at or not constant_time_compare(found.key, key):
        raise LinkError(made_up=False)
    if Erasure.objects.filter(grower=found.plan.case.grower_id).exists():
        raise LinkError(made_up=False)
    return found
