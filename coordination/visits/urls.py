"""The trade's pages behind a link, under v/."""

from django.urls import URLPattern, URLResolver

app_name = "visits"

urlpatterns: list[URLPattern | URLResolver] = []
