"""
What the core says, said in German: fixed words, forms of sentence, figures.

Figures: ISO 80000-1:2022, 7.3: the decimal sign is a comma or a point on the line, digits are grouped in threes by a
small space and never by a point or comma. That German writes the comma is in CLDR, which the framework's own German
formats follow. The sentences are our own catalogue's: what is checked is that every piece of them was found.
"""

from __future__ import annotations

import pytest
from django.utils import translation
from django.utils.formats import get_format

from kilter.diagnose.explain import strength
from kilter.diagnose.outlook import band_words
from kilter.services.wording import percent
from kilter.web.spoken import FORMS, asked_in_words, by_locale, in_words


@pytest.mark.parametrize(
    ("english", "context", "german"),
    [
        (band_words("voltage", 5.0, 0.05), "reading", "4,90 V bis 5,10 V"),
        ("110 Ω to 128 Ω", "reading", "110 Ω bis 128 Ω"),
        ("pulsing or low", "reading", "pulsierend oder low"),
        ("low or high or pulsing", "reading", "low oder high oder pulsierend"),
        ("1.524 ± 0.005 V", "reading", "1,524 ± 0,005 V"),
        ("OL Ω", "reading", "OL Ω"),
        (percent(1.0), "", "über 99,9 %"),
        (percent(0.034), "", "3,4 %"),
        (strength(2.5), "", "spricht entschieden für"),
        ("pin 3 stuck low", "", "Anschluss 3 hängt auf low"),
        ("waits for keeper, governing body", "", "wartet auf: Sammlungsleitung, Träger"),
        ("Picture tube: A tube can implode: do not lift it by its neck, keep things from falling on it, wear goggles.",
         "", "Bildröhre: Eine Bildröhre kann implodieren: nicht am Hals anheben, nichts darauf fallen lassen, "
         "Schutzbrille tragen."),
        ("Read voltage at V5 in state 'bench' (expected loss in minutes: leave 600, act 124, test 125).", "",
         "Gleichspannung an V5 im Zustand „bench“ messen (erwarteter Verlust in Minuten: so lassen 600, handeln 124, "
         "messen 125)."),
    ],
)  # fmt: skip
def test_german(english: str, context: str, german: str) -> None:
    with translation.override("de"):
        assert in_words(english, context) == german


@pytest.mark.parametrize("text", ["4.98 V", "pulsing", "over 99.9 %", "3,719 fault sets", ""])
def test_english_stays_as_it_is(text: str) -> None:
    with translation.override("en"):
        assert in_words(text, "reading") == text


@pytest.mark.parametrize("name", ["C1.1", "U3.14", "R41", "V5_reg.out", "board.toml", "http://192.168.1.20:8017"])
def test_names_keep_their_points(name: str) -> None:
    with translation.override("de"):
        assert get_format("DECIMAL_SEPARATOR") == ","
        assert by_locale(name) == name


def test_groups_of_three_stand_behind_a_space() -> None:
    with translation.override("de"):
        assert by_locale("12,345,678 of 3.5") == "12\u202f345\u202f678 of 3,5"


def test_a_point_keeps_its_name_beside_a_translated_quantity() -> None:
    with translation.override("de"):
        assert asked_in_words("V5 voltage") == "V5 Gleichspannung"
        assert asked_in_words("sound") == "Ton"


def test_what_nobody_translated_stays_english() -> None:
    with translation.override("de"):
        assert in_words("a sentence that no file holds") == "a sentence that no file holds"


def test_every_form_has_the_names_of_its_message() -> None:
    for form, message in FORMS:
        for name in form.groupindex:
            assert f"%({name})s" in message
