"""The task queue. Its broker only nudges: what must be done is a row in the database."""

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "consults.project.settings.production")

app = Celery("desk")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks(["consults.looks", "consults.rules", "reports.messages"])
