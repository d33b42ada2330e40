"""A crew's pages behind its link, under v/."""

from django.urls import URLPattern, URLResolver, path

from coordination.visits import views

app_name = "visits"

urlpatterns: list[URLPattern | URLResolver] = [
    path("<str:token>/", views.page, name="page"),
    path("<str:token>/calendar/", views.calendar, name="calendar"),
    path("<str:token>/photograph/<int:photo>/", views.photograph, name="photograph"),
    path("<str:token>/read/<int:message>/", views.acknowledge, name="acknowledge"),
    path("<str:token>/visit/<int:booking>/", views.visit, name="visit"),
    path("<str:token>/visit/<int:booking>/<slug:verb>/", views.act, name="act"),
]
