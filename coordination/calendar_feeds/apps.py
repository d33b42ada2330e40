"""Calendar feeds and invitations."""

from django.apps import AppConfig


class CalendarFeedsConfig(AppConfig):
    """Registers the package with Django."""

    name = "coordination.calendar_feeds"
    label = "calendar_feeds"
    verbose_name = "Calendar feeds"
    default_auto_field = "django.db.models.BigAutoField"
