"""Calendar feeds, under calendar/."""

from django.urls import URLPattern, URLResolver

app_name = "calendar_feeds"

urlpatterns: list[URLPattern | URLResolver] = []
