"""The builder's screens."""

from django.urls import URLPattern, URLResolver

app_name = "planner"

urlpatterns: list[URLPattern | URLResolver] = []
