"""Labels: the code is read back by an outside reader of codes, the drawing by a parser of XML."""

from __future__ import annotations

import io
import shutil
import subprocess
from pathlib import Path

import pytest
import segno
from lxml import etree
from PIL import Image, ImageDraw

from kilter.exporters.label import label_svg, labels_pdf, qr_path
from kilter.measure.errors import BadInput
from kilter.records.dossier import ObjectFields

zxingcpp = pytest.importorskip("zxingcpp")
NUMBERS = ["HC 0417", "1", "Ä-17/3", "漢字 7", "a" * 60, "<script>&\"'", "=1+1", "00123", "T-001"]


def drawn(number: str) -> Image.Image:
    """The path of the code painted by hand: 'M x y', 'm dx dy', 'h length', along the middle of lines one unit wide."""
    path, modules = qr_path(number)
    image = Image.new("L", (modules * 8, modules * 8), 255)
    pen, x, y = ImageDraw.Draw(image), 0.0, 0.0
    for verb, words in zip(*[iter(_pieces(path))] * 2, strict=True):
        numbers = [float(word) for word in words.replace("-", " -").split()]
        if verb == "M":
            x, y = numbers
        elif verb == "m":
            x, y = x + numbers[0], y + numbers[1]
        else:
            pen.rectangle((x * 8, (y - 0.5) * 8, (x + numbers[0]) * 8 - 1, (y + 0.5) * 8 - 1), fill=0)
            x += numbers[0]
    return image


def _pieces(path: str) -> list[str]:
    pieces: list[str] = []
    for sign in path:
        if sign in "Mmh":
            pieces += [sign, ""]
        else:
            pieces[-1] += sign
    return pieces


@pytest.mark.parametrize("number", NUMBERS)
def test_code_is_the_number_and_nothing_else(number: str) -> None:
    (found,) = zxingcpp.read_barcodes(drawn(number))
    assert found.text == number
    assert found.format == zxingcpp.BarcodeFormat.QRCode


def test_quiet_zone_is_four_modules() -> None:
    """ISO/IEC 18004 asks for four on every side (from memory); version 1 has 21 modules."""
    box = Image.eval(drawn("T-001"), lambda light: 255 - light).getbbox()
    assert box == (32, 32, 32 + 21 * 8, 32 + 21 * 8)
    assert segno.make_qr("T-001", error="q", boost_error=False).designator == "1-Q"


def test_a_quarter_of_the_code_may_be_lost() -> None:
    """Level Q: a stain over one tenth of the area is borne."""
    image = drawn("HC 0417")
    side = image.width
    ImageDraw.Draw(image).rectangle((side // 2, side // 2, side * 2 // 3, side * 2 // 3), fill=255)
    (found,) = zxingcpp.read_barcodes(image)
    assert found.text == "HC 0417"


@pytest.mark.parametrize("number", NUMBERS)
def test_drawing_is_sound_and_shows_the_number(number: str) -> None:
    one = ObjectFields(number, "<b>A name</b> & more \x07" * 5, made="1983")
    root = etree.fromstring(label_svg(one).encode("utf-8"))
    assert number in "".join(root.itertext())
    assert root.get("width") == "62mm"
    assert not root.xpath("//@*[local-name() = 'href']")


@pytest.mark.parametrize("number", ["", "  ", "a\nb", "x" * 61, "a\x07", " a"])
def test_numbers_that_no_label_can_show_are_refused(number: str) -> None:
    with pytest.raises(BadInput, match="1 to 60 characters"):
        label_svg(ObjectFields(number))


@pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="Poppler's tools are not on this machine")
def test_printed_labels_are_read_back(tmp_path: Path) -> None:
    pytest.importorskip("typst")
    (tmp_path / "labels.pdf").write_bytes(labels_pdf([ObjectFields(number, "A step computer") for number in NUMBERS]))
    info = subprocess.run(["pdfinfo", tmp_path / "labels.pdf"], capture_output=True, text=True, check=True).stdout
    assert "Page size:       175.748 x 82.2047 pts" in info, "62 by 29 mm, 72 points to 25.4 mm"
    subprocess.run(["pdftoppm", "-r", "203", "-png", tmp_path / "labels.pdf", tmp_path / "page"], check=True)
    pages = [Image.open(io.BytesIO(one.read_bytes())) for one in sorted(tmp_path.glob("page*.png"))]
    assert [zxingcpp.read_barcodes(one)[0].text for one in pages] == NUMBERS


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="Poppler's tools are not on this machine")
@pytest.mark.parametrize("number", ["HC 0417", "W" * 60])
def test_the_number_stays_on_the_label(tmp_path: Path, number: str) -> None:
    pytest.importorskip("typst")
    (tmp_path / "label.pdf").write_bytes(labels_pdf([ObjectFields(number, "A step computer")]))
    command = ["pdftotext", "-bbox", tmp_path / "label.pdf", "-"]
    boxes = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    assert max(float(one.split('"')[0]) for one in boxes.split('xMax="')[1:]) <= 62 / 25.4 * 72


def test_no_object_no_label() -> None:
    with pytest.raises(BadInput):
        labels_pdf([])
