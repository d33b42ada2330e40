from django.apps import AppConfig


class SequenceConfig(AppConfig):
    name = "coordination.sequence"
    label = "sequence"
    verbose_name = "sequence"
