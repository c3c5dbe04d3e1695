"""The report in print, looked at by Poppler: fonts, tags, words, pictures."""

from __future__ import annotations

import dataclasses
import shutil
import subprocess
from pathlib import Path

import pytest
from dossiers import HOSTILE, full, hostile

from kilter.exporters.report_pdf import report_pdf
from kilter.records.dossier import Dossier, ObjectFields, ToldReading, ToldVisit

pytest.importorskip("typst")
pytestmark = pytest.mark.skipif(shutil.which("pdffonts") is None, reason="Poppler's tools are not on this machine")


def ask(tool: str, path: Path, *options: str) -> str:
    command = [tool, *options, path, *(["-"] if tool == "pdftotext" else [])]
    return subprocess.run(command, capture_output=True, check=True).stdout.decode("utf-8")


@pytest.fixture
def printed(tmp_path: Path) -> Path:
    path = tmp_path / "report.pdf"
    path.write_bytes(report_pdf(full(tmp_path)))
    return path


def test_every_font_is_embedded_with_its_characters(printed: Path) -> None:
    rows = ask("pdffonts", printed).splitlines()[2:]
    assert len(rows) >= 3
    assert all(row.split()[-5:-2] == ["yes", "yes", "yes"] for row in rows), rows


def test_tagged_and_titled(printed: Path) -> None:
    info = ask("pdfinfo", printed)
    assert "Tagged:          yes" in info
    assert "HC 0417 Quillet step computer" in info
    assert "JavaScript:      no" in info
    structure = ask("pdfinfo", printed, "-struct-text")
    assert all(f"\n{tag}" in structure.replace(" ", "") for tag in ("H1", "H2", "Table", "TH", "TD", "Figure"))


def test_claims_the_archive_profile(printed: Path) -> None:
    """ISO 19005-2 6.6.4: part and conformance stand in the metadata. The claim is the typesetter's own check."""
    metadata = ask("pdfinfo", printed, "-meta")
    assert "<pdfaid:part>2</pdfaid:part>" in metadata
    assert "<pdfaid:conformance>A</pdfaid:conformance>" in metadata


def test_words_can_be_read_out_again(printed: Path) -> None:
    told = " ".join(ask("pdftotext", printed, "-layout").split())
    for words in ("1.524 ± 0.005 V", "OL Ω", "HC 0417/1", "Why was the fuse changed", "C1 was found charged",
                  "photograph before: Before, from above", "Ilse Varn", "98 %"):  # fmt: skip
        assert words in told, words


def test_hash_of_a_file_can_be_copied_whole(printed: Path, tmp_path: Path) -> None:
    told = ask("pdftotext", printed)
    assert all(one.sha256 in told for one in full(tmp_path).attachments)


def test_pictures_are_in_it(printed: Path) -> None:
    rows = [row.split() for row in ask("pdfimages", printed, "-list").splitlines()[2:]]
    assert sorted((row[3], row[4]) for row in rows if row[2] == "image") == [("40", "60"), ("60", "40")]
    assert b"KEEP-THIS-PLACE-SECRET" not in printed.read_bytes()


def test_no_page_is_blank(printed: Path, tmp_path: Path) -> None:
    from PIL import Image

    subprocess.run(["pdftoppm", "-r", "40", "-png", printed, tmp_path / "page"], check=True)
    pages = sorted(tmp_path.glob("page*.png"))
    assert pages
    assert all(len(Image.open(one).convert("L").getcolors(256) or ()) > 5 for one in pages)


def test_same_record_same_bytes(printed: Path, tmp_path: Path) -> None:
    assert report_pdf(full(tmp_path)) == printed.read_bytes()


def test_hostile_words_are_set_as_words(tmp_path: Path) -> None:
    path = tmp_path / "hostile.pdf"
    path.write_bytes(report_pdf(hostile(tmp_path)))
    told = ask("pdftotext", path, "-layout")
    assert "=1+1 <script>alert(1)</script>]]>&amp;'\" #panic()" in told
    assert "Ω" in told


def test_characters_without_a_glyph_are_written_by_their_code(tmp_path: Path) -> None:
    """A private-use character is in no font (Unicode 23.5)."""
    path = tmp_path / "odd.pdf"
    path.write_bytes(report_pdf(Dossier(ObjectFields("A 1", "odd \U000f1234 name"))))
    assert "odd [U+F1234] name" in ask("pdftotext", path)


def test_a_script_that_no_font_holds_costs_little_and_takes_no_other_with_it(tmp_path: Path) -> None:
    """A whole plane of private-use characters beside letters that every font holds."""
    odd = "".join(chr(0xF0000 + 7 * place) for place in range(600))
    path = tmp_path / "odd.pdf"
    path.write_bytes(report_pdf(Dossier(ObjectFields("A 1", f"äöüΩµ±→é {odd}"))))
    told = ask("pdftotext", path).replace("\u200b", "")
    assert "äöüΩµ±→é" in told
    assert told.count("[U+F") >= 600


def test_a_thousand_readings_fit(tmp_path: Path) -> None:
    many = tuple(ToldReading(n, f"P{n}", "voltage", n / 7, "", "V", 0.01, "dmm", "bench") for n in range(1, 1001))
    path = tmp_path / "many.pdf"
    path.write_bytes(report_pdf(Dossier(ObjectFields("A 1"), visits=(ToldVisit(1, readings=many),))))
    told = ask("pdftotext", path, "-layout").split()
    assert all(f"P{n}" in told for n in range(1, 1001))


def test_number_of_the_object_is_on_every_page(printed: Path) -> None:
    pages = ask("pdftotext", printed).split("\f")[:-1]
    assert len(pages) > 1
    assert all("HC 0417" in one for one in pages)


def test_long_words_without_blanks_stay_within_their_cell(tmp_path: Path) -> None:
    long = dataclasses.replace(full(tmp_path), object=ObjectFields("A 1", "x" * 300), attachments=())
    path = tmp_path / "long.pdf"
    path.write_bytes(report_pdf(long))
    boxes = ask("pdftotext", path, "-bbox")
    ends = [float(one.split('"')[0]) for one in boxes.split('xMax="')[1:]]
    assert max(ends) <= 595.3 - 18 / 25.4 * 72 + 6, "ISO 216: A4 is 595.3 points wide; the margin is 18 mm"
    assert HOSTILE not in boxes
