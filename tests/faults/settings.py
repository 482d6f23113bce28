"""Settings of the processes that the faults are tried on: a shop's, only that all is tried again sooner."""

from consults.project.settings.base import CELERY_BEAT_SCHEDULE, CELERY_BROKER_TRANSPORT_OPTIONS
from consults.project.settings.local import *  # noqa: F403

BACKGROUND_THREAD = False
CELERY_BEAT_SCHEDULE = {
    "drain-outbox": {**CELERY_BEAT_SCHEDULE["drain-outbox"], "schedule": 0.5, "options": {"expires": 5}}
}
CELERY_BROKER_TRANSPORT_OPTIONS = {**CELERY_BROKER_TRANSPORT_OPTIONS, "visibility_timeout": 5}
