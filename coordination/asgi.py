"""The ASGI application, for a host that offers nothing else; no view here needs it."""

import os

from django.core.asgi import get_asgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "coordination.settings.production")

application = get_asgi_application()
