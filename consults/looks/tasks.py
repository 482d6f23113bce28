"""The broker's door to reminders."""

from celery import shared_task

from consults.looks.reminding import looks_remind

REMIND_TASK = "consults.looks.tasks.remind"


@shared_task(name=REMIND_TASK)  # type: ignore[untyped-decorator]
def remind() -> None:
    """Remind whoever is due. It may run twice or at once: each reminder is noted once."""
    looks_remind()
