"""The bench: the next test, where the probe goes, what is suspected and why, and what is known."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from kilter.measure.errors import BadInput, KilterError
from kilter.services.bench import DEEDS, BenchSession, line_words
from kilter.services.visit_log import UNDONE
from kilter.store.models import Visit
from kilter.store.verbs.visits import add_entry, log_of
from kilter.web.access import page, person_of, visit_at
from kilter.web.bench_view import bench_view
from kilter.web.photo_places import behind
from kilter.web.trouble import status_of
from kilter.web.typed_figures import in_bench_notation
from kilter.wiring.record_bench import learned_at, session_of

DOING = "Cannot take this line"


@page()
@require_safe
def bench(request: HttpRequest, pk: int, number: int) -> HttpResponse:
    """The page as the visit stands."""
    found = visit_at(pk, number)
    with session_of(found, person_of(request)) as session:
        return _shown(request, found, session)


@page("record at the bench")
@require_POST
def take(request: HttpRequest, pk: int, number: int) -> HttpResponse:
    """Takes one line, then shows the page with what it changed; what cannot be taken stays in its field."""
    found = visit_at(pk, number)
    error: KilterError | None = None
    with session_of(found, person_of(request)) as session:
        try:
            _check_seen(request, session)
            told = _ACTS.get(request.POST.get("act", ""), _unknown)(request, session, found)
        except KilterError as raised:
            error, told = raised, ""
        if error is None and not getattr(request, "htmx", False):
            response = HttpResponse(status=303)
            response["Location"] = reverse("bench", args=[pk, number])
            return response
        return _shown(request, found, session, error, told)


def _shown(
    request: HttpRequest, found: Visit, session: BenchSession, error: KilterError | None = None, told: str = ""
) -> HttpResponse:
    chosen = request.POST.get("at", "") if request.method == "POST" and error is not None else request.GET.get("at", "")
    context: dict[str, Any] = {
        "object": found.object,
        "visit": found,
        "is_open": found.is_open(),
        "error": error,
        "told": told,
        "typed": request.POST if error is not None else {},
        "deeds": DEEDS,
        "learned": learned_at(found),
        **(view := bench_view(session, chosen)),
        "drawing": behind(found.object, session.diagnoser.board, view["drawing"]),
    }
    template = "web/bench_inside.html" if getattr(request, "htmx", False) else "web/bench.html"
    return render(request, template, context, status=status_of(error) if error else 200)


def _check_seen(request: HttpRequest, session: BenchSession) -> None:
    """What is typed belongs to the page that was looked at; a second press of the same button writes nothing twice."""
    seen, now = request.POST.get("after", ""), len(session.log.entries)
    if seen != str(now):
        raise BadInput("Cannot record this", f"entry {now}, while this page showed entry {seen[:9] or 'none'}",
                       "a page that shows the latest entry", "Look at what was added, then send it again.")  # fmt: skip


def _answer(request: HttpRequest, session: BenchSession, _: Visit) -> str:
    typed = request.POST
    words = {name: typed.get(name, "").strip() for name in ("point", "quantity", "state", "instrument", "note")}
    words["value"] = (typed.get("word") or typed.get("value") or "").strip()
    if typed.get("doubtful") or words["value"].endswith("?"):
        words["doubtful"] = "yes"
    words["value"] = in_bench_notation(words["value"].rstrip("? "))
    session.read({name: word for name, word in words.items() if word})
    return "noted"


def _line(request: HttpRequest, session: BenchSession, _: Visit) -> str:
    """Bench notation: a point, what was read there, and after '@' the state."""
    words = line_words(request.POST.get("line", ""))
    session.read(words | ({"value": in_bench_notation(words["value"])} if "value" in words else {}))
    return "noted"


def _deed(request: HttpRequest, session: BenchSession, _: Visit) -> str:
    what, where = request.POST.get("deed", ""), request.POST.get("where", "").strip()
    if what not in DEEDS or not where:
        raise BadInput(DOING, f"'{what[:20]} {where[:40]}'", f"{', '.join(DEEDS)} and a part or pin", "Choose again.")
    session.read({"point": where, "quantity": "done", "value": what})
    return "done"


def _skip(request: HttpRequest, session: BenchSession, found: Visit) -> str:
    words = {name: request.POST.get(name, "").strip() for name in ("point", "quantity", "state", "note")}
    if not all(words[name] for name in ("point", "quantity", "state")):
        raise BadInput(DOING, "no test", "a test that is shown", "Choose it again.")
    add_entry(person_of(request), found, "skipped", {k: v for k, v in words.items() if v}, None,
              after=len(session.log.entries))  # fmt: skip
    _reload(session, found)
    return "skipped"


def _undo(request: HttpRequest, session: BenchSession, found: Visit) -> str:
    entry = request.POST.get("entry", "")
    standing = {str(one.number) for one in session.log.standing()}
    if entry not in standing:
        raise BadInput("Cannot take it back", f"entry {entry[:9]!r}", "an entry that stands",
                       "Look at what stands now.")  # fmt: skip
    add_entry(person_of(request), found, UNDONE, {"entry": entry}, None, after=len(session.log.entries))
    _reload(session, found)
    return "taken back"


def _reload(session: BenchSession, found: Visit) -> None:
    session.log = log_of(found)


def _unknown(request: HttpRequest, *_: object) -> str:
    raise BadInput(DOING, f"'{request.POST.get('act', '')[:40]}'", ", ".join(_ACTS), "Use the buttons of the page.")


_ACTS = {"answer": _answer, "line": _line, "deed": _deed, "skip": _skip, "undo": _undo}
