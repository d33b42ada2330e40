"""Reminders: what is due, and its sending."""

from django.apps import AppConfig


class RemindersConfig(AppConfig):
    """Registers the package with Django."""

    name = "coordination.reminders"
    label = "reminders"
    verbose_name = "Reminders"
    default_auto_field = "django.db.models.BigAutoField"
