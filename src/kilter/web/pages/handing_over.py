"""What is handed over: the report as page and in print, the record as data, a bag of everything, a label, tables."""

from __future__ import annotations

import tempfile
from pathlib import Path

from django.http import FileResponse, HttpRequest, HttpResponse
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_safe

from kilter.exporters.bag import zip_bag
from kilter.exporters.harmless import file_name
from kilter.exporters.label import label_svg, labels_pdf
from kilter.exporters.lido import lido
from kilter.exporters.report_html import report_html
from kilter.exporters.report_json import dossier_json
from kilter.exporters.report_pdf import report_pdf
from kilter.exporters.spreadsheet import OBJECT_HEADS, READING_HEADS, csv_bytes, object_rows, reading_rows, workbook
from kilter.records.dossier import Dossier
from kilter.store.models import CollectionObject
from kilter.web.access import object_at, page, person_of
from kilter.web.policy import HANDED_OVER
from kilter.wiring.record_dossier import dossier_of, fields_of

WORKBOOK = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
HAND_OVER = "hand the record over"


def _dossier(request: HttpRequest, pk: int) -> Dossier:
    """With names unless the address asks for none."""
    return dossier_of(object_at(pk), person_of(request), named="nameless" not in request.GET)


def _handed(content: bytes | str, kind: str, name: str, *, shown: bool = False) -> HttpResponse:
    response = HttpResponse(content, content_type=kind)
    response["Content-Disposition"] = content_disposition_header(not shown, name) or "attachment"
    response["Content-Security-Policy"] = HANDED_OVER
    return response


def _named(dossier: Dossier, ending: str) -> str:
    return f"{file_name(dossier.object.number, 'object')}{ending}"


@page()
@require_safe
def report(request: HttpRequest, pk: int) -> HttpResponse:
    """The treatment report as a page of its own."""
    dossier = _dossier(request, pk)
    return _handed(report_html(dossier), "text/html; charset=utf-8", _named(dossier, ".html"), shown=True)


@page()
@require_safe
def report_in_print(request: HttpRequest, pk: int) -> HttpResponse:
    """The same as PDF."""
    dossier = _dossier(request, pk)
    return _handed(report_pdf(dossier), "application/pdf", _named(dossier, ".pdf"))


@page()
@require_safe
def record(request: HttpRequest, pk: int) -> HttpResponse:
    """Everything as JSON."""
    dossier = _dossier(request, pk)
    return _handed(dossier_json(dossier), "application/json", _named(dossier, ".json"))


@page(HAND_OVER)
@require_safe
def museum_xml(request: HttpRequest, pk: int) -> HttpResponse:
    """LIDO; location, owner and people only where the address asks for them."""
    dossier = _dossier(request, pk)
    return _handed(lido(dossier, private="private" in request.GET), "application/xml", _named(dossier, ".lido.xml"))


@page(HAND_OVER)
@require_safe
def bag(request: HttpRequest, pk: int) -> FileResponse:
    """A bag of everything, zipped."""
    dossier = _dossier(request, pk)
    with tempfile.TemporaryDirectory(prefix="kilter-bag-") as folder:
        path = Path(folder) / "bag.zip"
        zip_bag(dossier, path)
        source = path.open("rb")  # stays readable once the folder is gone, and goes with the answer
    return FileResponse(source, as_attachment=True, filename=_named(dossier, ".zip"), content_type="application/zip")


@page()
@require_safe
def label(request: HttpRequest, pk: int) -> HttpResponse:  # noqa: ARG001
    """The label with the object number as a code."""
    fields = fields_of(object_at(pk))
    return _handed(label_svg(fields), "image/svg+xml", f"{file_name(fields.number, 'label')}.svg", shown=True)


@page()
@require_safe
def label_in_print(request: HttpRequest, pk: int) -> HttpResponse:  # noqa: ARG001
    """The same as PDF, of the label's size."""
    fields = fields_of(object_at(pk))
    return _handed(labels_pdf([fields]), "application/pdf", f"{file_name(fields.number, 'label')}.pdf")


@page()
@require_safe
def readings(request: HttpRequest, pk: int) -> HttpResponse:
    """Every reading as CSV."""
    dossier = _dossier(request, pk)
    return _handed(csv_bytes(READING_HEADS, reading_rows([dossier])), "text/csv", _named(dossier, "-readings.csv"))


@page(HAND_OVER)
@require_safe
def collection_table(request: HttpRequest, ending: str) -> HttpResponse:  # noqa: ARG001
    """The list of objects as a table."""
    found = CollectionObject.objects.select_related("board").order_by("number")
    rows = object_rows(fields_of(one) for one in found)
    if ending == "csv":
        return _handed(csv_bytes(OBJECT_HEADS, rows), "text/csv", "collection.csv")
    return _handed(workbook("objects", OBJECT_HEADS, rows), WORKBOOK, "collection.xlsx")
