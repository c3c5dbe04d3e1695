"""The report in print against clauses of PDF/A-2a (ISO 19005-2:2011), and each clause against a file that breaks it."""

from __future__ import annotations

from collections.abc import Callable
from io import BytesIO
from pathlib import Path

import pytest
from dossiers import full, hostile

pytest.importorskip("typst")
pikepdf = pytest.importorskip("pikepdf")

from archive_clauses import CHECKS, offences  # noqa: E402  (wants the library)

from kilter.exporters.label import labels_pdf  # noqa: E402
from kilter.exporters.report_pdf import report_pdf  # noqa: E402
from kilter.records.dossier import Dossier, ObjectFields  # noqa: E402


@pytest.fixture(scope="module")
def printed(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    return report_pdf(full(tmp_path_factory.mktemp("full")))


def test_the_report_offends_against_none(printed: bytes, tmp_path: Path) -> None:
    assert offences(printed) == []
    assert offences(report_pdf(hostile(tmp_path))) == []
    assert offences(report_pdf(Dossier(ObjectFields("A 1", "bare")))) == []


def test_labels_offend_against_none() -> None:
    assert offences(labels_pdf([ObjectFields("HC 0417", "Step computer"), ObjectFields("HC 0418")])) == []


def broken(name: str) -> Callable[[Callable[..., None]], Callable[..., None]]:
    def keep(change: Callable[..., None]) -> Callable[..., None]:
        BREAKS.append((name, change))
        return change

    return keep


BREAKS: list[tuple[str, Callable[..., None]]] = []


@broken("6.1.7 streams")
def _elsewhere(file: pikepdf.Pdf) -> None:
    file.Root.Odd = file.make_stream(b"", F="far.bin")


@broken("6.2.3 output intent")
def _no_profile(file: pikepdf.Pdf) -> None:
    del file.Root.OutputIntents


@broken("6.2.3 output intent")
def _wrong_count(file: pikepdf.Pdf) -> None:
    profile = file.Root.OutputIntents[0].DestOutputProfile
    profile.N = 4 if profile.N != 4 else 3


@broken("6.2.5 graphics state")
def _transfer(file: pikepdf.Pdf) -> None:
    file.Root.Odd = pikepdf.Dictionary(Type=pikepdf.Name.ExtGState, TR=pikepdf.Name.Identity)


@broken("6.2.8 pictures and forms")
def _smoothed(file: pikepdf.Pdf) -> None:
    file.Root.Odd = file.make_stream(b"", Subtype=pikepdf.Name.Image, Interpolate=True)


@broken("6.2.11.4 fonts embedded")
def _no_program(file: pikepdf.Pdf) -> None:
    for one in file.objects:
        if isinstance(one, pikepdf.Dictionary) and one.get("/Type") == pikepdf.Name.FontDescriptor:
            for key in ("/FontFile", "/FontFile2", "/FontFile3"):
                if key in one:
                    del one[key]


@broken("6.2.11.7 characters known")
def _no_characters(file: pikepdf.Pdf) -> None:
    for one in file.objects:
        if isinstance(one, pikepdf.Dictionary) and "/ToUnicode" in one:
            del one.ToUnicode


@broken("6.3 annotations")
def _hidden_note(file: pikepdf.Pdf) -> None:
    note = pikepdf.Dictionary(Type=pikepdf.Name.Annot, Subtype=pikepdf.Name.Text, Rect=[0, 0, 9, 9], F=2)
    file.pages[0].Annots = pikepdf.Array([note])


@broken("6.4 forms")
def _drawn_later(file: pikepdf.Pdf) -> None:
    file.Root.AcroForm = pikepdf.Dictionary(Fields=[], NeedAppearances=True)


@broken("6.5 actions")
def _script(file: pikepdf.Pdf) -> None:
    file.Root.OpenAction = pikepdf.Dictionary(S=pikepdf.Name.JavaScript, JS="app.beep(0)")


@broken("6.6 metadata")
def _no_claim(file: pikepdf.Pdf) -> None:
    with file.open_metadata(update_docinfo=False) as words:
        del words["pdfaid:part"]


@broken("6.7 structure")
def _no_tree(file: pikepdf.Pdf) -> None:
    del file.Root.StructTreeRoot


@broken("6.7 structure")
def _no_language(file: pikepdf.Pdf) -> None:
    del file.Root.Lang


@broken("6.8 to 6.11 nothing beside")
def _a_file_inside(file: pikepdf.Pdf) -> None:
    file.attachments["odd.txt"] = b"odd"


@pytest.mark.parametrize(("clause", "change"), BREAKS, ids=[change.__name__ for _, change in BREAKS])
def test_a_broken_clause_is_seen(printed: bytes, clause: str, change: Callable[..., None]) -> None:
    changed = BytesIO()
    with pikepdf.open(BytesIO(printed)) as file:
        change(file)
        file.save(changed)
    assert any(one.startswith(clause) for one in offences(changed.getvalue()))


def test_bytes_before_and_after_are_seen(printed: bytes) -> None:
    assert any(one.startswith("6.1.2") for one in offences(printed.replace(b"%PDF-1.", b"%PDF-2.", 1)))
    assert any(one.startswith("6.1.3") for one in offences(printed + b"more"))


def test_encryption_is_seen(printed: bytes) -> None:
    changed = BytesIO()
    with pikepdf.open(BytesIO(printed)) as file:
        file.save(changed, encryption=pikepdf.Encryption(owner="o", user=""))
    assert any(one.startswith("6.1.3") for one in offences(changed.getvalue()))


def test_every_clause_was_broken_once() -> None:
    assert {clause for clause, _ in CHECKS} == {clause for clause, _ in BREAKS} | {"6.1.2 header", "6.1.3 trailer"}
