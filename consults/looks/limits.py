"""How often one check-in may be sent by its link."""

from consults.models import CheckIn
from consults.shop.link_limits import count_up

SENT_AT_MOST = 20  # within the pause after wrong passwords; judgement, a person corrects two or three times


def may_send(check_in: CheckIn) -> bool:
    """Count one sending by this look's link; False when there were too many lately."""
    return count_up(f"desk:check-ins-sent:{check_in.pk}") <= SENT_AT_MOST
