"""News that travels upward. Sent inside the transaction; a receiver that raises undoes it all."""

from django.dispatch import Signal

plan_issued = Signal()  # plan: Plan, send_email: bool, by: Staff
# look: FollowUp, check_in: CheckIn, kind: ReminderKind. A receiver that reminds the grower returns True.
look_due = Signal()
check_in_received = Signal()  # check_in: CheckIn, first: bool (False: a correction of what was sent before)
