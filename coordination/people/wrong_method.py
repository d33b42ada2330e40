"""An address that only takes what a form sends, opened by itself: a page that leads on, and no empty one."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import Resolver404, resolve


class WrongMethodMiddleware:
    """Shows whoever opens the address of a form's act (a restored tab, Enter in the address bar) a way on.

    The status stays 405 and nothing is done; answers to other methods are left alone.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer the request; an empty 405 of a GET gets words."""
        response = self.get_response(request)
        if response.status_code != 405 or request.method != "GET":
            return response
        shown = render(request, "405.html", {"back": find_page_above(request.path)}, status=405)
        shown.headers["Allow"] = response.headers.get("Allow", "")
        return shown


def find_page_above(path: str) -> str:
    """The nearest address above that is one of ours; the start where there is none."""
    steps = path.strip("/").split("/")
    for length in range(len(steps) - 1, 0, -1):
        above = f"/{'/'.join(steps[:length])}/"
        try:
            resolve(above)
        except Resolver404:
            continue
        return above
    return "/"
