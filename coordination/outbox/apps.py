from django.apps import AppConfig


class OutboxConfig(AppConfig):
    name = "coordination.outbox"
    label = "outbox"
    verbose_name = "outbox"
