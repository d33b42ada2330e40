"""The response headers that Django 5.2 does not send by itself."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

# Scripts, styles and workers come from our own files only; nothing inline. Pictures may also be
# data: (drawings inside a style sheet) and blob: (a photograph that waits on the tablet).
CONTENT_SECURITY_POLICY = "; ".join(
    (
        "default-src 'self'",
        "img-src 'self' data: blob:",
        "object-src 'none'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
        "form-action 'self'",
    )
)


class ContentSecurityPolicyMiddleware:
    """Sends the policy with every response, unless the view has set a stricter one of its own."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer the request and add the header."""
        response = self.get_response(request)
        response.headers.setdefault("Content-Security-Policy", CONTENT_SECURITY_POLICY)
        return response
