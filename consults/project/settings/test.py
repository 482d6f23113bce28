"""For the test suite: cheap passwords, plain static files, mail kept in memory, a far-off time zone."""

import atexit
import shutil
import tempfile
from pathlib import Path

from consults.project.settings.base import *  # noqa: F403
from consults.project.settings.base import REDIS_URL, STORAGES

SECRET_KEY = "only-for-tests-" + "x" * 50
DATA_DIR = Path(tempfile.mkdtemp(prefix="desk-test-"))
atexit.register(shutil.rmtree, DATA_DIR, ignore_errors=True)
MEDIA_ROOT = DATA_DIR / "private"
OUTGOING_MAIL_DIR = DATA_DIR / "outgoing"
STATIC_ROOT = DATA_DIR / "static"
STATIC_ROOT.mkdir()
STORAGES = {
    **STORAGES,
    # The test server finds files by plain names.
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
TIME_ZONE = "Pacific/Chatham"  # odd on purpose: a forgotten time zone shows
BACKGROUND_THREAD = False
DEMO_ACCOUNTS_ALLOWED = True
CELERY_BROKER_URL = REDIS_URL or None
