"""Spares and donors: what agreed proposals want, what could give it, and a plan worked out; nothing is done by it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from kilter.importers.stock_table import read_stock
from kilter.measure.errors import BadInput
from kilter.services.allocate_parts import CAUTIONS
from kilter.store.models import Job
from kilter.store.verbs.files import file_store
from kilter.store.verbs.jobs import START, ask_for
from kilter.web.access import page, person_of
from kilter.web.forms import form_page
from kilter.wiring.kept_file import read_kept
from kilter.wiring.record_allocation import donors_in_record, wanted_in_record
from kilter.wiring.share_parts import collection_of
from kilter.wiring.worker import SHARE_OUT

DOING = "Cannot share out the parts"
STOCK, COLLECTION = (".csv", ".xlsx"), (".toml",)
MOST_BYTES = 8 << 20
LISTED = 20


@page(START)
def donors(request: HttpRequest) -> HttpResponse:
    """What there is, and a form that asks for a plan."""
    wanted, left = wanted_in_record()

    def work() -> str:
        stock = [_kept(one, STOCK) for one in request.FILES.getlist("stock") if one.size]
        for pair in stock:
            read_kept(*pair, read_stock)  # what cannot be read is told now, not by the worker
        brought = request.FILES.get("collection")
        told = _kept(brought, COLLECTION) if brought is not None and brought.size else None
        if told is not None:
            collection_of(*told)
        elif not wanted:
            raise BadInput(DOING, "no agreed proposal that names parts on a board", "one, or a collection file",
                           "Propose work and have it answered, or bring a file.")  # fmt: skip
        job = ask_for(person_of(request), SHARE_OUT, {"stock": stock, "collection": told})
        return reverse("job", args=[job.pk])

    plans = Job.objects.filter(kind=SHARE_OUT).select_related("who__personal").order_by("-pk")[:LISTED]
    context = {"wanted": wanted, "left": left, "donors": donors_in_record(), "cautions": CAUTIONS, "plans": plans}
    return form_page(request, "web/donors.html", work, context)


def _kept(brought: Any, endings: tuple[str, ...]) -> tuple[str, str]:
    """Puts a list away under its content; the job names it so."""
    name = Path(str(brought.name or "")).name[:200]
    if Path(name).suffix.lower() not in endings or brought.size > MOST_BYTES:
        raise BadInput(DOING, f"'{name or 'no file'}'", f"{' or '.join(endings)}, {MOST_BYTES:,} bytes at most",
                       "Choose another file.")  # fmt: skip
    sha256, _ = file_store().keep(brought, MOST_BYTES)
    return sha256, name
