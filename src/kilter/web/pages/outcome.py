"""How a visit ended: proposed from what was renewed and read, confirmed by a person, superseded and never changed."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse

from kilter.diagnose.learned_odds_counts import UNKNOWN
from kilter.measure.errors import BadInput
from kilter.parts.kinds import modes_of
from kilter.services.permissions import demand
from kilter.store.models import Visit, VisitOutcome
from kilter.store.models.outcome import PARTS
from kilter.store.verbs.outcomes import DOING, END, standing_outcome, take_outcome_back
from kilter.store.verbs.visits import set_visit
from kilter.web.access import page, person_of, visit_at
from kilter.web.forms import chosen_number, form_page
from kilter.wiring.record_outcome import ProposedOutcome, confirm_outcome, proposed_for

MORE_ROWS = 2
"""Empty rows for parts that nothing was done to."""


@page()
def outcome(request: HttpRequest, pk: int, number: int) -> HttpResponse:
    """The outcomes of a visit, and a form for the next."""
    if request.method == "POST":
        demand(person_of(request).roles(), END)
    found = visit_at(pk, number)
    stands = standing_outcome(found)

    def work() -> str:
        typed = request.POST
        if typed.get("act") == "back":
            if stands is None:
                raise BadInput(DOING, "no outcome that stands", "one to take back", "Look at what stands now.")
            take_outcome_back(person_of(request), stands, typed.get("why", ""))
            return reverse("outcome", args=[pk, number])
        confirm_outcome(
            person_of(request), found, typed.get("found", ""), _words(request), typed.get("works", ""),
            said_by=typed.get("said_by", ""), why=typed.get("words", ""), supersedes=_seen(request, found),
        )  # fmt: skip
        if typed.get("close") and found.is_open():
            set_visit(person_of(request), found, "closed", typed.get("words", "")[:2000])
        return reverse("outcome", args=[pk, number])

    context: dict[str, Any] = {
        "object": found.object,
        "visit": found,
        "is_open": found.is_open(),
        "stands": stands,
        "earlier": found.outcomes.select_related("who__personal").order_by("-pk"),
        "founds": VisitOutcome.FOUND,
        "states": VisitOutcome.STATES,
        "parts_word": PARTS,
    }
    typed: dict[str, Any] = {}
    if request.method != "POST" or request.POST.get("act") != "back":
        context |= _proposed(request, found, stands)
        typed = context.pop("first")
    return form_page(request, "web/outcome.html", work, context, typed)


def _proposed(request: HttpRequest, found: Visit, stands: VisitOutcome | None) -> dict[str, Any]:
    """What the form holds at first: what stands, else what the record suggests."""
    try:
        proposed = proposed_for(found)
    except BadInput as error:
        first = {"found": stands.found, "works": stands.works} if stands else {}
        return {"no_board": error, "rows": [], "first": first}
    rows = _rows(request, proposed, stands)
    suggested = PARTS if any(row["ticked"] for row in rows) else ""
    first = {"found": stands.found, "works": stands.works, "said_by": stands.said_by} if stands else {
        "found": suggested
    }
    return {"proposed": proposed, "rows": rows, "parts": sorted(proposed.board.parts), "first": first}


def _rows(request: HttpRequest, proposed: ProposedOutcome, stands: VisitOutcome | None) -> list[dict[str, Any]]:
    """A row for each candidate and each part that was named, then empty ones."""
    board = proposed.board
    rows: list[dict[str, Any]] = [
        {"part": one.part, "why": one.why, "called": one.called, "mode": one.mode, "ticked": one.suggested}
        for one in proposed.candidates
    ]  # fmt: skip
    if stands is not None:
        for row in rows:
            row["ticked"], row["mode"] = row["part"] in stands.parts, stands.parts.get(str(row["part"]), row["mode"])
        known = {row["part"] for row in rows}
        rows += [{"part": part, "why": "", "called": None, "mode": mode, "ticked": True}
                 for part, mode in stands.parts.items() if part not in known]  # fmt: skip
    for row in rows:
        part = board.parts.get(str(row["part"]))
        row["modes"] = [(UNKNOWN, UNKNOWN), *((one.key, one.words) for one in modes_of(part))] if part else []
    rows += [{"part": "", "why": "", "called": None, "mode": "", "ticked": False, "modes": []}] * MORE_ROWS
    if request.method == "POST":
        rows = [{**row, **_typed(request, place)} for place, row in enumerate(rows)]
    return rows


def _typed(request: HttpRequest, place: int) -> dict[str, Any]:
    return {"ticked": bool(request.POST.get(f"faulty-{place}")), "mode": request.POST.get(f"mode-{place}", ""),
            "part": request.POST.get(f"part-{place}", "")}  # fmt: skip


def _words(request: HttpRequest) -> list[str]:
    """Parts that are ticked, or that were named in an empty row, as PART:MODE."""
    words = []
    for place in range(len(request.POST)):
        part = request.POST.get(f"part-{place}", "").strip()
        if part and (request.POST.get(f"faulty-{place}") or request.POST.get(f"free-{place}")):
            mode = request.POST.get(f"mode-{place}", "").strip()
            words.append(f"{part}:{mode}" if mode and ":" not in part else part)
    return words


def _seen(request: HttpRequest, found: Visit) -> VisitOutcome | None:
    """The outcome that the form showed; another one may stand by now, and then nothing is written."""
    key = chosen_number(request.POST.get("seen", ""), "seen", DOING)
    return get_object_or_404(VisitOutcome, pk=key, visit=found) if key is not None else None
