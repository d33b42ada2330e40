"""Settings of a served installation for crashes: production's, with a cheap hash and quick ticks."""

from coordination.settings.production import *  # noqa: F403
from coordination.settings.production import DATABASES, STORAGES

# Many signatures are wanted in a short time, and none of this is about the cost of a hash.
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
COORDINATION_TICK_SECONDS = 2
# The server of these tests has a thread for each request, which would leave its connection behind.
DATABASES = {"default": DATABASES["default"] | {"CONN_MAX_AGE": 0}}
# Nobody looks at the pages here, so no static files are collected.
STORAGES = STORAGES | {"staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}}
