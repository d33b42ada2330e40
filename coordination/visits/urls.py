"""A crew's pages behind its link, under v/."""

from django.urls import URLPattern, URLResolver, path

from coordination.visits import told_views, views

app_name = "visits"

urlpatterns: list[URLPattern | URLResolver] = [
    path("<str:token>/", views.page, name="page"),
    path("<str:token>/calendar/", views.calendar, name="calendar"),
    path("<str:token>/told/", told_views.told, name="told"),
    path("<str:token>/told/reminders/", told_views.reminders, name="choose_reminders"),
    path("<str:token>/told/stop/", told_views.stop_reminders, name="stop_reminders"),
    path("<str:token>/photograph/<int:photo>/", views.photograph, name="photograph"),
    path("<str:token>/read/<int:message>/", views.acknowledge, name="acknowledge"),
    path("<str:token>/visit/<int:booking>/", views.visit, name="visit"),
    path("<str:token>/visit/<int:booking>/<slug:verb>/", views.act, name="act"),
]
