"""The Django shell: settings, root addresses, task queue, base templates. Nothing imports it."""

from consults.project.celery import app as celery_app

__all__ = ["celery_app"]
