"""Signing in and out, under accounts/."""

from django.urls import URLPattern, URLResolver, path

from coordination.people import views

app_name = "people"

urlpatterns: list[URLPattern | URLResolver] = [
    path("sign-in/", views.sign_in, name="sign_in"),
    path("sign-out/", views.sign_out, name="sign_out"),
]
