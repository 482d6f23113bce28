"""What every way of running has in common. Values come from the environment only."""

from pathlib import Path
from typing import Any

import environ
from bootstrap_wrapper import get_bootstrap_dir
from csp.constants import NONE, SELF

env = environ.Env()

ROOT = Path(__file__).resolve().parents[3]
DATA_DIR = Path(env.str("DATA_DIR", default=str(ROOT / "var")))
_ROOMS = [room for floor in ("garden", "consults", "reports") for room in sorted((ROOT / floor).iterdir())]

SECRET_KEY = env.str("SECRET_KEY", default="")
DEBUG = False
ALLOWED_HOSTS: list[str] = env.list("ALLOWED_HOSTS", default=["127.0.0.1", "localhost"])
REDIS_URL = env.str("REDIS_URL", default="")
DEMO_ACCOUNTS_ALLOWED = False

INSTALLED_APPS = [
    "garden.apps.GardenConfig",
    "consults.apps.ConsultsConfig",
    "reports.apps.ReportsConfig",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "crispy_forms",
    "crispy_bootstrap5",
    "django_htmx",
    "simple_history",
    "axes",
    "csp",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "csp.middleware.CSPMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.locale.LocaleMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "consults.shop.middleware.SignInFirstMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "simple_history.middleware.HistoryRequestMiddleware",
    "consults.shop.middleware.ShopMiddleware",
    "consults.shop.middleware.WrongMethodMiddleware",
    "axes.middleware.AxesMiddleware",
]

ROOT_URLCONF = "consults.project.urls"
WSGI_APPLICATION = "consults.project.wsgi.application"
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        # A room's templates stand in the room: one glob finds them all.
        "DIRS": [room / "templates" for room in _ROOMS if (room / "templates").is_dir()],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "consults.shop.context.shop",
            ],
        },
    }
]
CRISPY_ALLOWED_TEMPLATE_PACKS = "bootstrap5"
CRISPY_TEMPLATE_PACK = "bootstrap5"

# --- database -------------------------------------------------------------------------------------
DATABASES: dict[str, Any] = {
    "default": env.db_url("DATABASE_URL", default=f"sqlite:///{DATA_DIR / 'desk.sqlite3'}")
}
DATABASES["default"]["CONN_MAX_AGE"] = 60
DATABASES["default"]["CONN_HEALTH_CHECKS"] = True
if DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3":
    DATABASES["default"]["OPTIONS"] = {
        # A deferred transaction that turns into a write fails at once when another writer is busy.
        "transaction_mode": "IMMEDIATE",
        "timeout": 20,
        "init_command": (
            "PRAGMA journal_mode=WAL; PRAGMA synchronous=NORMAL; PRAGMA foreign_keys=ON;"
            " PRAGMA journal_size_limit=67108864;"
        ),
    }

# --- people and access ----------------------------------------------------------------------------
AUTH_USER_MODEL = "garden.Staff"
LOGIN_URL = "login"
LOGIN_REDIRECT_URL = "today"
LOGOUT_REDIRECT_URL = "login"
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "django.contrib.auth.backends.ModelBackend",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 12}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
AXES_FAILURE_LIMIT = 5
# Over all names, for each address. A whole shop sits behind one address.
SIGN_IN_FAILURES_PER_ADDRESS = 30
AXES_COOLOFF_TIME = 0.25  # hours
AXES_RESET_COOL_OFF_ON_FAILURE_DURING_LOCKOUT = False  # a quarter of an hour is a quarter of an hour
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_RESET_ON_SUCCESS = True
AXES_LOCKOUT_CALLABLE = "consults.shop.attempts.locked_out"
AXES_CLIENT_IP_CALLABLE = "consults.shop.middleware.client_address"
AXES_VERBOSE = False
# Several web processes must count together, and people must get in while Redis is away: in the database.
AXES_HANDLER = "consults.shop.attempts.AttemptsHandler"

SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_AGE = 12 * 3600
CSRF_FAILURE_VIEW = "consults.shop.views.csrf_failure"
X_FRAME_OPTIONS = "DENY"
SECURE_REFERRER_POLICY = "same-origin"

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "font-src": [SELF],
        "connect-src": [SELF],
        "img-src": [SELF, "data:"],
        "form-action": [SELF],
        "base-uri": [NONE],
        "frame-ancestors": [NONE],
        "manifest-src": [SELF],
    }
}

# --- language and time ----------------------------------------------------------------------------
LANGUAGE_CODE = "en"
LANGUAGES = [("en", "English")]
USE_I18N = True
USE_TZ = True
TIME_ZONE = "UTC"

# --- files ----------------------------------------------------------------------------------------
STATIC_URL = "/static/"
STATIC_ROOT = DATA_DIR / "static"
STATICFILES_DIRS = [
    ("bootstrap", get_bootstrap_dir()),
    *[room / "static" for room in _ROOMS if (room / "static").is_dir()],
]
MEDIA_ROOT = DATA_DIR / "private"  # never served by address: views check rights first
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"},
}
FILE_UPLOAD_PERMISSIONS = 0o600
DATA_UPLOAD_MAX_MEMORY_SIZE = 5 * 1024 * 1024
DATA_UPLOAD_MAX_NUMBER_FIELDS = 2000
FILE_UPLOAD_MAX_MEMORY_SIZE = 5 * 1024 * 1024

# --- mail -----------------------------------------------------------------------------------------
OUTGOING_MAIL_DIR = DATA_DIR / "outgoing"
if env.str("EMAIL_URL", default=""):
    vars().update(env.email_url("EMAIL_URL"))
else:
    EMAIL_BACKEND = "reports.messages.eml.EmlBackend"
EMAIL_TIMEOUT = 20
# Where growers reach the site, such as https://desk.shop.example: for the links in mails. Without it, none.
SITE_URL = env.str("SITE_URL", default="")
DEFAULT_FROM_EMAIL = env.str("DEFAULT_FROM_EMAIL", default="plans@shop.example")
EMAIL_USE_LOCALTIME = False

# --- work in the background -----------------------------------------------------------------------
CELERY_BROKER_URL = REDIS_URL or None
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_REJECT_ON_WORKER_LOST = True
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_TIME_LIMIT = 300
CELERY_TASK_SOFT_TIME_LIMIT = 240
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_WORKER_SOFT_SHUTDOWN_TIMEOUT = 10
CELERY_TASK_SERIALIZER = "json"
CELERY_ACCEPT_CONTENT = ["json"]
CELERY_TIMEZONE = "UTC"
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_BROKER_TRANSPORT_OPTIONS = {
    "visibility_timeout": 600,
    # Without these two an unfinished task of a killed worker comes back only after about 100 s.
    "unacked_restore_interval": 5,
    "unacked_restore_throttle": 1,
    "socket_timeout": 5,
    "socket_connect_timeout": 2,
}
CELERY_TASK_PUBLISH_RETRY = False  # a nudge may get lost; the schedule finds the row
CELERY_BEAT_SCHEDULE = {
    "drain-outbox": {
        "task": "reports.messages.tasks.drain_outbox",
        "schedule": 30.0,
        "options": {"expires": 30},  # ticks must not pile up while no worker runs
    },
    "resume-replays": {
        "task": "consults.rules.tasks.resume_replays",
        "schedule": 60.0,
        "options": {"expires": 60},
    },
    "remind": {
        "task": "consults.looks.tasks.remind",
        "schedule": 600.0,
        "options": {"expires": 600},
    },
}
# Without a broker one thread of the web process does the same work.
BACKGROUND_THREAD = not REDIS_URL

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"plain": {"format": "%(asctime)s %(levelname)s %(name)s: %(message)s"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "plain"}},
    "root": {"handlers": ["console"], "level": "WARNING"},
    "loggers": {
        "fontTools": {"level": "ERROR"},
        "weasyprint": {"level": "ERROR"},
        "desk": {"level": "INFO"},
    },
}
SILENCED_SYSTEM_CHECKS: list[str] = []
