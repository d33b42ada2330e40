"""The trade's pages behind a link; no tables."""

from django.apps import AppConfig


class VisitsConfig(AppConfig):
    """Registers the package with Django."""

    name = "coordination.visits"
    label = "visits"
    verbose_name = "Visits"
    default_auto_field = "django.db.models.BigAutoField"
