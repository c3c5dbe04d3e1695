"""An object beside good specimens of its type: every reading of a visit, what they read, and what lies off."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from kilter.measure.errors import BadInput
from kilter.services.compare_known_good import MARKED, compare_known_good, interval_words
from kilter.services.wording import said
from kilter.store.models import Visit
from kilter.store.verbs.visits import log_of
from kilter.web.access import page, visit_at
from kilter.web.policy import HANDED_OVER


@page()
@require_safe
def beside(request: HttpRequest, pk: int, number: int) -> HttpResponse:
    """The table; words where there is nothing to compare with."""
    found = visit_at(pk, number)
    context: dict[str, Any] = {"object": found.object, "visit": found, "good": _good_visits(found), "rows": [],
                               "error": None}  # fmt: skip
    if context["good"]:
        try:
            compared = _compared(found)
            context["by_chance"] = compared.by_chance
            context["rows"] = [
                {"row": row, "said": said(row.reading) if row.reading else "", "healthy": interval_words(row),
                 "marked": row.verdict in MARKED} for row in compared.rows
            ]  # fmt: skip
        except BadInput as error:
            context["error"] = error
    return render(request, "web/beside.html", context)


@page()
@require_safe
def beside_picture(request: HttpRequest, pk: int, number: int) -> HttpResponse:  # noqa: ARG001
    """The same drawn, as SVG."""
    from kilter.web.figures import svg_of
    from kilter.wiring.known_good_plots import comparison_figure

    found = visit_at(pk, number)
    drawn = svg_of(lambda: comparison_figure(_compared(found), str(found)))
    response = HttpResponse(drawn, content_type="image/svg+xml")
    response["Content-Security-Policy"] = HANDED_OVER
    return response


def _compared(found: Visit) -> Any:
    return compare_known_good(log_of(found).readings(), [log_of(one).readings() for one in _good_visits(found)])


def _good_visits(found: Visit) -> list[Visit]:
    """Visits to good specimens with the same board; each counts as one board, the latest of each object."""
    edition = found.board_now()
    if edition is None:
        return []
    rows = Visit.objects.filter(known_good=True, board_edition__board=edition.board).exclude(object=found.object)
    latest = {one.object_id: one for one in rows.select_related("object").order_by("number")}
    return [one for one in latest.values() if log_of(one).readings()]
