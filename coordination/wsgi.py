"""The WSGI application for a production server (gunicorn coordination.wsgi)."""

import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "coordination.settings.production")

application = get_wsgi_application()
