"""The walks and the record, under walks/."""

from django.urls import URLPattern, URLResolver

app_name = "hold_points"

urlpatterns: list[URLPattern | URLResolver] = []
