"""The settings of the test suite; tests/servers.py puts the addresses into the environment."""

import os
import tempfile
from pathlib import Path

from coordination.settings.base import *  # noqa: F403
from coordination.settings.databases import describe_sqlite, read_database_url

SECRET_KEY = "only-for-tests-" + "0123456789abcdef" * 4
ALLOWED_HOSTS = ["testserver", "127.0.0.1", "localhost"]

_SCRATCH = Path(os.environ.get("BEFORE_THE_BOARD_TEST_SCRATCH") or tempfile.gettempdir())
MEDIA_ROOT = _SCRATCH / "photographs"

_address = os.environ.get("BEFORE_THE_BOARD_TEST_DATABASE", "sqlite")
if _address == "sqlite":
    # A file, not memory: write-ahead logging, and so the locking that production has, needs one.
    DATABASES = {
        "default": describe_sqlite(_SCRATCH / "default.sqlite3")
        | {"TEST": {"NAME": str(_SCRATCH / "test.sqlite3")}}
    }
else:
    DATABASES = {"default": read_database_url(_address)}

EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
# Fast on purpose: the tests make many people, and no test is about the cost of a hash.
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]

CELERY_BROKER_URL = os.environ.get("BEFORE_THE_BOARD_TEST_REDIS", "memory://")
