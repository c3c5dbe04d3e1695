"""Who may see a page: nobody without a role, and for some pages only certain roles. Verbs ask again by themselves."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any, cast
from urllib.parse import urlsplit

from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme, urlencode
from django_htmx.http import HttpResponseClientRedirect

from kilter.services.permissions import demand
from kilter.store.models import CollectionObject, Person, Visit
from kilter.web.once import done_once

View = Callable[..., HttpResponse]
LOOK = "look at the collection"
MOST_KEY, MOST_NUMBER = 2**63 - 1, 2**31 - 1
"""Largest key of a row, and largest number within an object, that a database holds."""


def page(name: str = LOOK) -> Callable[[View], View]:
    """
    A view for people with a role that may do what it is for.

    Args:
        name: A verb of `kilter.services.permissions.VERBS`.
    """

    def decorate(view: View) -> View:
        @wraps(view)
        def shown(request: HttpRequest, *args: Any, **named: Any) -> HttpResponse:
            if not request.user.is_authenticated:
                return to_the_door(request)
            demand(person_of(request).roles(), LOOK)
            demand(person_of(request).roles(), name)
            return done_once(request, lambda: view(request, *args, **named))

        return shown

    return decorate


def address_of(request: HttpRequest) -> str:
    """Where a request comes from, for the wait after wrong passwords."""
    return str(request.META.get("REMOTE_ADDR", ""))


def to_the_door(request: HttpRequest) -> HttpResponse:
    """
    Where one comes in, and goes on from to the page that was asked for.

    A form cannot be asked for again: after one the way leads back to the page it stood on, and the door says that
    nothing of it was recorded.
    """
    following, lost = request.get_full_path(), request.method not in ("GET", "HEAD")
    if lost:
        page_before = request.headers.get("HX-Current-URL") or request.headers.get("Referer", "")
        own = url_has_allowed_host_and_scheme(page_before, {request.get_host()})
        parts = urlsplit(page_before if own else "")
        following = (f"{parts.path}?{parts.query}" if parts.query else parts.path) or reverse("collection")
    told = {"next": following, **({"lost": "1"} if lost else {})}
    address = f"{reverse('door')}?{urlencode(told)}"
    return (HttpResponseClientRedirect if getattr(request, "htmx", False) else HttpResponseRedirect)(address)


def person_of(request: HttpRequest) -> Person:
    """Who is at the page."""
    return cast("Person", request.user)


def object_at(pk: int) -> CollectionObject:
    """The object at an address."""
    return cast("CollectionObject", get_object_or_404(CollectionObject.objects.select_related("board"), pk=pk))


def visit_at(pk: int, number: int) -> Visit:
    """The visit at an address."""
    if pk > MOST_KEY or number > MOST_NUMBER:
        raise Http404
    found = Visit.objects.select_related("object", "board_edition", "who").filter(object_id=pk, number=number).first()
    if found is None:
        raise Http404
    return cast("Visit", found)
