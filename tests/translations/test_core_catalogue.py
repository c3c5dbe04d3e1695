"""Every sentence of the core that a page can show is translated, with the same places, and found again when filled."""

from __future__ import annotations

import gettext
import random
import shutil
import subprocess
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from build_translations import LOCALE, collected_of_core, faults
from kilter.web.compiled_catalogue import read_catalogue
from kilter.web.core_templates import PLACE, Templates, plain
from messages import mo_file, po_file
from messages.message import Message
from messages.text_forms import forms

LANGUAGES = sorted(path.parts[-3] for path in LOCALE.glob("*/LC_MESSAGES/core.po"))
AGAIN = "run: python builders/build_translations.py"
VALUES = st.lists(st.text("ABCDEFGHKLMNPRSTUVWXZ0123456789_", min_size=1, max_size=6), min_size=10, max_size=10)


def _path(language: str) -> Path:
    return LOCALE / language / "LC_MESSAGES" / "core.po"


def _catalogue(language: str) -> po_file.Catalogue:
    return po_file.read(_path(language).read_text("utf-8"))


def _templates(language: str) -> Templates:
    return Templates(read_catalogue(_path(language).with_suffix(".mo")))


@pytest.fixture(scope="module")
def wanted() -> list[Message]:
    return sorted(collected_of_core())


def test_every_language_that_is_offered_has_the_catalogue() -> None:
    from django.conf import settings as pages

    assert sorted({code for code, _ in pages.LANGUAGES} - {"en"}) == LANGUAGES


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_sentence_is_translated_with_the_same_places(language: str, wanted: list[Message]) -> None:
    forms_of = _catalogue(language).forms
    assert [fault for one in wanted for fault in faults(one, forms_of.get(one, ()))] == [], AGAIN
    assert sorted(set(forms_of) - set(wanted)) == [], AGAIN


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_compiled_catalogue_is_the_one_that_was_written(language: str) -> None:
    catalogue = _catalogue(language)
    there = _path(language).with_suffix(".mo").read_bytes()
    assert there == mo_file.compiled(catalogue.header, catalogue.forms), AGAIN


@pytest.mark.parametrize("language", LANGUAGES)
def test_our_reader_finds_what_pythons_own_finds(language: str) -> None:
    """Outside reader: Python's standard module gettext."""
    path = _path(language).with_suffix(".mo")
    with path.open("rb") as file:
        read = gettext.GNUTranslations(file)
    ours = read_catalogue(path)
    assert len(ours) == len(_catalogue(language).forms)
    for key, said in ours.items():
        context, _, text = key.rpartition("\x04")
        assert (read.pgettext(context, text) if context else read.gettext(text)) == said


@pytest.mark.parametrize("content", [b"", b"\xde\x12\x04\x95", b"no catalogue at all, but long enough to be one"])
def test_what_is_no_catalogue_is_told(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "core.mo"
    path.write_bytes(content)
    with pytest.raises(ValueError, match="compiled"):
        read_catalogue(path)


@pytest.mark.skipif(shutil.which("msgfmt") is None, reason="GNU gettext is absent; it is the outside judge here")
@pytest.mark.parametrize("language", LANGUAGES)
def test_gnu_gettext_takes_the_catalogue(language: str, tmp_path: Path) -> None:
    """Outside judge: msgfmt of GNU gettext."""
    done = subprocess.run(["msgfmt", "--check-header", "-o", str(tmp_path / "made.mo"), str(_path(language))],
                          capture_output=True, text=True, check=False)  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert read_catalogue(tmp_path / "made.mo") == read_catalogue(_path(language).with_suffix(".mo"))


@pytest.mark.parametrize("language", LANGUAGES)
@given(values=VALUES)
@settings(max_examples=8, deadline=None)
def test_every_template_is_found_again_with_its_values_whole(language: str, values: list[str]) -> None:
    """By construction: the sentence is made from the template, so what stands in its places is known."""
    templates = _templates(language)
    for key in read_catalogue(_path(language).with_suffix(".mo")):
        if "\x04" in key:
            continue
        names = list(dict.fromkeys(PLACE.findall(key)))
        put = dict(zip(names, values, strict=False))
        sentence = key % put if names else plain(key)
        said = templates.said(sentence, lambda _name, value, _quoted: value)
        assert said is not None, key
        if names:
            assert "%(" not in said, key
            assert all(said.count(one) >= 1 for one in put.values()), (sentence, said)


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_template_that_is_found_is_the_one_that_was_filled(language: str) -> None:
    """Another one may fit as well where both differ in their names alone; then both say the same."""
    told = read_catalogue(_path(language).with_suffix(".mo"))
    templates, chance = Templates(told), random.Random(20)
    wrong = []
    for key, translation in told.items():
        if "\x04" in key or not PLACE.search(key):
            continue
        put = {name: f"X{chance.randrange(10**6)}" for name in PLACE.findall(key)}
        said = templates.said(key % put, lambda _name, value, _quoted: value)
        if said != translation % put:
            wrong.append((key % put, said, translation % put))
    assert wrong == []


@pytest.mark.parametrize(
    ("source", "templates"),
    [
        ("'no file'", ["no file"]),
        ("f'row {number} of {self.path.name}'", ["row %(number)s of %(name)s"]),
        ("f'{len(rows)} row' + ('s' if len(rows) > 1 else '')", ["%(rows)s rows", "%(rows)s row"]),
        ("f'{one} and {one} and {other.one}'", ["%(one)s and %(one)s and %(one_2)s"]),
        ("f'under {share:.0%} of 100 %'", ["under %(share)s of 100 %%"]),
        ("found or 'nothing'", ["%(found)s", "nothing"]),
        ("f'a {\"low\" if low else \"high\"} level'", ["a low level", "a high level"]),
    ],
)
def test_a_text_of_the_source_becomes_its_templates(source: str, templates: list[str]) -> None:
    """Worked by hand from the language reference of Python, 2.4.3 and 6.13 (f-strings, conditional expressions)."""
    import ast

    assert [one.template() for one in forms(ast.parse(source, mode="eval").body)] == templates
