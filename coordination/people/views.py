"""Signing in and out."""

from __future__ import annotations

from django.contrib.auth.views import LoginView, LogoutView

sign_in = LoginView.as_view(template_name="people/login.html", redirect_authenticated_user=True)
sign_out = LogoutView.as_view()
