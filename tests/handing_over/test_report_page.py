"""The report as a page and as JSON: whole, escaped, self-contained, by lxml's HTML parser and a schema validator."""

from __future__ import annotations

import base64
import dataclasses
import hashlib
import io
import json
import re
from pathlib import Path

import jsonschema_rs
import pytest
from dossiers import HOSTILE, file_of, full, hostile
from lxml import html
from PIL import Image

from kilter.exporters.harmless import clean
from kilter.exporters.report_html import report_html
from kilter.exporters.report_json import dossier_json, schema_text
from kilter.records.dossier import Dossier, Findings, ObjectFields, Statement


def page(dossier: Dossier) -> html.HtmlElement:
    return html.document_fromstring(report_html(dossier))


def test_says_everything(tmp_path: Path) -> None:
    told = page(full(tmp_path)).text_content()
    for words in ("HC 0417", "1.524 ± 0.005 V", "hand-held digital multimeter", "OL Ω", "taken back", "doubtful",
                  "Ilse Varn", "reliability 0.5 of 1", "Why was the fuse changed", "98 %", "HC 0417/1",
                  "kept with the object",
                  "consent of M. Osk for the keeper", "under 0.1 %", "C1 was found charged", "No sound.",
                  "What no longer stands", "Corner chipped.", "2026-03-01 09:05 UTC"):  # fmt: skip
        assert words in told, words


def test_nothing_is_loaded_or_run(tmp_path: Path) -> None:
    for dossier in (full(tmp_path), hostile(tmp_path)):
        found = page(dossier)
        assert not found.xpath("//script | //link | //iframe | //object | //form | //@href")
        assert not found.xpath("//@*[starts-with(name(), 'on')]")
        assert all(one.startswith("data:image/jpeg;base64,") for one in found.xpath("//@src"))
        assert "http" not in report_html(dossier).replace("http-equiv", "")


def test_hostile_words_stay_words(tmp_path: Path) -> None:
    made = report_html(hostile(tmp_path))
    assert not re.search("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff\u202a-\u202e]", made)
    cells = [one.text_content() for one in html.document_fromstring(made).xpath("//td | //dd")]
    assert clean(HOSTILE) in cells
    made.encode("utf-8")


def test_every_statement_is_told_whatever_its_kind() -> None:
    odd = (Statement("a kind of its own", "odd one"), Statement("note", "a remark"))
    told = page(Dossier(ObjectFields("A 1"), statements=odd)).text_content()
    assert "a kind of its own: odd one" in told
    assert "a remark" in told


def test_empty_record_says_so() -> None:
    told = page(Dossier(ObjectFields(""))).text_content()
    assert "An object without a number" in told
    assert told.count("nobody wrote it down") == 12
    assert "Nothing was diagnosed." in told
    assert "safe" not in told.lower()


def test_without_names_no_name_is_left(tmp_path: Path) -> None:
    made = report_html(full(tmp_path).without_names()) + dossier_json(full(tmp_path).without_names())
    assert "Ilse Varn" not in made
    assert "p-1" in made


def test_pictures_are_upright_and_say_nothing_of_their_place(tmp_path: Path) -> None:
    """EXIF orientation 6 is a quarter turn: 60 by 40 is shown 40 by 60 (Exif 2.3, tag 274)."""
    sources = page(full(tmp_path)).xpath("//img")
    shown = [Image.open(io.BytesIO(base64.b64decode(one.get("src").split(",", 1)[1]))) for one in sources]
    assert [one.size for one in shown] == [(60, 40), (40, 60)]
    assert not any(one.getexif() for one in shown)
    assert [one.get("alt") for one in sources] == ["photograph before: Before, from above", "photograph after: After"]


def test_what_cannot_be_shown_is_named_with_the_reason(tmp_path: Path) -> None:
    whole = file_of(tmp_path, "a.jpg", "photograph", b"not a picture")
    altered = file_of(tmp_path, "b.jpg", "photograph", b"first")
    assert altered.path is not None
    altered.path.write_bytes(b"second")
    absent = dataclasses.replace(whole, name="c.jpg", path=tmp_path / "gone")
    told = page(Dossier(ObjectFields("A 1"), attachments=(whole, altered, absent))).text_content()
    assert "'a.jpg' is not shown: a file that is no picture" in told
    assert "'b.jpg' is not shown: bytes that are not those that were recorded" in told
    assert "'c.jpg' is not shown: No such file" in told


@pytest.mark.parametrize("side", [9_600, 14_000])
def test_pictures_that_would_fill_the_memory_are_not_opened(tmp_path: Path, side: int) -> None:
    Image.new("1", (side, side)).save(tmp_path / "huge.png")
    huge = file_of(tmp_path, "huge.png", "photograph", (tmp_path / "huge.png").read_bytes())
    told = page(Dossier(ObjectFields("A 1"), attachments=(huge,))).text_content()
    assert re.search("more than are opened|too large to be opened", told)


def test_a_diagnosis_that_failed_is_not_told_as_one() -> None:
    told = page(Dossier(ObjectFields("A 1"), findings=Findings(unanswered=("No board.",)))).text_content()
    assert "could not be worked out" in told
    assert "No board." in told
    assert "under 0.1 %" not in told


def test_only_persons_that_it_speaks_of_are_named(tmp_path: Path) -> None:
    dossier = full(tmp_path)
    more = dataclasses.replace(dossier, names={**dossier.names, "p-9": "Somebody Else"})
    assert json.loads(dossier_json(more))["names"] == dict(dossier.names)


def validator() -> jsonschema_rs.Validator:
    return jsonschema_rs.validator_for(json.loads(schema_text()))


def test_json_fits_its_schema(tmp_path: Path) -> None:
    for dossier in (full(tmp_path), hostile(tmp_path), Dossier(ObjectFields(""))):
        validator().validate(json.loads(dossier_json(dossier)))
        dossier_json(dossier).encode("utf-8")


@pytest.mark.parametrize("change", [{"kilter": "other"}, {"extra": 1}, {"names": {"a": 1}}, {"repairs": [{}]}])
def test_schema_refuses_what_is_none(tmp_path: Path, change: dict[str, object]) -> None:
    assert not validator().is_valid(json.loads(dossier_json(full(tmp_path))) | change)


def test_json_keeps_every_word_and_number(tmp_path: Path) -> None:
    told = json.loads(dossier_json(hostile(tmp_path)))
    assert told["object"]["name"] == HOSTILE.replace("\ud800", "\ufffd")
    first, second, third, _ = json.loads(dossier_json(full(tmp_path)))["visits"][0]["readings"]
    assert (first["value"], first["uncertainty"], first["unit"]) == (1.524, 0.005, "V")
    assert (second["value"], second["over_limit"], second["read"]) == (None, True, "OL Ω")
    assert (third["word"], third["standing"]) == ("silent", False)


def test_hash_of_a_journal_line_can_be_made_from_what_is_handed_over(tmp_path: Path) -> None:
    """By the rule in the bag's README, with nothing but the standard library."""
    previous = "0" * 64
    for line in json.loads(dossier_json(full(tmp_path)))["journal"]:
        written = line.pop("hash")
        assert line["previous"] == previous
        text = json.dumps({"edition": 1, **line}, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
        previous = hashlib.sha256(text.encode("utf-8")).hexdigest()
        assert previous == written
