"""Settings of an embedded run for crashes: local ones, with a cheap hash, quick ticks and a mail server."""

import os

from coordination.settings.local import *  # noqa: F403

PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
COORDINATION_TICK_SECONDS = 2
EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
EMAIL_HOST = os.environ["EMAIL_HOST"]
EMAIL_PORT = int(os.environ["EMAIL_PORT"])
