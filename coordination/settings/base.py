"""What every installation shares."""

import os
from pathlib import Path

BASE_DIR = Path(__file__).resolve().parent.parent.parent
# The database file, photographs and written mail of an embedded run; production has its own places.
DATA_DIR = Path(os.environ.get("BEFORE_THE_BOARD_DATA") or BASE_DIR / "data").absolute()

DEBUG = False
ROOT_URLCONF = "coordination.urls"
WSGI_APPLICATION = "coordination.wsgi.application"
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

INSTALLED_APPS = [
    "coordination.apps.CoordinationConfig",
    "coordination.people",
    "coordination.outbox",
    "coordination.sequence",
    "coordination.reminders",
    "coordination.calendar_feeds",
    "coordination.planner",
    "coordination.visits",
    "hold_points",
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.contrib.humanize",
    "django_htmx",
    # The simple configuration leaves the loaders to us; see TEMPLATES.
    "template_partials.apps.SimpleAppConfig",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "coordination.security_headers.ContentSecurityPolicyMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "coordination.people.wrong_method.WrongMethodMiddleware",
]

# The tag library of the partials is built in and the loader wrapped, so a template names neither: the
# same file then works with Django 6, which has partials of its own and refuses to load this library.
_FILE_LOADERS = [
    "django.template.loaders.filesystem.Loader",
    "django.template.loaders.app_directories.Loader",
]
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "OPTIONS": {
            "builtins": ["template_partials.templatetags.partials"],
            "loaders": [
                (
                    "template_partials.loader.Loader",
                    [("django.template.loaders.cached.Loader", _FILE_LOADERS)],
                )
            ],
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
            ],
        },
    }
]

# People
AUTH_USER_MODEL = "people.Person"
LOGIN_URL = "people:sign_in"
LOGIN_REDIRECT_URL = "/"
LOGOUT_REDIRECT_URL = "/"
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 12}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.NumericPasswordValidator"},
]
# One working day: long enough for a tablet that leaves in the morning, short enough for one that is lost.
SESSION_COOKIE_AGE = 12 * 60 * 60
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_AGE = SESSION_COOKIE_AGE
CSRF_COOKIE_SAMESITE = "Lax"
PASSWORD_RESET_TIMEOUT = 60 * 60

# In the cookie alone: the default falls back on the session, and a crew's link must never make one.
MESSAGE_STORAGE = "django.contrib.messages.storage.cookie.CookieStorage"

# Headers. Not no-referrer: browsers then send "Origin: null" with a form, and every form is refused.
# same-origin keeps the secret of a link from other sites just as well.
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CONTENT_TYPE_NOSNIFF = True
X_FRAME_OPTIONS = "DENY"

# Words and times. Rules ask coordination.clock for a house's zone; this one is for what belongs to no house.
LANGUAGE_CODE = "en-au"
LOCALE_PATHS = [BASE_DIR / "locale"]
USE_I18N = True
USE_TZ = True
TIME_ZONE = "Australia/Hobart"

# Files. Photographs are served by a view that asks who may see them, never from an address of their own.
STATIC_URL = "static/"
STATIC_ROOT = BASE_DIR / "staticfiles"
MEDIA_ROOT = DATA_DIR / "photographs"
FILE_UPLOAD_PERMISSIONS = 0o600
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}

# Where links in messages lead, and the right-hand side of every Message-ID.
COORDINATION_SITE_URL = os.environ.get("SITE_URL", "http://127.0.0.1:8000").rstrip("/")
COORDINATION_MAIL_DOMAIN = os.environ.get("MAIL_DOMAIN", "before-the-board.localhost")
# Where an embedded run keeps what it would send.
COORDINATION_MAIL_FOLDER = DATA_DIR / "mail"
DEFAULT_FROM_EMAIL = "Before the Board <before-the-board@localhost>"

# Celery. Results are rows of ours. A restarted worker may get a task again (Redis hands out what was not
# acknowledged within an hour), so every task claims its row first and no task waits longer than a minute.
CELERY_TASK_IGNORE_RESULT = True
CELERY_TIMEZONE = "UTC"
CELERY_TASK_SERIALIZER = "json"
CELERY_ACCEPT_CONTENT = ["json"]
CELERY_WORKER_HIJACK_ROOT_LOGGER = False
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_BROKER_TRANSPORT_OPTIONS = {"visibility_timeout": 3600}
# Seconds between two ticks; a reminder is late by no more than this.
COORDINATION_TICK_SECONDS = 15
# The doorbells that each tick rings: names of tasks that look for due rows themselves.
COORDINATION_TICK_TASKS: list[str] = [
    "reminders.put_and_send",
    "hold_points.make_night_rounds",
    "hold_points.prepare_photographs",
    "hold_points.lapse_notices",
    "sequence.ring_waiting",
    "sequence.make_forecast_rounds",
]

# What is still missing before a hold may be lifted, answered by the package that knows.
COORDINATION_INSPECTION_PORT = "hold_points.port.HoldPointsPort"

# Letters to people of the office, and the houses they have in hand, answered by the room that knows.
COORDINATION_OFFICE_PORT = "coordination.reminders.office_port.OutboxOfficePort"

# Walks can be taken along on a tablet and judged without reception. False: the worker takes itself and its
# copies off every tablet; what was kept there is still sent.
COORDINATION_OFFLINE_WALKS = True

# Only `manage.py up` and its settings turn this on: sign-in by one click, from this machine alone.
COORDINATION_ONE_CLICK_SIGN_IN = False

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"plain": {"format": "{asctime} {levelname} {name}: {message}", "style": "{"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "plain"}},
    "root": {"handlers": ["console"], "level": "WARNING"},
    "loggers": {
        "django": {"handlers": [], "level": "WARNING"},
        "coordination": {"level": "INFO"},
        "hold_points": {"level": "INFO"},
    },
}
