"""Signing in and out."""

from __future__ import annotations

from django.contrib.auth.views import LoginView, LogoutView

from coordination.people.tries import LimitedSignIn

sign_in = LoginView.as_view(
    template_name="people/login.html",
    redirect_authenticated_user=True,
    authentication_form=LimitedSignIn,
)
sign_out = LogoutView.as_view()
