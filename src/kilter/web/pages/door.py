"""Come in, leave, and the first person of a new record."""

from __future__ import annotations

import hmac
import os

from django.contrib.auth import login, logout
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_POST

from kilter.measure.errors import BadInput
from kilter.services.permissions import ROLES
from kilter.store.models import Person
from kilter.store.verbs.door import come_in
from kilter.store.verbs.people import first_administrator
from kilter.web.access import address_of
from kilter.web.forms import form_page

BACKEND = "django.contrib.auth.backends.ModelBackend"
FIRST_CODE, HELLO_CODE = "KILTER_FIRST_CODE", "KILTER_HELLO_CODE"
"""Codes that the start command puts into the address it prints; each works on this machine alone."""


@never_cache
@sensitive_post_parameters("password")
def door(request: HttpRequest) -> HttpResponse:
    """Asks for login and password."""
    following = request.POST.get("next") or request.GET.get("next", "")

    def enter() -> str:
        person = come_in(request.POST.get("login", ""), request.POST.get("password", ""), address_of(request))
        login(request, person, backend=BACKEND)
        own = url_has_allowed_host_and_scheme(following, {request.get_host()}, require_https=request.is_secure())
        return following if following and own else reverse("collection")

    return form_page(request, "web/door.html", enter, {"next": following, "lost": "lost" in request.GET})


@require_POST
def leave(request: HttpRequest) -> HttpResponse:
    """Ends the session."""
    logout(request)
    return redirect("door")


@never_cache
@sensitive_post_parameters("password", "again")
def first(request: HttpRequest, code: str) -> HttpResponse:
    """The first administrator chooses a login and a password; the address with its code was printed at the start."""
    if not _fits(FIRST_CODE, code) or not _loopback(request):
        raise Http404
    if Person.objects.exists():
        raise Http404

    def make() -> str:
        password = request.POST.get("password", "")
        if password != request.POST.get("again", ""):
            raise BadInput("Cannot take the password", "two that differ", "the same one twice", "Type them again.")
        chosen = ("recorder", "repairer", "approver", "registrar") if request.POST.get("alone") else ()
        typed = request.POST
        person = first_administrator(typed.get("login", ""), password, typed.get("name", ""), chosen)
        login(request, person, backend=BACKEND)
        return reverse("collection")

    return form_page(request, "web/first.html", make, {"roles": ROLES, "code": code})


@never_cache
def hello(request: HttpRequest, code: str) -> HttpResponse:
    """Lets somebody look at the demonstration without a password: on this machine, by the address that was printed."""
    if not _fits(HELLO_CODE, code) or not _loopback(request):
        raise Http404
    person = Person.objects.filter(is_active=True).order_by("pk").first()
    if person is None:
        raise Http404
    login(request, person, backend=BACKEND)
    return redirect("collection")


def _fits(name: str, code: str) -> bool:
    wanted = os.environ.get(name, "")
    return bool(wanted) and hmac.compare_digest(wanted.encode(), code.encode())


def _loopback(request: HttpRequest) -> bool:
    return address_of(request) in ("127.0.0.1", "::1")
