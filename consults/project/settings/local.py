"""One shop on one machine: SQLite, no broker, mail written as files. Never with DEBUG."""

import secrets

from consults.project.settings.base import *  # noqa: F403
from consults.project.settings.base import DATA_DIR, SECRET_KEY

DATA_DIR.mkdir(parents=True, exist_ok=True)
if not SECRET_KEY:
    # run.sh keeps a secret under var/; a lone command gets one for its own lifetime.
    _kept = DATA_DIR / "secret-key"
    SECRET_KEY = _kept.read_text().strip() if _kept.is_file() else secrets.token_urlsafe(50)

DEMO_ACCOUNTS_ALLOWED = True
