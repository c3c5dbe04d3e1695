"""Errors as pages: the same four parts as everywhere, with the right status."""

from __future__ import annotations

import logging
from collections.abc import Callable

from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _

from kilter.measure.errors import KilterError, NotAllowed


def told_plainly(get_response: Callable[[HttpRequest], HttpResponse]) -> Callable[[HttpRequest], HttpResponse]:
    """Turns errors of ours into pages; every other one becomes a page that tells nothing about the program."""

    class Plainly:
        def __call__(self, request: HttpRequest) -> HttpResponse:
            return get_response(request)

        def process_exception(self, request: HttpRequest, error: Exception) -> HttpResponse | None:
            if isinstance(error, KilterError):
                return sorry(request, error)
            if isinstance(error, Http404 | PermissionDenied):
                return None
            logging.getLogger("kilter.web").exception("%s %s", request.method, request.path)
            return render(request, "web/broken.html", status=500)

    return Plainly()


def sorry(request: HttpRequest, error: KilterError) -> HttpResponse:
    """The error as a page."""
    return render(request, "web/sorry.html", {"error": error}, status=status_of(error))


def status_of(error: KilterError) -> int:
    """403 for what the person may not do, 400 for everything else."""
    return 403 if isinstance(error, NotAllowed) else 400


def not_found(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:  # noqa: ARG001
    """An address that leads nowhere."""
    error = KilterError(_("Cannot show this page"), request.path[:200], _("addresses of this record"),
                        _("Go back to the collection."))  # fmt: skip
    return render(request, "web/sorry.html", {"error": error}, status=404)


def forbidden(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:  # noqa: ARG001
    """Something that only other people may do."""
    error = NotAllowed(_("Cannot show this page"), _("a role that may not see it"), _("other roles"),
                       _("Ask an administrator for the role."))  # fmt: skip
    return render(request, "web/sorry.html", {"error": error}, status=403)


def forged(request: HttpRequest, reason: str = "") -> HttpResponse:  # noqa: ARG001
    """A form that does not come from our own page of this session."""
    error = NotAllowed(_("Cannot take this form"), _("a form of another page or an older session"),
                       _("forms of this page"), _("Go back, load the page again, and send it once more."))  # fmt: skip
    return render(request, "web/sorry.html", {"error": error}, status=403)


def broken(request: HttpRequest) -> HttpResponse:
    """A fault of the program itself."""
    return render(request, "web/broken.html", status=500)
