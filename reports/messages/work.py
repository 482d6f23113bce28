"""One round of all background work of this floor: documents, reminders, then the mail that carries them."""

from consults.looks.reminding import looks_remind
from reports.documents import making
from reports.messages import delivery
from reports.messages.delivery import Drained


def work_once(*, worker: str, limit: int = 20) -> tuple[int, Drained]:
    """Make what is to be made and send what is due, at most `limit` of each: how many of each were met."""
    made = making.make_documents(worker=worker, limit=limit)
    looks_remind()
    return made, delivery.drain(worker=worker, limit=limit)
