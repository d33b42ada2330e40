"""Crews' calendars behind their secret addresses, under calendar/."""

from django.urls import URLPattern, URLResolver, path

from coordination.calendar_feeds import views

app_name = "calendar_feeds"

urlpatterns: list[URLPattern | URLResolver] = [
    path("<str:token>.ics", views.feed, name="feed"),
]
