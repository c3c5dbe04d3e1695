"""Errors as pages: the same four parts as everywhere, with the right status."""

from __future__ import annotations

import logging
from collections.abc import Callable

from django.core.exceptions import BadRequest, PermissionDenied, SuspiciousOperation
from django.http import Http404, HttpRequest, HttpResponse
from django.http.multipartparser import MultiPartParserError
from django.shortcuts import render
from django.utils.translation import gettext as _

from kilter.measure.errors import KilterError, NotAllowed

LEFT_TO_DJANGO = (Http404, PermissionDenied, SuspiciousOperation, BadRequest, MultiPartParserError)
"""Not a fault of the program: an address, a right or a request; its handlers below make the page."""


def told_plainly(get_response: Callable[[HttpRequest], HttpResponse]) -> Callable[[HttpRequest], HttpResponse]:
    """Turns errors of ours into pages; every other one becomes a page that tells nothing about the program."""

    class Plainly:
        def __call__(self, request: HttpRequest) -> HttpResponse:
            response = get_response(request)
            return no_such_method(request, response) if response.status_code == 405 else response

        def process_exception(self, request: HttpRequest, error: Exception) -> HttpResponse | None:
            if isinstance(error, KilterError):
                return sorry(request, error)
            if isinstance(error, LEFT_TO_DJANGO):
                return None
            logging.getLogger("kilter.web").exception("%s %s", request.method, request.path)
            return render(request, "web/broken.html", status=500)

    return Plainly()


def sorry(request: HttpRequest, error: KilterError) -> HttpResponse:
    """The error as a page."""
    response = render(request, "web/sorry.html", {"error": error}, status=status_of(error))
    if request.headers.get("HX-Request"):  # a whole page takes the place of the whole page
        response["HX-Retarget"], response["HX-Reswap"] = "body", "innerHTML"
    return response


def status_of(error: KilterError) -> int:
    """403 for what the person may not do, 400 for everything else."""
    return 403 if isinstance(error, NotAllowed) else 400


def no_such_method(request: HttpRequest, response: HttpResponse) -> HttpResponse:
    """An address that takes forms only, or none; what the answer says of allowed methods stays."""
    if response.content:
        return response
    error = KilterError(_("Cannot do this here"), f"{request.method} {request.path[:200]}", response["Allow"],
                        _("Go back, and use the links and buttons of the page."))  # fmt: skip
    told = sorry(request, error)
    told.status_code, told["Allow"] = 405, response["Allow"]
    return told


def misfit(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:  # noqa: ARG001
    """A request that no browser sends from a page of ours: too many fields or files, an unknown host name."""
    error = KilterError(_("Cannot take this request"), _("too many fields or files, or the name of another machine"),
                        _("what a form of these pages holds, sent to this machine's own name"),
                        _("Send less at once, and use the address that was told at the start."))  # fmt: skip
    return render(request, "web/sorry.html", {"error": error}, status=400)


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
    return sorry(request, error)


def broken(request: HttpRequest) -> HttpResponse:
    """A fault of the program itself."""
    return render(request, "web/broken.html", status=500)
