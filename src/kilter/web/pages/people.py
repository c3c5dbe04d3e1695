"""People for the administrator, and for everybody the page about oneself."""

from __future__ import annotations

from django.contrib.auth import update_session_auth_hash
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_POST, require_safe

from kilter.measure.errors import BadInput
from kilter.services.permissions import ROLES
from kilter.store.models import Person
from kilter.store.verbs.door import show_own_password
from kilter.store.verbs.people import add_person, erase_personal, set_door, set_password, set_roles
from kilter.store.verbs.tokens import issue_token, revoke_token
from kilter.web.access import address_of, page, person_of
from kilter.web.forms import form_page, number_in

LOOK_AFTER = "look after people"


@page(LOOK_AFTER)
@require_safe
def people(request: HttpRequest) -> HttpResponse:
    """Everybody."""
    rows = Person.objects.select_related("personal").prefetch_related("groups").order_by("pk")
    return render(request, "web/people.html", {"rows": rows})


@sensitive_post_parameters("password")
@page(LOOK_AFTER)
def add(request: HttpRequest) -> HttpResponse:
    """A new person."""

    def work() -> str:
        typed = request.POST
        add_person(person_of(request), typed.get("login", ""), typed.get("name", ""), typed.getlist("roles"),
                   typed.get("password", ""))  # fmt: skip
        return reverse("people")

    chosen = request.POST.getlist("roles")
    return form_page(request, "web/person_form.html", work, {"roles_all": ROLES, "chosen": chosen})


@sensitive_post_parameters("password")
@page(LOOK_AFTER)
def person(request: HttpRequest, pk: int) -> HttpResponse:
    """Changes a person's roles, door or password, or erases what is personal."""
    found = get_object_or_404(Person.objects.select_related("personal"), pk=pk)

    def work() -> str:
        typed, actor = request.POST, person_of(request)
        act, why = typed.get("act", ""), typed.get("why", "")
        if act == "roles":
            set_roles(actor, found, typed.getlist("roles"), why)
        elif act in ("open", "shut"):
            set_door(actor, found, is_open=act == "open", why=why)
        elif act == "password":
            set_password(actor, found, typed.get("password", ""))
        elif act == "erase":
            if typed.get("sure") != found.key:
                raise BadInput("Cannot erase", f"'{typed.get('sure', '')[:20]}'", f"the key {found.key}, typed out",
                               "Type the key to say that you are sure.")  # fmt: skip
            erase_personal(actor, found, why)
        else:
            raise BadInput("Cannot change the person", f"'{act[:20]}'", "the buttons of the page", "Use them.")
        return reverse("person", args=[pk])

    held = request.POST.getlist("roles") if request.POST.get("act") == "roles" else found.roles()
    return form_page(request, "web/person.html", work, {"person": found, "roles_all": ROLES, "held": held})


@sensitive_post_parameters("old", "password", "again")
@page()
def me(request: HttpRequest) -> HttpResponse:
    """One's own password and keys."""
    actor = person_of(request)

    def work() -> str:
        typed, doing = request.POST, "Cannot change the password"
        if typed.get("password") != typed.get("again"):
            raise BadInput(doing, "two that differ", "the same one twice", "Type them again.")
        show_own_password(actor, typed.get("old", ""), address_of(request), doing)
        set_password(actor, actor, typed.get("password", ""))
        update_session_auth_hash(request, actor)
        return reverse("me")

    context = {"person": actor, "keys": actor.tokens.filter(revoked__isnull=True).order_by("pk"),
               "fresh": request.session.pop("fresh_key", "")}  # fmt: skip
    return form_page(request, "web/me.html", work, context)


@page()
@require_POST
def new_key(request: HttpRequest) -> HttpResponse:
    """A key for a program; shown once."""
    request.session["fresh_key"] = issue_token(person_of(request), request.POST.get("name", ""))
    return HttpResponseRedirect(reverse("me"))


@page()
@require_POST
def end_key(request: HttpRequest) -> HttpResponse:
    """Takes a key back."""
    revoke_token(person_of(request), number_in(request, "key", "Cannot take the key back"))
    return HttpResponseRedirect(reverse("me"))
