"""What a browser may do with a page: load from this server alone, run no script but ours, show it in no frame."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

PAGES = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; font-src 'self'; connect-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'; manifest-src 'self'"
)
HANDED_OVER = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; sandbox; frame-ancestors 'none'"
"""For what people brought and for pictures that were drawn: shown, and nothing of it runs."""


def content_policy(get_response: Callable[[HttpRequest], HttpResponse]) -> Callable[[HttpRequest], HttpResponse]:
    """Sets the policy where a view did not set a narrower one, and keeps pages of the record out of shared caches."""

    def answered(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        response.headers.setdefault("Content-Security-Policy", PAGES)
        response.headers.setdefault("X-Frame-Options", "DENY")  # for browsers that do not know 'frame-ancestors'
        response.headers.setdefault("Permissions-Policy", "camera=(), microphone=(), geolocation=(), usb=()")
        if not request.path.startswith("/static/"):
            response.headers.setdefault("Cache-Control", "private, no-store")
        return response

    return answered
