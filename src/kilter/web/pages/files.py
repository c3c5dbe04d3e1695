"""Files: brought, looked at, fetched and taken away."""

from __future__ import annotations

from django.http import FileResponse, Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_POST, require_safe

from kilter.measure.errors import BadInput
from kilter.measure.tables import table
from kilter.store.models import Filing
from kilter.store.verb import said
from kilter.store.verbs.files import DOING, attach, file_store, take_file_away
from kilter.web.access import object_at, page, person_of, visit_at
from kilter.web.forms import form_page
from kilter.web.media_types import SHOWN, media_type_of
from kilter.web.policy import HANDED_OVER
from kilter.web.told_kind import kind_told

HEAD = 4096


@page("attach a file")
@require_POST
def bring(request: HttpRequest, pk: int, number: int = 0) -> HttpResponse:
    """Keeps the files of a form with an object, or with one of its visits."""
    about = object_at(pk)
    visit = visit_at(pk, number) if number else None
    most = int(table("web")["upload"]["most_bytes"])
    brought = request.FILES.getlist("files")
    if not brought:
        raise BadInput("Cannot attach the file", "no file", "one file or more", "Choose a file.")
    chosen = request.POST.get("kind", "document")
    for one in brought:  # before the first is kept: all of them or none
        if not 0 < (one.size or 0) <= most:
            raise BadInput(DOING, f"{one.size:,} bytes in '{(one.name or '')[:60]}'", f"1 to {most:,} bytes",
                           "Leave an empty file out; keep a larger one elsewhere and write down where.")  # fmt: skip
        said(one.name, "name", 200, DOING)
    kinds = [kind_told(chosen, one) for one in brought]
    for one, kind in zip(brought, kinds, strict=True):
        head = one.read(HEAD)
        one.seek(0)
        attach(
            person_of(request), one, one.name or "", kind, media_type_of(head),
            caption=request.POST.get("caption", ""), about=about, visit=visit, most=most,
        )  # fmt: skip
    back = reverse("visit", args=[pk, number]) if visit else reverse("object", args=[pk])
    return HttpResponseRedirect(back)


@page()
@require_safe
def fetch(request: HttpRequest, pk: int) -> HttpResponse:
    """The file as it was brought. Pictures are shown; everything else is handed over as a download."""
    filing = get_object_or_404(Filing.objects.select_related("attachment"), pk=pk)
    kept = filing.attachment
    try:
        source = file_store().open(kept.sha256)
    except BadInput:
        raise Http404 from None
    shown = kept.media_type in SHOWN and "download" not in request.GET
    response = FileResponse(source, content_type=kept.media_type if shown else "application/octet-stream")
    response["Content-Disposition"] = content_disposition_header(not shown, filing.name) or "attachment"
    response["Content-Security-Policy"] = HANDED_OVER
    response["X-Content-Type-Options"] = "nosniff"
    response["Cache-Control"] = "private, max-age=31536000, immutable"
    response["ETag"] = f'"{kept.sha256}"'
    return response


@page("attach a file")
def take_away(request: HttpRequest, pk: int) -> HttpResponse:
    """Takes a file off its object, with a reason; the content stays kept."""
    filing = get_object_or_404(Filing.objects.select_related("object", "visit"), pk=pk)

    def work() -> str:
        take_file_away(person_of(request), filing, request.POST.get("why", ""))
        return reverse("object", args=[filing.object_id])

    return form_page(request, "web/take_away.html", work, {"filing": filing, "object": filing.object})
