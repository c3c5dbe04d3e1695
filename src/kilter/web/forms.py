"""A form and its answer: what was typed stays on the page when it cannot be taken."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from django.http import HttpRequest, HttpResponse, HttpResponseNotAllowed, HttpResponseRedirect
from django.shortcuts import render

from kilter.measure.errors import BadInput, KilterError
from kilter.web.trouble import status_of

TAKEN = ("GET", "HEAD", "POST")

def form_page(
    request: HttpRequest,
    template: str,
    work: Callable[[], str],
    context: Mapping[str, Any] | None = None,
    typed: Mapping[str, Any] | None = None,
) -> HttpResponse:
    """
    Shows a form, or does its work and goes on.

    Args:
        request: GET shows it, POST does the work.
        template: With the form; it has `typed`, and after a fault `error`.
        work: Does it, and tells the address to go to.
        context: More for the template.
        typed: What stands in the form at first.
    """
    error: KilterError | None = None
    if request.method not in TAKEN:
        return HttpResponseNotAllowed(TAKEN)
    if request.method == "POST":
        try:
            return HttpResponseRedirect(work())
        except KilterError as raised:
            error = raised
    known = request.POST if request.method == "POST" else typed or request.GET
    shown = {**(context or {}), "typed": known, "error": error}
    return render(request, template, shown, status=status_of(error) if error else 200)


def number_in(request: HttpRequest, name: str, doing: str) -> int:
    """
    A whole number of a form.

    Raises:
        BadInput: It is none.
    """
    return _whole(request.POST.get(name, ""), name, doing)


def chosen_number(text: str, name: str, doing: str) -> int | None:
    """
    A whole number that may be left out.

    Raises:
        BadInput: Something stands there that is none.
    """
    return _whole(text, name, doing) if text else None


def _whole(text: str, name: str, doing: str) -> int:
    if not text.isascii() or not text.isdecimal() or len(text) > 9:
        raise BadInput(doing, f"'{text[:40]}' under '{name}'", "a whole number", "Choose it again.")
    return int(text)
