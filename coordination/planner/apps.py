"""The builder's screens; no tables."""

from django.apps import AppConfig


class PlannerConfig(AppConfig):
    """Registers the package with Django."""

    name = "coordination.planner"
    label = "planner"
    verbose_name = "Planner"
    default_auto_field = "django.db.models.BigAutoField"
