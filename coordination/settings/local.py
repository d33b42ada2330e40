"""One machine, one process: SQLite and an in-memory broker. The default of manage.py."""

import os

from coordination.settings.base import *  # noqa: F403
from coordination.settings.base import DATA_DIR
from coordination.settings.databases import describe_sqlite
from coordination.settings.secrets_file import read_or_make_secret

DEBUG = os.environ.get("BEFORE_THE_BOARD_DEBUG") == "1"
SECRET_KEY = read_or_make_secret(DATA_DIR / "secret-key")
ALLOWED_HOSTS = ["127.0.0.1", "localhost", "[::1]"]

DATABASES = {"default": describe_sqlite(DATA_DIR / "before-the-board.sqlite3")}

# Mail is kept in files and told on the console, so that a trial run can never reach a real crew.
EMAIL_BACKEND = "coordination.management.kept_mail.EmailBackend"

CELERY_BROKER_URL = "memory://localhost/"
COORDINATION_TICK_SECONDS = 5
COORDINATION_ONE_CLICK_SIGN_IN = True
