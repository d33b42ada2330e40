"""Signing in and out, one's PIN, the builder's people; under accounts/."""

from django.urls import URLPattern, URLResolver, path

from coordination.people import office, views
from coordination.people.one_click import one_click

app_name = "people"

urlpatterns: list[URLPattern | URLResolver] = [
    path("sign-in/", views.sign_in, name="sign_in"),
    path("one-click/<str:signed>/", one_click, name="one_click"),
    path("sign-out/", views.sign_out, name="sign_out"),
    path("pin/", views.own_pin, name="own_pin"),
    path("people/", office.people, name="people"),
]
