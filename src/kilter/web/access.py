"""Who may see a page: nobody without a role, and for some pages only certain roles. Verbs ask again by themselves."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any, cast

from django.contrib.auth.views import redirect_to_login
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404

from kilter.services.permissions import demand
from kilter.store.models import CollectionObject, Person, Visit

View = Callable[..., HttpResponse]
LOOK = "look at the collection"


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
                return redirect_to_login(request.get_full_path())
            demand(person_of(request).roles(), LOOK)
            demand(person_of(request).roles(), name)
            return view(request, *args, **named)

        return shown

    return decorate


def person_of(request: HttpRequest) -> Person:
    """Who is at the page."""
    return cast("Person", request.user)


def object_at(pk: int) -> CollectionObject:
    """The object at an address."""
    return cast("CollectionObject", get_object_or_404(CollectionObject.objects.select_related("board"), pk=pk))


def visit_at(pk: int, number: int) -> Visit:
    """The visit at an address."""
    found = Visit.objects.select_related("object", "board_edition", "who").filter(object_id=pk, number=number).first()
    if found is None:
        raise Http404
    return cast("Visit", found)
