"""The addresses: each package keeps its own list, and this page says under which prefix it answers."""

from django.contrib import admin
from django.urls import include, path

urlpatterns = [
    path("", include("coordination.planner.urls")),
    path("v/", include("coordination.visits.urls")),
    path("calendar/", include("coordination.calendar_feeds.urls")),
    path("walks/", include("hold_points.urls")),
    path("accounts/", include("coordination.people.urls")),
    path("admin/", admin.site.urls),
]
