from django.apps import AppConfig


class PeopleConfig(AppConfig):
    name = "coordination.people"
    label = "people"
    verbose_name = "people"
