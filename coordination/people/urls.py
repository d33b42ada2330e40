"""Signing in and out, one's password, PIN and details, the builder's people; under accounts/."""

from django.urls import URLPattern, URLResolver, path

from coordination.people import office, office_person, own_details, passwords, views
from coordination.people.one_click import one_click

app_name = "people"

urlpatterns: list[URLPattern | URLResolver] = [
    path("sign-in/", views.sign_in, name="sign_in"),
    path("one-click/<str:signed>/", one_click, name="one_click"),
    path("sign-out/", views.sign_out, name="sign_out"),
    path("forgotten/", passwords.forgotten, name="forgotten"),
    path("password/<str:uidb64>/<str:token>/", passwords.set_password, name="set_password"),
    path("pin/", views.own_pin, name="own_pin"),
    path("self/", own_details.own_details, name="own_details"),
    path("people/", office.people, name="people"),
    path("people/<int:person>/", office_person.person, name="person"),
]
