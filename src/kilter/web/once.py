"""A form that is sent twice, by a second press of its button, is done once; the second leads where the first led."""

from __future__ import annotations

import hashlib
import secrets
from collections import OrderedDict
from collections.abc import Callable
from threading import Lock

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect

from kilter.measure.tables import table

NAME, DONE = "once", (302, 303)

_turn = Lock()
_known: OrderedDict[str, tuple[Lock, list[str]]] = OrderedDict()


def new_mark() -> str:
    """Marks one showing of a form."""
    return secrets.token_urlsafe(12)


def done_once(request: HttpRequest, work: Callable[[], HttpResponse]) -> HttpResponse:
    """
    Does the work of a form, unless just the same was sent from the same showing of the page and was taken.

    The last ones are remembered, in this process: after a restart a page of before is taken as a new one. What was
    altered and sent again is another form, also where a browser went back to the old page.

    Args:
        request: With the mark of the page under NAME; without one the work is simply done.
        work: Answers with a redirect where the form was taken.
    """
    if request.method != "POST" or not request.POST.get(NAME):
        return work()
    with _turn:
        lock, led = _known.setdefault(_digest(request), (Lock(), []))
        while len(_known) > int(table("web")["kept"]["forms"]):
            _known.popitem(last=False)
    with lock:
        if led:
            return HttpResponseRedirect(led[0])
        response = work()
        if response.status_code in DONE:
            led.append(response["Location"])
        return response


def _digest(request: HttpRequest) -> str:
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
