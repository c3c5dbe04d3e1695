"""Files of an object: brought, listed, fetched, taken away."""

from __future__ import annotations

from typing import Any

from django.http import FileResponse
from django.utils.http import content_disposition_header

from kilter.measure.errors import BadInput
from kilter.measure.tables import table
from kilter.store.models import Attachment, Filing, Proposal
from kilter.store.models.attachment import KINDS
from kilter.store.verbs.files import ATTACH, DOING, attach, file_store, take_file_away
from kilter.web.api.fields import BY, ID, NUMBER, TOLD, by, number_of
from kilter.web.api.found import entry_in, filing_of, object_of, visit_in
from kilter.web.api.operation import PAGING, Call, Operation, looks, makes, rows_of, told
from kilter.web.api.records import Field, Record, may
from kilter.web.api.refusals import not_there
from kilter.web.api.requests import BYTES
from kilter.web.api.shapes import Maybe, Text, Truth, Whole, Words, line
from kilter.web.api.statements import REASON
from kilter.web.media_types import media_type_of
from kilter.web.policy import HANDED_OVER
from kilter.web.told_kind import kind_told

HEAD = 4096
BELONGS = {"visit": Maybe(NUMBER), "entry": Maybe(NUMBER), "proposal": Maybe(NUMBER)}
FILE = Record("File", {
    "id": ID, "name": TOLD, "kind": Words(KINDS), "caption": TOLD, "sha256": TOLD, "size": Whole(),
    "media_type": Field(TOLD, "as found by looking into it"), **BELONGS,
    "supersedes": Field(Maybe(Whole(1)), "id of the filing it takes the place of"),
    "withdrawn": Field(Truth(), "it takes the file away that it supersedes"), "stands": Truth(), **BY,
})  # fmt: skip


def tell_file(one: Filing) -> dict[str, Any]:
    """A file and where it belongs."""
    kept = one.attachment
    superseded = Filing.objects.filter(supersedes=one).exists()
    return {
        "id": one.pk, "name": one.name, "kind": one.kind, "caption": one.caption, "sha256": kept.sha256,
        "size": kept.size, "media_type": kept.media_type, "visit": number_of(one.visit), "entry": number_of(one.entry),
        "proposal": number_of(one.proposal), "supersedes": one.supersedes_id, "withdrawn": one.withdrawn,
        "stands": not (one.withdrawn or superseded), **by(one),
    }  # fmt: skip


def handed_over(kept: Attachment, name: str) -> FileResponse:
    """
    A content as it was brought, to be saved and never shown.

    Raises:
        Refused: It is missing from the record's files.
    """
    try:
        source = file_store().open(kept.sha256)
    except BadInput as error:
        raise not_there(error.doing, f"no content {kept.sha256}", "files that are there") from None
    response = FileResponse(source, content_type=BYTES)
    response["Content-Disposition"] = content_disposition_header(as_attachment=True, filename=name) or "attachment"
    response["Content-Security-Policy"] = HANDED_OVER
    response["ETag"] = f'"{kept.sha256}"'
    return response


def _list(call: Call) -> Any:
    about = object_of(call)
    rows = about.filings.select_related("attachment", "visit", "entry", "proposal", "who").order_by("pk")
    rows = rows.filter(visit__number=call.query["visit"]) if "visit" in call.query else rows
    return told(call, rows if call.query.get("all") else rows.standing(), tell_file)


def _bring(call: Call) -> Any:
    about, asked, upload = object_of(call), call.query, call.upload
    assert upload is not None
    visit = visit_in(call, about)
    media_type = media_type_of(upload.read(HEAD))
    upload.seek(0)
    kind = kind_told(asked.get("kind", ""), upload)
    row = attach(
        call.actor, upload, asked["name"], kind, media_type, caption=asked.get("caption", ""), about=about, visit=visit,
        entry=entry_in(asked.get("entry"), visit, DOING), proposal=_proposal(asked.get("proposal"), call),
        most=int(table("web")["upload"]["most_bytes"]),
    )  # fmt: skip
    return tell_file(row)


def _proposal(number: int | None, call: Call) -> Proposal | None:
    if number is None:
        return None
    found = Proposal.objects.filter(object_id=call.path["object"], number=number).first()
    if found is None:
        raise BadInput(DOING, f"no proposal {number}", "a proposal for this object", "Look it up first.")
    return found


def _fetch(call: Call) -> FileResponse:
    filing = filing_of(call)
    return handed_over(filing.attachment, filing.name)


def _take_away(call: Call) -> Any:
    return tell_file(take_file_away(call.actor, filing_of(call), call.body["why"]))


ALL, ONE = "/objects/{object}/files", "/objects/{object}/files/{file}"
BRINGS = {
    "name": Field(line(200), "as the file is called; never used as a path"),
    "kind": may(Words(KINDS), "told by its bytes unless given"),
    "caption": may(Text(1000), "what it shows"),
    **{name: may(NUMBER, "where it belongs") for name in BELONGS},
}  # fmt: skip
OPERATIONS: tuple[Operation, ...] = (
    looks("list-files", ALL, "Files of an object.", _list, rows_of(FILE),
          query={"visit": may(NUMBER, "only files of this visit"), "all": may(Truth(), "also those taken away"),
                 **PAGING}),
    makes("bring-file", ALL, ATTACH, "Keeps the bytes of the request as a file of an object.", _bring, FILE, None,
          query=BRINGS, takes_file=True),
    looks("get-file", ONE, "What is known of a file.", lambda call: tell_file(filing_of(call)), FILE),
    looks("fetch-file", f"{ONE}/content", "The file as it was brought.", _fetch, None),
    makes("take-file-away", f"{ONE}/take-away", ATTACH, "Takes a file off an object, with a reason; its content stays "
          "kept.", _take_away, FILE, REASON),
)  # fmt: skip
