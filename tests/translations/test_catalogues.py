"""Every text of the pages is translated, with the same names in it, and the compiled catalogue is the one compiled."""

from __future__ import annotations

import gettext
import shutil
import subprocess
from pathlib import Path

import pytest

from build_translations import LOCALE, NAMES, collected, faults
from messages import mo_file, po_file
from messages.message import Message

LANGUAGES = sorted(path.parts[-3] for path in LOCALE.glob("*/LC_MESSAGES/django.po"))
AGAIN = "run: python builders/build_translations.py"


def _path(language: str) -> Path:
    return LOCALE / language / "LC_MESSAGES" / "django.po"


def _catalogue(language: str) -> po_file.Catalogue:
    return po_file.read(_path(language).read_text("utf-8"))


def test_every_language_that_is_offered_has_a_catalogue() -> None:
    from django.conf import settings

    assert sorted({code for code, _ in settings.LANGUAGES} - {"en"}) == LANGUAGES


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_text_is_translated_with_the_same_names(language: str) -> None:
    forms = _catalogue(language).forms
    assert [fault for one in sorted(collected()) for fault in faults(one, forms.get(one, ()))] == [], AGAIN


@pytest.mark.parametrize("language", LANGUAGES)
def test_nothing_in_the_catalogue_is_no_longer_shown(language: str) -> None:
    assert sorted(set(_catalogue(language).forms) - set(collected())) == [], AGAIN


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_compiled_catalogue_is_the_one_that_was_written(language: str) -> None:
    catalogue = _catalogue(language)
    there = _path(language).with_suffix(".mo").read_bytes()
    assert there == mo_file.compiled(catalogue.header, catalogue.forms), AGAIN


@pytest.mark.parametrize("language", LANGUAGES)
def test_pythons_own_reader_finds_what_was_written(language: str) -> None:
    """Outside reader: Python's standard module gettext, which knows nothing of our writer."""
    catalogue = _catalogue(language)
    with _path(language).with_suffix(".mo").open("rb") as file:
        read = gettext.GNUTranslations(file)
    for one, forms in catalogue.forms.items():
        if one.plural:
            assert (read.ngettext(one.text, one.plural, 1), read.ngettext(one.text, one.plural, 2)) == forms
        else:
            assert (read.pgettext(one.context, one.text) if one.context else read.gettext(one.text)) == forms[0]


@pytest.mark.skipif(shutil.which("msgfmt") is None, reason="GNU gettext is absent; it is the outside judge here")
@pytest.mark.parametrize("language", LANGUAGES)
def test_gnu_gettext_takes_the_catalogue_and_compiles_the_same_texts(language: str, tmp_path: Path) -> None:
    """Outside judge: msgfmt of GNU gettext, with its own check of header and format."""
    made = tmp_path / "made.mo"
    done = subprocess.run(["msgfmt", "--check-header", "-o", str(made), str(_path(language))], capture_output=True,
                          text=True, check=False)  # fmt: skip
    assert done.returncode == 0, done.stderr
    texts = []
    for path in (made, _path(language).with_suffix(".mo")):
        with path.open("rb") as file:
            read = gettext.GNUTranslations(file)
        texts.append({key: value for key, value in vars(read)["_catalog"].items() if key})
    assert texts[0] == texts[1]


def test_what_is_written_is_read_back() -> None:
    odd = Message('two "quoted"\nlines\\', "", "where")
    many = Message("%(n)s part", "%(n)s parts")
    kept = po_file.Catalogue("Language: xx\n", {odd: ('"zwei"\nZeilen\\',), many: ("%(n)s Teil", "%(n)s Teile")},
                             {many: ("a note",)})  # fmt: skip
    text = po_file.written(kept, {odd: {"a.html"}, many: {"b.html"}}, [odd, many])
    assert po_file.read(text) == kept


@pytest.mark.parametrize(
    ("forms", "told"),
    [
        ((), "missing"), (("",), "missing"), (("ohne Namen",), "other names"), (("%(m)s da",), "other names"),
        (("%(n)s da ",), "blanks"), (("da: %(n)s",), ""),
    ],
)  # fmt: skip
def test_a_bad_translation_is_named(forms: tuple[str, ...], told: str) -> None:
    found = faults(Message("%(n)s here"), forms)
    assert (told in found[0]) if told else not found


def test_names_are_found_in_both_spellings() -> None:
    assert NAMES.findall("%(n)s of %(all)s and %s") == ["n", "all", ""]


def test_the_collection_sees_templates_code_and_data() -> None:
    """Texts that stand in the files as they are; looked up by hand."""
    found = collected()
    assert "src/kilter/web/templates/web/door.html" in found[Message("Come in")]
    assert "src/kilter/web/trouble.py" in found[Message("Cannot show this page")]
    assert "src/kilter/data/quantities.toml" in found[Message("pulsing", context="reading")]
    assert "src/kilter/store/models" in found[Message("display only")]
    assert Message("%(counter)s object", "%(counter)s objects") in found
