"""News that travels upward. Sent inside the transaction; a receiver that raises undoes it all."""

from django.dispatch import Signal

plan_issued = Signal()  # plan: Plan, send_email: bool, by: Staff
