"""The door for the web server."""

import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "consults.project.settings.production")

application = get_wsgi_application()

# The one place where the house is wired together: a site without a broker sends its own mail.
from reports.messages.background import start_background  # noqa: E402 - needs the apps loaded

start_background()
