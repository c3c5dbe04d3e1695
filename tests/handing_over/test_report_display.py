"""What the report says of an object on display: known, not known, no longer standing, and never."""

from __future__ import annotations

import dataclasses
import json
import zipfile
from pathlib import Path

import jsonschema_rs
import pytest
from dossiers import full
from lxml import html

from kilter.cli.report import report_text
from kilter.exporters.bag import zip_bag
from kilter.exporters.report_display import NEVER, NO_DUE, NO_INSPECTION, NOT_NOW, NOT_TOLD, display_words
from kilter.exporters.report_html import report_html
from kilter.exporters.report_json import dossier_json, dossier_plain, schema_text
from kilter.exporters.report_pdf import report_pdf
from kilter.records.dossier import Dossier
from kilter.records.dossier_display import LEFT_OUT, ToldCount, ToldDisplay, ToldStretch

PIECES = (
    "On 2026-03-01 it is on display.", "entrance hall", "dust from the door", "hours: 12 h; switch-ons: not known",
    "hours: 350 h; switch-ons: not known", "9.5 K", "no end told", "a day off", "replaced by a later entry",
    "Hours on display: 62 h counted; with the days on which nobody counted about 122 h, taken as fast as counted.",
    "Before it came on display: 350 h.", "Switch-ons on display: not known, since nobody counted.", "72 h",
    "the meter counts anew", "2025-06-02 to 2025-06-03", "taken back", "another object",
    "31.5 °C, 44 % relative humidity", "a frayed lead", "Odile Marn", "2025-08-01", "both stretched",
    "from the work done, by the board", "counted with the lid off",
    "by 2026-04-01: Dust out, vents clear (done last on 2025-06-05; every 6 months)",
    "never done, as far as anybody wrote down", "by 2027-01-01: Renew 1 × belt",
    "Not worked out: The meter of the lamp could not be used.",
)  # fmt: skip


def words(text: str) -> str:
    return " ".join(text.split())


def shown(dossier: Dossier, display: ToldDisplay | None) -> str:
    return words(report_text(dataclasses.replace(dossier, display=display)))


def test_page_and_text_tell_everything(tmp_path: Path) -> None:
    dossier = full(tmp_path)
    for told in (words(report_text(dossier)), words(html.document_fromstring(report_html(dossier)).text_content())):
        for piece in PIECES:
            assert piece in told, piece


def test_print_and_bag_hold_it(tmp_path: Path) -> None:
    dossier = full(tmp_path)
    assert report_pdf(dossier).startswith(b"%PDF")
    zip_bag(dossier, tmp_path / "bag.zip")
    with zipfile.ZipFile(tmp_path / "bag.zip") as bag:
        (name,) = [one for one in bag.namelist() if one.endswith("data/dossier.json")]
        assert json.loads(bag.read(name))["display"]["running"][2]["celsius"] == 31.5


def test_json_fits_the_schema_with_it_without_it_and_as_before(tmp_path: Path) -> None:
    schema = jsonschema_rs.validator_for(json.loads(schema_text()))
    plain = json.loads(dossier_json(full(tmp_path)))
    schema.validate(plain)
    assert plain["display"]["counts"][1] == {"what": "switch_ons", "counted": None, "reckoned": None,
                                             "basis": "not known", "before": None}  # fmt: skip
    schema.validate(plain | {"display": None})
    del plain["display"]["day"]
    assert not schema.is_valid(plain)
    del plain["display"]
    schema.validate(plain)


def test_never_not_told_and_no_longer_are_three_things(tmp_path: Path) -> None:
    dossier, day = full(tmp_path), "2026-03-01"
    assert NOT_TOLD in shown(dossier, None)
    never = shown(dossier, ToldDisplay(day))
    assert NEVER in never
    assert not any(one in never for one in (NOT_TOLD, NO_DUE, NOT_NOW, NO_INSPECTION))
    gone = shown(dossier, ToldDisplay(day, shown=True, stretches=(ToldStretch("2025-01-01", "2025-02-01"),)))
    assert "On 2026-03-01 it is not on display." in gone
    assert NOT_NOW in gone
    assert NO_INSPECTION in gone
    assert NO_DUE not in gone


@pytest.mark.parametrize(("count", "said"), [
    (ToldCount("hours", None, 40.0, "planned"), "not known, since nobody counted; with the days on which nobody "
     "counted about 40 h, taken as planned"),
    (ToldCount("hours", 0.0, 0.0, "counted", 0.0), "Hours on display: 0 h counted"),
    (ToldCount("hours", 12345678.0), "12345678 h counted. Before it came on display: not known."),
])  # fmt: skip
def test_nothing_counted_is_not_nought(count: ToldCount, said: str) -> None:
    _, told = display_words(ToldDisplay("2026-03-01", shown=True, counts=(count,)))
    assert said in told


def test_without_names_neither_inspector_nor_person_is_named(tmp_path: Path) -> None:
    bare = full(tmp_path).without_names()
    for told in (report_text(bare), report_html(bare), dossier_json(bare)):
        assert "Odile Marn" not in told
        assert LEFT_OUT in told
        assert "M. Osk" not in told


def test_who_took_an_entry_back_is_a_person_of_the_dossier(tmp_path: Path) -> None:
    alone = Dossier(full(tmp_path).object, display=full(tmp_path).display, names={"p-3": "M. Osk", "p-9": "Nobody"})
    assert alone.people() == {"p-1", "p-2", "p-3"}
    assert dossier_plain(alone)["names"] == {"p-3": "M. Osk"}
