from django.apps import AppConfig


class HoldPointsConfig(AppConfig):
    name = "hold_points"
    label = "hold_points"
    verbose_name = "hold points"
