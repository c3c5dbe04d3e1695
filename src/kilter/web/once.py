"""A form that is sent twice, by a second press of its button, is done once; the second leads where the first led."""

from __future__ import annotations

import hashlib
import secrets
import time
from collections.abc import Callable

from django.core.cache import cache
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect

from kilter.measure.errors import BadInput
from kilter.measure.tables import table

NAME, DONE = "once", (302, 303)
BUSY = ""
"""What is kept for a form whose work is not at its end."""
LOOK_EVERY_S = 0.05


def new_mark() -> str:
    """Marks one showing of a form."""
    return secrets.token_urlsafe(12)


def done_once(request: HttpRequest, work: Callable[[], HttpResponse]) -> HttpResponse:
    """
    Does the work of a form, unless just the same was sent from the same showing of the page and was taken.

    The last ones are remembered in the database, so for every process that serves the pages. What was altered and sent
    again is another form, also where a browser went back to the old page.

    Args:
        request: With the mark of the page under NAME; without one the work is simply done.
        work: Answers with a redirect where the form was taken.

    Raises:
        BadInput: The same form is being worked on elsewhere and does not come to an end.
    """
    if request.method != "POST" or not request.POST.get(NAME):
        return work()
    kept, key = table("web")["kept"], _digest(request)
    until = time.monotonic() + float(kept["form_wait_s"])
    while not cache.add(key, BUSY, int(kept["form_busy_s"])):
        led = cache.get(key)
        if led:
            return HttpResponseRedirect(led)
        if time.monotonic() > until:
            raise BadInput("Cannot take the form", "the same form, which is still being worked on",
                           "one at a time", "Look whether it was recorded before you send it again.")  # fmt: skip
        time.sleep(LOOK_EVERY_S)
    response = None
    try:
        response = work()
    finally:
        if response is not None and response.status_code in DONE:
            cache.set(key, response["Location"], int(kept["form_kept_s"]))
        else:
            cache.delete(key)
    return response


def _digest(request: HttpRequest) -> str:
    """Of who sent what where. The mark in it is drawn for each showing and kept nowhere, so nothing can be guessed."""
    whole = hashlib.sha256(f"{request.user.pk}\0{request.path}\0".encode())
    for name, values in sorted(request.POST.lists()):
        if name != "csrfmiddlewaretoken":
            whole.update(repr((name, values)).encode())
    for name, files in sorted(request.FILES.lists()):
        for one in files:
            whole.update(repr((name, one.name, one.size)).encode())
            for piece in one.chunks():
                whole.update(piece)
            one.seek(0)
    return whole.hexdigest()
