"""The frame's own app: it starts Celery once Django is ready."""

from django.apps import AppConfig


class CoordinationConfig(AppConfig):
    """Holds the management commands and the Celery app; it has no tables."""

    name = "coordination"
    label = "coordination"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """Import the Celery app here, not in the package, or the engine would drag in Django and Celery."""
        from coordination import celery_app  # noqa: F401
